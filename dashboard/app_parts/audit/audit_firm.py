"""Several firms on "Practice audit": all of them pooled, or the chosen one against the others, who stay unnamed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, waiting
from dashboard.app_parts.audit.audit_parts import POOLING, working
from dashboard.figures.audit import practice_audit as figures
from dashboard.kept import made
from dashboard.words import firm_against_others, wording
from models.practice.pool.pooled_effects import FEWEST_FIRMS
from pipeline.contract.findings import SludgebookError

if TYPE_CHECKING:
    from models.practice.cohort.audited_jobs import Scope
    from models.practice.results.audit_result import Audit
    from models.practice.results.pool_results import OwnFirm


def draw(build: str, scope: Scope, audit: Audit) -> OwnFirm | None:
    """The firm against the others where one is chosen in a book of several, else all firms pooled."""
    if len(scope.firms) == 1 and data.job_list(build)["firm_id"].nunique() > 1:
        return _own(build, scope.firms[0])
    _pool(audit)
    return None


def _own(build: str, firm_id: str) -> OwnFirm | None:
    st.header("Your firm against the others", anchor=False)
    try:
        view = data.own_firm(build, firm_id, working(POOLING))
    except data.NotYet as pending:
        waiting.wait_for(pending, POOLING)
        return None
    except SludgebookError as problem:
        frame.instead(problem.sentence)
        return None
    st.markdown(f"**{firm_against_others.answer(view)}**")
    frame.small(firm_against_others.note(view))
    rows = firm_against_others.table(view)
    if all(each.difference is None and each.own.difference is None for each in view.practices):
        for reason in firm_against_others.missing(view):
            frame.instead(reason)
        return view
    frame.small(
        "**Line**: your firm's own effect, over all its jobs. **Faint line below it**: where one more firm would lie "
        "(95 %), its mark at the others' mean."
    )
    frame.chart(
        made(figures.own_firm_figure, view.practices, frame.current_look()),
        key="audit_own_firm",
        alt=figures.own_firm_alt(view.practices),
        rows=rows,
        file_name="firm_and_others.csv",
    )
    return view


def _pool(audit: Audit) -> None:
    """Several firms together: no firm is named. Nothing where the records are of one firm."""
    if not audit.pool:
        return
    st.header("Over all firms", anchor=False)
    rows = pd.DataFrame(
        [
            {
                "Practice": p.label,
                "Firms": p.firms_used,
                "Jobs": p.jobs,
                "Avoided": None if p.difference is None else round(-100 * p.difference, 2),
                "from": None if p.high is None else round(-100 * p.high, 2),
                "to": None if p.low is None else round(-100 * p.low, 2),
                "Variation beyond chance": wording.share(p.i_squared),
                "Why not told": p.refused,
            }
            for p in audit.pool
        ]
    )
    told = [each for each in audit.pool if each.difference is not None]
    if not told:
        frame.instead(
            "No practice has enough firms with a figure of their own yet.",
            f"{FEWEST_FIRMS} firms are the least for a pool. The table says what each lacks.",
        )
        frame.table(rows, key="audit_pool", file_name="firms_together.csv", alt="Practices, and why none is pooled")
        return
    frame.chart(
        figures.pool_figure(told, frame.current_look()),
        key="audit_pool",
        alt=figures.pool_alt(told),
        rows=rows,
        file_name="firms_together.csv",
    )
    missing = wording.listed([each.label[:1].lower() + each.label[1:] for each in audit.pool if each not in told])
    rest = f" Too few firms with a figure of their own for: {missing}." if missing else ""
    frame.small(
        "A firm's figure is the mean over its own jobs, adjusted by fits over all firms; those are pooled "
        f"(random effects). Faint: where one more firm would lie.{rest} Choose a firm under **Which jobs** to "
        "hold it against the others."
    )
