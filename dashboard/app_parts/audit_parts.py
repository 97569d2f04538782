"""Parts of "Practice audit": the answer, the effects, one practice in depth, engineers, and what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import wording
from dashboard.app_parts import frame
from dashboard.figures import practice_audit as figures

if TYPE_CHECKING:
    from models.practice.result import Audit, PracticeEffect

PER_100 = "per 100 jobs"


def draw_answer(audit: Audit) -> None:
    """What can be said, in one sentence that a practitioner could repeat."""
    told = {verdict: [each.label.lower() for each in audit.practices if each.verdict == verdict]
            for verdict in ("cuts callbacks", "raises callbacks")}  # fmt: skip
    parts = [f"{wording.listed(names)} {verdict.replace('s ', ' ', 1) if len(names) > 1 else verdict}"
             for verdict, names in told.items() if names]  # fmt: skip
    nearest = min((each.jobs_needed for each in audit.practices if each.jobs_needed), default=None)
    more = f"; the nearest to an answer wants about {nearest:,} more jobs" if nearest else ""
    answer = f"{'; '.join(parts)}." if parts else f"No practice can be told yet to cut or raise callbacks{more}."
    frame.answer(
        answer[0].upper() + answer[1:],
        f"{wording.count(audit.jobs, 'job')}, {wording.window(audit.first_visit, audit.last_visit)}, "
        f"{wording.count(audit.callbacks, 'debris callback')} within {audit.horizon_days} days; adjusted for what was "
        "known at survey, for the engineer and for the other practices of the job.",
    )
    for finding in audit.findings:
        if finding.code != "simulated_jobs":  # the line at the top of every page says so
            frame.small(finding.sentence)


def draw_effects(audit: Audit) -> None:
    """The forest of effects, and every practice as a row."""
    st.header("Callbacks avoided", anchor=False)
    shown = [each for each in audit.practices if each.difference is not None]
    rows = effect_rows(audit.practices)
    if not shown:
        frame.instead("No practice has enough comparable jobs yet.", "The table says what each one lacks.")
        frame.table(rows, key="audit_effects", file_name="practice_audit.csv", alt="Practices and why none is told")
        return
    frame.chart(
        figures.forest_figure(shown, frame.current_look()), key="audit_effects", alt=figures.forest_alt(shown),
        rows=rows, file_name="practice_audit.csv",
    )  # fmt: skip
    frame.small(
        "Mark: adjusted estimate (filled: told; ring: not yet), line: 95 % interval, small stroke: the bare difference "
        "in the records. To the right of nought: fewer callbacks with the practice."
    )


def effect_rows(practices: tuple[PracticeEffect, ...]) -> pd.DataFrame:
    """Every practice with its figures; shares as callbacks per 100 jobs."""

    def per_100(value: float | None) -> float | None:
        return None if value is None else round(-100 * value, 2)

    return pd.DataFrame(
        [
            {
                "Practice": each.label,
                "Verdict": each.verdict_words,
                f"Avoided [{PER_100}]": per_100(each.difference),
                "from": per_100(each.high),
                "to": per_100(each.low),
                f"Before adjusting [{PER_100}]": per_100(each.raw.difference if each.raw else None),
                "Jobs with": each.jobs_with,
                "Jobs without": each.jobs_without,
                "E-value": each.e_value and round(each.e_value, 2),
                "q-value": each.q_value and round(each.q_value, 4),
                "Contrast": each.contrast,
                "Why not told": each.refused,
            }
            for each in practices
        ]
    )


def draw_practice(audit: Audit, effect: PracticeEffect) -> None:
    """One practice in depth: when callbacks came, whether the groups are alike, what it is worth."""
    st.markdown(f"**{effect.label}: {effect.verdict_words}.** {effect.refused or _sentence(effect)}")
    look = frame.current_look()
    curves = audit.curves.get(effect.contrast)
    left, right = st.columns(2)
    if curves is not None and len(curves.debris_with.days) and len(curves.debris_without.days):
        risk = pd.DataFrame({"Day": curves.table_days, "At risk with": curves.at_risk_with,
                             "At risk without": curves.at_risk_without})  # fmt: skip
        with left:
            frame.chart(figures.incidence_figure(curves, look), key="audit_curve", alt=figures.incidence_alt(curves),
                        rows=risk, file_name="at_risk.csv")  # fmt: skip
    if effect.balance:
        rows = pd.DataFrame([{"Known before": b.label, "Before": round(b.before, 3), "After": round(b.after, 3)}
                             for b in effect.balance])  # fmt: skip
        with right:
            frame.chart(figures.balance_figure(effect.balance, look), key="audit_balance",
                        alt=figures.balance_alt(effect.balance), rows=rows, file_name="balance.csv")  # fmt: skip
    for dose in (each for each in audit.doses if each.column == effect.column and not each.refused):
        rows = pd.DataFrame({dose.label: dose.doses, "Jobs": dose.jobs, "Risk [%]": (100 * dose.risk).round(2),
                             "from": (100 * dose.low).round(2), "to": (100 * dose.high).round(2)})  # fmt: skip
        frame.chart(figures.dose_figure(dose, look), key=f"audit_dose_{dose.column}", alt=figures.dose_alt(dose),
                    rows=rows, file_name="dose.csv")  # fmt: skip
    _worth(effect)


def _sentence(effect: PracticeEffect) -> str:
    middle, low, high = figures.avoided(effect)
    hidden = "" if effect.e_value_limit is None or effect.e_value_limit <= 1 else (
        f" Something unrecorded would have to raise both the practice and callbacks by a factor of "
        f"{effect.e_value_limit:.1f} to explain it away."
    )  # fmt: skip
    trimmed = effect.trimmed_share or 0.0
    out = f" {wording.share(trimmed)} of the jobs have no match and are left out." if trimmed > 0 else ""
    return f"{middle:.1f} callbacks avoided per 100 jobs ({low:.1f} to {high:.1f}).{hidden}{out}"


def _worth(effect: PracticeEffect) -> None:
    worth = effect.worth
    if worth is None:
        return
    st.markdown(
        f"**Worth:** {wording.money(worth.net_per_job, worth.currency)} a job "
        f"({wording.money(worth.net_low, worth.currency)} to {wording.money(worth.net_high, worth.currency)}) after "
        f"its own cost of {wording.money(worth.cost_per_job, worth.currency)}, a return visit taken as "
        f"{wording.money(worth.cost_per_callback, worth.currency)}. The cost holds: {worth.basis}."
    )


def draw_engineers(audit: Audit) -> None:
    """The funnel: callbacks seen against expected, no ranking."""
    st.header("Engineers, fairly", anchor=False)
    funnel = audit.funnel
    if funnel.refused:
        frame.instead(funnel.refused)
        return
    rows = pd.DataFrame(
        [
            {"Firm": e.firm_id, "Engineer": e.engineer_id, "Jobs": e.jobs, "Seen": e.observed,
             "Expected": e.expected and round(e.expected, 1), "Ratio, drawn in": e.shrunk_ratio and round(
                 e.shrunk_ratio, 2), "Place": e.place}
            for e in funnel.engineers
        ]
    )  # fmt: skip
    frame.chart(figures.funnel_figure(funnel, frame.current_look()), key="audit_funnel", alt=figures.funnel_alt(funnel),
                rows=rows, file_name="engineers.csv")  # fmt: skip
    frame.small(
        f"Expected from each one's own mix of jobs. Dashes: 95 %, dots: 99.8 % of what chance brings. Under "
        f"{funnel.minimum_jobs} jobs nothing is shown. No order of merit."
    )


def draw_basis(audit: Audit) -> None:
    """What the adjustment assumes, what it adjusts for, and who is left out."""
    with st.expander("What it assumes, and what it is adjusted for", key="audit_basis"):
        st.markdown("\n".join(f"- {sentence}" for sentence in audit.assumptions))
        rows = pd.DataFrame([{"Known before": c.label, "Why": c.reason} for c in audit.confounders])
        frame.table(rows, key="audit_confounders", file_name="adjusted_for.csv", alt="What the audit is adjusted for")
        if audit.left_out:
            out = "; ".join(f"{count} {reason}" for reason, count in audit.left_out.items())
            st.markdown(f"Left out: {out}.")
        kg = audit.risk_per_kg
        told = kg.refused or (
            f"One more kilogram taken out changes the risk by {100 * (kg.per_kg or 0):.1f} points of 100 jobs "
            f"({100 * (kg.low or 0):.1f} to {100 * (kg.high or 0):.1f})."
        )
        st.markdown(f"**A kilogram more:** {told}")
