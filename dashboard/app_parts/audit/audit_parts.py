"""Parts of "Practice audit": which jobs, the answer, the effects of all practices, several firms, the file to keep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.figures.audit import practice_audit as figures
from dashboard.kept import made
from dashboard.words import audit_numbers, audit_words, wording
from dashboard.words.literal import literal
from models.practice.cohort.audited_jobs import Scope

if TYPE_CHECKING:
    from dashboard.data import Progress
    from models.catch.release_effects import ReleaseEffects
    from models.practice.results.audit_result import Audit, PracticeEffect
    from models.practice.results.pool_results import OwnFirm

PER_100 = "per 100 jobs"
COMPARING, POOLING = "Comparing jobs that are alike", "Pooling the others"
SYSTEMS = ("", "sealed", "open_vented")


def draw_scope(jobs: pd.DataFrame) -> Scope:
    """Fields that choose the jobs by period, firm and system; all jobs where nothing is chosen."""
    firms = sorted(jobs["firm_id"].dropna().unique())
    years = sorted(int(year) for year in jobs["visit_date"].dropna().dt.year.unique())
    with st.expander("Which jobs", key="audit_scope", icon=":material/filter_alt:"):
        left, right = st.columns(2)
        system = left.selectbox(
            "Kind of system",
            SYSTEMS,
            key="audit_system",
            format_func=lambda kind: wording.plain(kind) if kind else "both",
        )
        firm = right.selectbox("Firm", ["", *firms], key="audit_firm", format_func=lambda name: name or "all")
        span = (years[0], years[-1]) if years else (0, 0)
        if len(years) > 1:
            span = st.select_slider("Years of the visit", years, value=span, key="audit_years")
    is_all = not years or span == (years[0], years[-1])
    return Scope(
        firms=(firm,) if firm else (),
        system_type=system or "",
        first=None if is_all else pd.Timestamp(span[0], 1, 1).date(),
        last=None if is_all else pd.Timestamp(span[1], 12, 31).date(),
    )


def working(what: str) -> Progress:
    """What is being worked out and how far it is, in the place of what will come; gone once it is there."""
    place = st.empty()

    def show(done: int, of: int) -> None:
        if done >= of:
            place.empty()
        else:
            place.progress(done / of, f"{what}: step {done + 1} of {of}")

    return show


def draw_refusal(sentence: str, scope: Scope) -> None:
    """Why there is no audit, and what to do: widen what was chosen, or hand in more."""
    narrowed = scope != Scope()
    frame.instead(sentence, "Widen **Which jobs** above." if narrowed else audit_words.EMPTY)


def draw_answer(audit: Audit) -> None:
    """What can be said, in one sentence, and what it rests on."""
    frame.answer(
        audit_words.answer(audit),
        f"{audit_words.about(audit)}. Adjusted for what was known at survey, for the engineer and for the other "
        "practices of the job. Ranges are 95 % intervals: of 100 such ranges some 95 hold the "
        "true figure. What nobody wrote down it cannot see.",
    )
    for finding in audit.findings:
        if finding.code != "simulated_jobs":  # the line at the top of every page says so
            frame.small(literal(finding.sentence))


def draw_effects(audit: Audit) -> None:
    """The forest of effects, and every practice as a row."""
    st.header("Callbacks avoided by each practice", anchor=False)
    rows = made(effect_rows, audit.practices)
    if all(each.difference is None for each in audit.practices):
        frame.instead("No practice has enough comparable jobs yet.", "The table says what each one lacks.")
        frame.table(rows, key="audit_effects", file_name="practice_audit.csv", alt="Practices and why none is told")
        return
    frame.small(
        "**Line**: the effect after adjusting, with its interval (diamond: told; ring: not yet). **Faint line below "
        "it**: the bare records, before adjusting. At the right: jobs with | without."
    )
    frame.chart(
        made(figures.forest_figure, audit.practices, frame.current_look()),
        key="audit_effects",
        alt=made(figures.forest_alt, audit.practices),
        rows=rows,
        file_name="practice_audit.csv",
    )


def effect_rows(practices: tuple[PracticeEffect, ...]) -> pd.DataFrame:
    """Every practice with its figures; shares as callbacks per 100 jobs."""

    def per_100(value: float | None) -> float | None:
        return None if value is None else round(-100 * value, 2) + 0.0

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
                "E-value": None if each.e_value is None else round(each.e_value, 2),
                "q-value": None if each.q_value is None else round(each.q_value, 4),
                "Contrast": each.contrast,
                "Why not told": each.refused,
            }
            for each in audit_words.in_order(practices)
        ]
    )


def draw_numbers(audit: Audit, view: OwnFirm | None, within: ReleaseEffects | None) -> None:
    """Every number of the audit with its definition, as a file."""
    st.download_button(
        "Every number, with its definition (CSV)",
        lambda: audit_numbers.numbers(audit, view, within).to_csv(index=False).encode(),
        "practice_audit_numbers.csv",
        "text/csv",
        key="audit_numbers",
        on_click="ignore",
        icon=":material/download:",
    )
