"""The practice audit of a build, cached by the build, the scope and the firm's settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboard.data.opened import ENTRIES, firm, table

if TYPE_CHECKING:
    from models.practice.records import Scope
    from models.practice.result import Audit
    from pipeline.firm import Firm


def audit(build: str, scope: Scope | None = None) -> Audit:
    """The audit of some of the jobs of a build; a Refusal where they are too few."""
    return _audit(build, scope, firm())


@st.cache_resource(max_entries=4 * ENTRIES, show_spinner="Weighing up practices")
def _audit(build: str, scope: Scope | None, settings: Firm) -> Audit:
    from models.practice.audit import audit as weigh_up
    from models.practice.records import PracticeFrames

    names = ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")
    return weigh_up(PracticeFrames(*(table(build, name) for name in names)), settings, scope)
