"""One practice in depth: when callbacks came, whether the groups are alike, doses, worth, what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.figures.audit import causal_picture, practice_audit, practice_curves
from dashboard.kept import made
from dashboard.words import audit_numbers, audit_words
from dashboard.words.literal import literal

if TYPE_CHECKING:
    from models.practice.results.audit_result import Audit, PracticeEffect
    from models.practice.results.curve_results import DoseResponse, PracticeCurves

CALLED_BACK, FREE = "called back", "free of callbacks"


def choose(audit: Audit) -> PracticeEffect | None:
    """The practice to look into; the first in the order of the picture above stands chosen."""
    names = [each.contrast for each in audit_words.in_order(audit.practices)]
    chosen = st.selectbox(
        "Practice", names, key="audit_practice", format_func=lambda contrast: audit.practice(contrast).label
    )
    return audit.practice(chosen) if chosen else None


def draw(audit: Audit, effect: PracticeEffect) -> None:
    """Everything about one practice, its answer first."""
    st.subheader(f"{effect.label}: {effect.verdict_words}", anchor=False)
    if effect.refused:
        frame.instead(effect.refused, "Jobs done either way, on systems alike, are what it wants.")
    else:
        st.markdown(audit_words.effect_sentence(effect))
        frame.small(" ".join(part for part in (audit_words.hidden(effect), audit_words.power(effect)) if part))
    frame.small(audit_words.who(effect))
    curves = audit.curves.get(effect.contrast)
    left, right = st.columns(2)
    with left:
        if curves is not None:
            _curves(curves)
        else:
            st.markdown("**When callbacks came**")
            frame.instead("One of the groups has no debris callback yet, so there is no curve of it.")
    with right:
        _balance(effect)
    for dose in (each for each in audit.doses if each.column == effect.column):
        _dose(dose)
    _worth(effect)
    _subgroups(effect)
    with st.expander("The picture behind the adjustment", key="audit_graph"):
        frame.small(
            "Higher is earlier. What was known or decided before is adjusted for; how the practice works, and what was "
            "decided later, is not, or its effect would be taken away. Dashed: what nobody wrote down, which no "
            "adjusting reaches."
        )
        look = frame.current_look()
        graph = audit.graphs[effect.column]
        rows = pd.DataFrame(graph.edges, columns=["from", "to"])
        frame.chart(
            made(causal_picture.causal_figure, graph, effect.label, look),
            key="audit_picture",
            alt=made(causal_picture.causal_alt, graph),
            rows=rows,
            file_name="arrows.csv",
        )


def _curves(curves: PracticeCurves) -> None:
    st.markdown("**When callbacks came**")
    kind = st.segmented_control("Jobs", [CALLED_BACK, FREE], default=CALLED_BACK, key="audit_kind")
    look = frame.current_look()
    if kind == FREE:
        figure, alt = made(practice_curves.survival_figure, curves, look), practice_curves.survival_alt(curves)
        told = "Bare records, nothing adjusted (Kaplan-Meier). Bands: 95 %. Below: jobs still watched."
    else:
        figure, alt = made(practice_curves.incidence_figure, curves, look), practice_curves.incidence_alt(curves)
        alike = "Jobs weighted to be alike" if curves.adjusted_with is not None else "Bare records"
        told = (
            f"{alike}; first callbacks, other causes competing (Aalen-Johansen). Bands: 95 %. Below: jobs still "
            "watched."
        )
    frame.chart(
        figure, key="audit_curve", alt=alt, rows=made(audit_numbers.curve_points, curves), file_name="curves.csv"
    )
    frame.small(told)


def _balance(effect: PracticeEffect) -> None:
    st.markdown("**Are the groups alike?**")
    if not effect.balance:
        frame.instead("No weighting could be done, so there is nothing to compare.")
        return
    rows = pd.DataFrame(
        [{"Known before": b.label, "Before": round(b.before, 3), "After": round(b.after, 3)} for b in effect.balance]
    )
    frame.chart(
        made(practice_curves.balance_figure, effect.balance, frame.current_look()),
        key="audit_balance",
        alt=practice_curves.balance_alt(effect.balance),
        rows=rows,
        file_name="balance.csv",
    )
    shown = min(practice_curves.MOST_SHOWN, len(rows))
    frame.small(
        f"The {shown} largest of {len(rows)} before weighting. SD: standard deviations; under 0.1, left of "
        "the dotted line, the groups are taken as alike."
    )
    for finding in effect.findings:
        frame.small(literal(finding.sentence))


def _dose(dose: DoseResponse) -> None:
    st.markdown("**How much of it**")
    if dose.refused:
        frame.instead(dose.refused)
        return
    rows = pd.DataFrame(
        {
            f"{dose.label} [{dose.unit}]": dose.doses.round(1),
            "Jobs": dose.jobs,
            "Risk [%]": (100 * dose.risk).round(2),
            "from": (100 * dose.low).round(2),
            "to": (100 * dose.high).round(2),
        }
    )
    frame.chart(
        made(practice_curves.dose_figure, dose, frame.current_look()),
        key="audit_dose",
        alt=practice_curves.dose_alt(dose),
        rows=rows,
        file_name="dose.csv",
    )
    trend = "" if dose.trend_p is None else f" Trend over the doses: p = {dose.trend_p:.2g}."
    frame.small(f"As if every job had been given that dose; lines are 95 % intervals.{trend}")


def _worth(effect: PracticeEffect) -> None:
    st.markdown("**What it is worth**")
    if effect.worth is None:
        frame.instead("Without an effect there is nothing to set against its cost.")
        return
    for column, (name, figure, span) in zip(st.columns(3), audit_words.worth_parts(effect), strict=True):
        column.markdown(f"{name}  \n**{figure}**  \n:small[:gray[{span}]]")
    frame.small(audit_words.worth_basis(effect.worth))


def _subgroups(effect: PracticeEffect) -> None:
    if not effect.subgroups:
        return
    st.markdown("**Among some of the jobs**")
    if all(group.difference is None for group in effect.subgroups):
        counts = ", ".join(f"{g.label.lower()} {g.jobs_with} with, {g.jobs_without} without" for g in effect.subgroups)
        frame.small(f"Too few jobs or callbacks in each for a figure of its own: {counts}.")
        return
    rows = pd.DataFrame(
        [
            {
                "Among": g.label,
                "Jobs with": g.jobs_with,
                "Jobs without": g.jobs_without,
                "Avoided": None if g.difference is None else round(-100 * g.difference, 2),
                "from": None if g.high is None else round(-100 * g.high, 2),
                "to": None if g.low is None else round(-100 * g.low, 2),
                "Why not told": g.refused,
            }
            for g in effect.subgroups
        ]
    )
    frame.chart(
        made(practice_audit.subgroups_figure, effect.subgroups, frame.current_look()),
        key="audit_subgroups",
        alt=practice_audit.subgroups_alt(effect.subgroups),
        rows=rows,
        file_name="subgroups.csv",
    )
    frame.small("Chosen before any outcome was looked at; intervals widened for looking several times.")
