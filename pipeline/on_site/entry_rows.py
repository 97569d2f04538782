"""A job on site as rows of the job log: what its entries amount to, for the picture today and for the book later.

A weighing keeps its number for good. One that the book has already and that was taken back since is handed in
again as 0 g with a note, and a reading as an empty one: the book forgets nothing, so only a new version of a row
can take an old one back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from pipeline.on_site.entries import FINISH, MEASURED
from pipeline.on_site.open_job import SiteEvent, SiteJob

Row = dict[str, Any]
TAKEN_BACK = "taken back on site"
LAST_SAID = ("connection", "isolation", "half_drained_emitters", "flow_reversed")
"""What changes on the day and has one value in the job log: what was said last; the journal keeps when."""
_SHORTEST = timedelta(minutes=1)


def job_log_rows(
    job: SiteJob, logged: Sequence[Mapping[str, Any]] = (), now: datetime | None = None
) -> dict[str, list[Row]]:
    """Rows of `jobs`, `emitters`, `pipe_runs`, `catches`, `readings`, values as plain Python.

    `logged` are readings out of instrument files. `now` stands for the end of a flush that goes on; None leaves
    that to the entry that finished the job. A job that has not begun gives no rows.
    """
    if job.start is None or job.started_at is None:
        return {}
    facts = dict(job.start.of)
    rows = {
        "jobs": [_job(job, job.started_at, now)],
        "emitters": [{"job_id": job.name, **row} for row in job.emitters],
        "pipe_runs": [{"job_id": job.name, **row} for row in facts.get("pipe_runs") or ()],
        "catches": _catches(job),
        "readings": _readings(job, logged),
    }
    return {name: found for name, found in rows.items() if found}


def _job(job: SiteJob, started: datetime, now: datetime | None) -> Row:
    assert job.start is not None
    row = {**dict(job.start.of.get("job") or {}), "job_id": job.name}
    row |= {"visit_date": started.date(), "flush_started_at": started}
    changes = job.all_of("change")
    for name in ("heat_source", "agitation"):
        row[name] = _together(row.get(name), [event.of.get(name) for event in changes])
    for name in LAST_SAID:
        row[name] = next((e.of[name] for e in reversed(changes) if e.of.get(name) is not None), row.get(name))
    done = job.finish.of if job.finish else {}
    row |= {name: done[name] for name in FINISH if name in done}
    ended = datetime.fromisoformat(str(done["flush_ended_at"])) if done else now
    shortest = min(_SHORTEST, datetime.max - started)  # a start in the last minute there is, too, ends in a sentence
    row["flush_ended_at"] = None if ended is None else max(ended, started + shortest)
    return {name: value for name, value in row.items() if value is not None}


def _together(planned: Any, changes: Sequence[Any]) -> Any:
    """Two ways in one job are `both`; what was done counts for more than what was planned."""
    done = {value for value in changes if value is not None}
    used = (done or {planned}) - {"none"} if done or planned else set()
    if planned and done and planned != "none":
        used.add(planned)
    return "both" if len(used) > 1 else next(iter(used), "none" if planned == "none" or done else None)


def _catches(job: SiteJob) -> list[Row]:
    rows = []
    for number, event in enumerate((e for e in job.events if e.kind == "catch"), start=1):
        row = {"job_id": job.name, "catch_no": number, "caught_at": event.at, **event.of}
        if not event.is_undone:
            rows.append(row)
        elif was_received(job, event):
            rows.append({**row, "mass_g": 0.0, "note": TAKEN_BACK})
    return rows


def was_received(job: SiteJob, event: SiteEvent) -> bool:
    """Whether the book got this entry before it was taken back."""
    taken_back = next((e.line for e in job.events if e.kind == "undo" and e.of.get("undoes") == event.entry_id), None)
    finished = {e.of.get("finish") for e in job.events if e.kind == "received"}
    lines = [e.line for e in job.events if e.kind == "finish" and e.entry_id in finished]
    return taken_back is not None and any(event.line < line < taken_back for line in lines)


def _readings(job: SiteJob, logged: Sequence[Mapping[str, Any]]) -> list[Row]:
    """Readings by hand and by instrument in order of time; one by hand moves on a second where two share one."""
    used: dict[datetime, Row] = {row["read_at"]: {**row, "job_id": job.name} for row in logged}
    for event in (e for e in job.events if e.kind == "reading"):
        if event.is_undone and not was_received(job, event):
            continue
        at = event.at
        while at in used:
            at += timedelta(seconds=1)
        measured = {} if event.is_undone else {name: event.of[name] for name in MEASURED if name in event.of}
        used[at] = {"job_id": job.name, "read_at": at, "focus_emitter_no": event.of.get("focus_emitter_no"), **measured}
    return [used[at] for at in sorted(used)]


def columns_of(rows: Iterable[Mapping[str, Any]]) -> list[str]:
    """Every column that any of the rows has, in the order met."""
    return list(dict.fromkeys(name for row in rows for name in row))
