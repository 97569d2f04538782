"""The practice audit of a build, and a firm against the others, kept by build, scope and the firm's settings."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar, cast

import streamlit as st

from dashboard.data.jobs import past
from dashboard.data.opened import ENTRIES, book, firm, table
from dashboard.services import auditing, watching

if TYPE_CHECKING:
    from models.catch.release_effects import ReleaseEffects
    from models.practice.cohort.audited_jobs import Scope
    from models.practice.results.audit_result import Audit
    from models.practice.results.curve_results import RiskPerKg
    from models.practice.results.pool_results import OwnFirm
    from pipeline.contract.firm import Firm


Progress = Callable[[int, int], None]
Answer = TypeVar("Answer")
PARTS = 18
"""Steps of an audit: practices, and engineers."""


def audit(build: str, scope: Scope | None = None, progress: Progress | None = None) -> Audit:
    """The audit of some of the jobs of a build; a Refusal where they are too few. `progress`: steps done, of all."""

    def work(settings: Firm) -> Audit:
        return auditing.audit(partial(table, build), settings, scope, progress)

    return _cached(("audit", build, scope), work, progress)


def own_firm(build: str, firm_id: str, progress: Progress | None = None) -> OwnFirm:
    """One firm against the unnamed others, over all jobs of a build."""

    def work(_: Firm) -> OwnFirm:
        return auditing.against_others(partial(table, build), firm_id, progress)

    return _cached(("own firm", build, firm_id), work, progress)


def _cached(key: tuple[object, ...], work: Callable[[Firm], Answer], progress: Progress | None) -> Answer:
    """What was worked out before for the same jobs and settings, else `work`.

    Not one of the framework's own caches: those forbid a function to show how far it is.
    """
    settings, shelf = firm(), _shelf()
    whole = (*key, settings)
    if whole not in shelf:
        if progress is not None:
            progress(0, PARTS)
        shelf[whole] = work(settings)
        while len(shelf) > 4 * ENTRIES:
            shelf.pop(next(iter(shelf)), None)
    return cast("Answer", shelf[whole])


@st.cache_resource(show_spinner=False)
def _shelf() -> dict[tuple[object, ...], object]:
    return {}


@st.cache_data(max_entries=ENTRIES, show_spinner=False)
def risk_per_kg(build: str) -> RiskPerKg:
    """What one more kilogram taken out does to the risk of a debris callback, from all jobs of a build."""
    return watching.risk_per_kg(book(), Path(build), partial(table, build))


def release_effects() -> ReleaseEffects | None:
    """What heat and flow do within a job, as learnt last from the open book; None where that could not be told."""
    learnt = past().learnt
    return None if learnt is None else learnt.effects
