"""The end of "Practice audit": engineers compared fairly, what flushing itself shows, and what it all assumes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.figures.audit import practice_engineers as figures
from dashboard.kept import made
from dashboard.words import audit_words
from dashboard.words.literal import literal

if TYPE_CHECKING:
    from models.catch.release_effects import ReleaseEffects
    from models.practice.results.audit_result import Audit
    from models.practice.results.curve_results import RiskPerKg


def draw_engineers(audit: Audit) -> None:
    """The funnel, and one engineer's own figures against the expected; no ranking, nothing below the number shown."""
    st.header("Engineers, against what their jobs lead to expect", anchor=False)
    funnel = audit.funnel
    if funnel.refused:
        frame.instead(funnel.refused)
        return
    names = {figures.named(each, funnel): each for each in funnel.engineers}
    picked = st.selectbox(
        "Own figures of", ["", *names], key="audit_engineer", format_func=lambda name: name or "choose an engineer"
    )
    chosen = names.get(picked or "")
    if chosen is not None:
        st.markdown(literal(audit_words.engineer_sentence(chosen, audit.horizon_days)))
    rows = pd.DataFrame(
        [
            {
                "Firm": e.firm_id,
                "Engineer": e.engineer_id,
                "Jobs": e.jobs,
                "Seen": e.observed,
                "Expected": None if e.expected is None else round(e.expected, 1),
                "Ratio, drawn in": None if e.shrunk_ratio is None else round(e.shrunk_ratio, 2),
                "Place": e.place,
            }
            for e in funnel.engineers
        ]
    )
    frame.chart(
        made(figures.funnel_figure, funnel, chosen, frame.current_look()),
        key="audit_funnel",
        alt=figures.funnel_alt(funnel),
        rows=rows,
        file_name="engineers.csv",
    )
    spread = " Engineers differ by more than chance; the limits allow for it." if funnel.is_over_dispersed else ""
    frame.small(
        f"A dot is an engineer with at least {funnel.minimum_jobs} jobs, compared with callbacks expected of those "
        f"very jobs. Dashed and dotted: what chance keeps.{spread} Listed by name, not ranked."
    )


def draw_flushing(effects: ReleaseEffects | None, kg: RiskPerKg) -> None:
    """What changes within a job show, far less confounded; and what a kilogram does to callbacks."""
    st.header("Within the flush itself", anchor=False)
    if effects is None:
        frame.instead(
            "What heat and flow do within a job has not been learnt yet.",
            "It wants jobs with readings of heat and flow; `sludgebook train` learns it.",
        )
    else:
        said = [
            f"- {each.per[:1].upper()}{each.per[1:]}, debris comes **{each.ratio:.2f} times as fast** "
            f"({each.low:.2f} to {each.high:.2f})."
            for each in effects.effects
        ]
        st.markdown("\n".join([*said, f"- {effects.not_told}"]))
        frame.small(
            f"Each of {effects.jobs:,} jobs compared with itself as heat and flow changed: house, system and engineer "
            "drop out. It tells of speed, not of callbacks; all jobs of the book."
        )
        rows = pd.DataFrame(
            [
                {"Change": e.per, "Times as fast": round(e.ratio, 3), "from": round(e.low, 3), "to": round(e.high, 3)}
                for e in effects.effects
            ]
        )
        with st.expander("The same as a table", key="audit_flushing_table", type="compact"):
            frame.table(rows, key="audit_flushing", file_name="within_jobs.csv", alt="Effects of heat and flow")
    if kg.per_kg is None or kg.low is None or kg.high is None:
        frame.small(f"A kilogram more: {kg.refused}")
    else:
        ends = audit_words.span(-100 * kg.per_kg, -100 * kg.high, -100 * kg.low)
        st.markdown(f"One more dry kilogram taken out: {ends} callbacks avoided per 100 jobs, shrunk towards none.")


def draw_basis(audit: Audit) -> None:
    """What the adjustment assumes, what it adjusts for, and who is left out."""
    with st.expander("What it assumes, and what it is adjusted for", key="audit_basis"):
        st.markdown("\n".join(f"- {sentence}" for sentence in audit.assumptions))
        out = audit_words.left_out(audit.left_out)
        st.markdown(f"Jobs left out of all of it: {out}." if out else "No job is left out of all of it.")
        rows = pd.DataFrame([{"Known before": c.label, "Why": c.reason} for c in audit.confounders])
        frame.table(rows, key="audit_confounders", file_name="adjusted_for.csv", alt="What the audit is adjusted for")
