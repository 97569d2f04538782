"""The practice audit of a build, cached by the build, the scope and the firm's settings; the risk per kilogram."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboard.data.jobs import learnt_catch
from dashboard.data.opened import ENTRIES, firm, table

if TYPE_CHECKING:
    from models.catch.release_effects import ReleaseEffects
    from models.practice.records import PracticeFrames, Scope
    from models.practice.result import Audit
    from models.practice.result_curves import RiskPerKg
    from pipeline.firm import Firm


WORKING = "Comparing jobs that are alike, practice by practice: some seconds for a thousand jobs"


def audit(build: str, scope: Scope | None = None) -> Audit:
    """The audit of some of the jobs of a build; a Refusal where they are too few."""
    return _audit(build, scope, firm())


@st.cache_resource(max_entries=4 * ENTRIES, show_spinner=WORKING)
def _audit(build: str, scope: Scope | None, settings: Firm) -> Audit:
    from models.practice.audit import audit as weigh_up

    return weigh_up(_frames(build), settings, scope)


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def risk_per_kg(build: str) -> RiskPerKg:
    """What one more kilogram taken out does to the risk of a debris callback, from all jobs of a build."""
    from models.practice.records import gather
    from models.practice.risk_per_kg import risk_per_kg as by_kg

    return by_kg(gather(_frames(build)))


def release_effects() -> ReleaseEffects | None:
    """What heat and flow do within a job, as learnt last from the open book; None where that could not be told."""
    learnt = learnt_catch()
    return None if learnt is None else learnt.effects


def _frames(build: str) -> PracticeFrames:
    from models.practice.records import PracticeFrames

    return PracticeFrames(*(table(build, name) for name in ("jobs", "ftr_quote", "ftr_outcome", "ftr_callback")))
