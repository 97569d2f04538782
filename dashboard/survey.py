"""The two-minute survey: what the form of "Price a job" asks, and its rows in the job log's own tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pipeline.contract.findings import BadInput

EMITTER_QUESTIONS: dict[str, str] = {
    "panel_11": "Single (type 11)",
    "panel_21": "Double (type 21)",
    "panel_22": "Double (type 22)",
    "towel_rail": "Towel rail",
    "column": "Column",
    "underfloor_loop": "Underfloor loop",
}
"""Kinds asked for by number; every other kind is entered line by line."""

JOB_ID = "this-job"
MOST_EMITTERS = 200


@dataclass(frozen=True, slots=True)
class Survey:
    """One survey. `job` holds `jobs` columns (None = not known); `counts` emitters by kind;
    `cold`, `upstairs`, `long` how many of them are so (None = not known): counts stay counts in the job log; `lines`
    emitters one by one, which replace the counts; `pipe_lengths_m` metres of pipe by outside diameter in mm."""

    job: Mapping[str, Any]
    counts: Mapping[str, int] = field(default_factory=dict)
    cold: int | None = None
    upstairs: int | None = None
    long: int | None = None
    lines: tuple[Mapping[str, Any], ...] = ()
    pipe_lengths_m: Mapping[float, float] = field(default_factory=dict)

    @property
    def emitter_count(self) -> int:
        """Emitters named, by lines if there are any, else by counts."""
        return len(self.lines) or sum(self.counts.values())


def tables(survey: Survey, on: date) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Rows for `jobs`, `emitters` and `pipe_runs` of one request, the visit on day `on`.

    Raises BadInput with one sentence that names every contradiction found.
    """
    faults = contradictions(survey, on)
    if faults:
        raise BadInput(" ".join(faults))
    key = {"job_id": JOB_ID}
    known = {name: value for name, value in survey.job.items() if value is not None}
    job = {**key, "visit_date": on, **known, **_counted(survey)}
    measured = sorted((bore, metres) for bore, metres in survey.pipe_lengths_m.items() if metres)
    runs = [
        {**key, "run_no": number, "outside_mm": float(bore), "length_m": float(metres)}
        for number, (bore, metres) in enumerate(measured, start=1)
    ]
    named = [{**key, "emitter_no": number, **_known(line)} for number, line in enumerate(survey.lines, start=1)]
    return [job], named, runs


def contradictions(survey: Survey, on: date) -> list[str]:
    """Sentences about answers that cannot all be true; empty when there are none."""
    faults, total = [], survey.emitter_count
    if total > MOST_EMITTERS:
        faults.append(f"At most {MOST_EMITTERS} emitters fit into one job; there are {total}.")
    for name, number in (("cold", survey.cold), ("upstairs", survey.upstairs), ("long", survey.long)):
        if number is not None and number > total and not survey.lines:
            faults.append(f"{number} emitters are marked {name}, but only {total} are counted.")
    for column, words in (("install_year", "the emitters went in"), ("last_cleaned_year", "the last clean was")):
        year = survey.job.get(column)
        if year is not None and year > on.year:
            faults.append(f"The year in which {words} ({year}) lies after the visit ({on.year}).")
    dosed = survey.job.get("predosed_on")
    if dosed is not None and not 0 <= (on - dosed).days <= 90:
        faults.append("The pre-dose must lie within the 90 days before the visit.")
    return faults


def _counted(survey: Survey) -> dict[str, int]:
    """What was counted as columns of `jobs`; nothing where emitters are named one by one, which say it themselves."""
    if survey.lines:
        return {}
    marks = {
        "emitter_count_at_survey": survey.emitter_count or None,
        "cold_count_at_survey": survey.cold,
        "upstairs_count_at_survey": survey.upstairs,
        "long_count_at_survey": survey.long,
        **{f"{kind}_count": number or None for kind, number in survey.counts.items()},
    }
    return {name: number for name, number in marks.items() if number is not None}


def _known(line: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in line.items() if value is not None and value == value}
