"""The practice audit of a build, and a firm against the others, kept by build, scope and the firm's settings."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

import streamlit as st

from dashboard.data.forecasts import written_at
from dashboard.data.heavy import Progress, once
from dashboard.data.jobs import past
from dashboard.data.opened import ENTRIES, book, firm, table
from dashboard.services import apart, auditing, watching
from dashboard.services.progress import Show

if TYPE_CHECKING:
    from models.catch.release_effects import ReleaseEffects
    from models.practice.cohort.audited_jobs import Scope
    from models.practice.results.audit_result import Audit
    from models.practice.results.curve_results import RiskPerKg
    from models.practice.results.pool_results import OwnFirm

PARTS = 18
"""Steps of an audit: practices, and engineers."""


def audit(build: str, scope: Scope | None = None, progress: Progress | None = None) -> Audit:
    """The audit of some of the jobs of a build; a Refusal where they are too few. `progress`: steps done, of all.

    NotYet while it is worked out apart from a running server.
    """
    settings = firm()

    def work(show: Show) -> Audit:
        show(0, PARTS)
        return auditing.audit(partial(table, build), settings, scope, show)

    def work_apart(show: Show) -> Audit:
        given = {"firm": settings, "scope": scope}
        return cast("Audit", apart.ask(book().path, Path(build), "audit", given, show))

    return once(("audit", build, scope, settings), work, work_apart, progress)


def own_firm(build: str, firm_id: str, progress: Progress | None = None) -> OwnFirm:
    """One firm against the unnamed others, over all jobs of a build. NotYet as for `audit`."""

    def work(show: Show) -> OwnFirm:
        return auditing.against_others(partial(table, build), firm_id, show)

    def work_apart(show: Show) -> OwnFirm:
        return cast("OwnFirm", apart.ask(book().path, Path(build), "against_others", {"firm_id": firm_id}, show))

    return once(("own firm", build, firm_id, firm()), work, work_apart, progress)


def risk_per_kg(build: str) -> RiskPerKg:
    """What one more kilogram taken out does to the risk of a debris callback, from all jobs of a build."""
    return _risk_per_kg(build, written_at(book().models_dir(Path(build))))


@st.cache_resource(max_entries=ENTRIES, show_spinner=False)
def _risk_per_kg(build: str, written_at: int) -> RiskPerKg:
    return watching.risk_per_kg(book(), Path(build), partial(table, build))


def release_effects() -> ReleaseEffects | None:
    """What heat and flow do within a job, as learnt last from the open book; None where that could not be told."""
    learnt = past().learnt
    return None if learnt is None else learnt.effects
