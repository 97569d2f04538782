"""What a load undid of earlier ones: rows replaced, rows that no longer fit their visit, job numbers used again.

Told by comparing the build before a load with the one after it, in one sentence each with the count and the cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from pipeline.contract.findings import BookError, Finding
from pipeline.store.book import open_build, sql_text

NAMED = 3
"""Jobs named in a sentence; of more, the number only."""
ANOTHER_VISIT_DAYS = 60
"""A visit in another year and this far from the one on record is more likely another job than a corrected date
(assumption)."""

Job = tuple[str, str]
Visit = dict[str, Any]
Moved = dict[Job, tuple[Visit, Visit]]
"""Jobs that the load brought another version of: the version before and the one after."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """What one build says: visits by job, replaced rows by source, the job of each row outside its visit by place."""

    visits: dict[Job, Visit]
    replaced: dict[tuple[str, str, str], int]
    outside: dict[tuple[int, int, int], Job]


def undone(before: Path | None, after: Path, batch_no: int) -> tuple[Finding, ...]:
    """Findings on rows of batches before `batch_no`, from the build before the load and the one after it."""
    if before is None or before == after:
        return ()
    try:
        now = _seen(after, batch_no, None)
        then = _seen(before, batch_no, tuple(now.visits))
    except BookError:  # the build before was made by another version: there is nothing to compare with
        return ()
    moved = {job: (visit, now.visits[job]) for job, visit in then.visits.items()}
    return (*_used_again(moved), *_replaced(then, now), *_shut_out(then, now, moved))


def _seen(build: Path, batch_no: int, jobs: tuple[Job, ...] | None) -> _Seen:
    """Of the jobs named, or of those that the batch brought; all from one opening of the build."""
    with open_build(build) as connection:

        def asked(name: str, **parameters: object) -> list[dict[str, Any]]:
            cursor = connection.execute(sql_text(f"reads/{name}"), parameters)
            names = [column[0] for column in cursor.description]
            return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

        if jobs is None:
            visits = asked("visits_of_batch", batch_no=batch_no)
        else:
            firms, numbers = [firm for firm, _ in jobs], [number for _, number in jobs]
            visits = asked("visits_of_jobs", firms=firms, jobs=numbers) if jobs else []
        replaced = asked("replaced_rows", batch_no=batch_no)
        outside = asked("rows_outside_visits", batch_no=batch_no)
    return _Seen(
        {(row["firm_id"], row["job_id"]): row for row in visits},
        {(row["batch_id"], row["file"], row["table_name"]): row["superseded"] for row in replaced},
        {(row["batch_no"], row["source_no"], row["line"]): (row["firm_id"], row["job_id"]) for row in outside},
    )


def _used_again(moved: Moved) -> tuple[Finding, ...]:
    """Job numbers that stood for a visit in another year."""
    again = [
        (job, then["visit_date"], now["visit_date"])
        for job, (then, now) in moved.items()
        if then["visit_date"].year != now["visit_date"].year
        and abs((now["visit_date"] - then["visit_date"]).days) > ANOTHER_VISIT_DAYS
    ]
    if not again:
        return ()
    named = "; ".join(f"{_name(job, moved)}: {_day(then)} before, {_day(now)} now" for job, then, now in again[:NAMED])
    more = f"; and {len(again) - NAMED:,} more" if len(again) > NAMED else ""
    what = "1 job number stood" if len(again) == 1 else f"{len(again):,} job numbers stood"
    sentence = (
        f"{what} for a visit in another year ({named}{more}). If these are new jobs, the records of the earlier ones "
        "no longer count: give the new jobs numbers that were never used, then hand the earlier file in again. If only "
        "the date was put right, nothing needs doing."
    )
    facts = {"jobs": len(again), "named": [list(job) for job, _, _ in again[:NAMED]]}
    return (Finding("job_numbers_used_again", sentence, facts),)


def _replaced(then: _Seen, now: _Seen) -> tuple[Finding, ...]:
    """Rows of earlier batches that a newer version of the same row took the place of."""
    by_table: dict[str, int] = {}
    for source, rows in now.replaced.items():
        more = rows - then.replaced.get(source, 0)
        if more > 0:
            by_table[source[2]] = by_table.get(source[2], 0) + more
    count = sum(by_table.values())
    if not count:
        return ()
    parts = ", ".join(f"{name} {rows:,}" for name, rows in by_table.items())
    what = "1 row of earlier loads is" if count == 1 else f"{count:,} rows of earlier loads are"
    sentence = f"{what} replaced by a newer version from this load ({parts}); the earlier version stays in the history."
    return (Finding("rows_replaced", sentence, {"rows": count, "tables": by_table}, "`sludgebook history JOB`."),)


def _shut_out(then: _Seen, now: _Seen, moved: Moved) -> tuple[Finding, ...]:
    """Rows of earlier batches that lie outside their visit now and did not before, and those that fit again."""
    out = [job for place, job in now.outside.items() if place not in then.outside]
    back = [job for place, job in then.outside.items() if place not in now.outside]
    found = []
    if out:
        rows = "1 row of earlier loads is" if len(out) == 1 else f"{len(out):,} rows of earlier loads are"
        sentence = (
            f"{rows} rejected from now on, because this load moved the visit of {_jobs(out, moved)}. If that is wrong, "
            "hand the right visit in and they count again."
        )
        found.append(Finding("rows_shut_out", sentence, {"rows": len(out), "jobs": len(set(out))}))
    if back:
        rows = "1 row of earlier loads counts" if len(back) == 1 else f"{len(back):,} rows of earlier loads count"
        sentence = f"{rows} again, because this load moved the visit of {_jobs(back, moved)}."
        found.append(Finding("rows_let_in", sentence, {"rows": len(back), "jobs": len(set(back))}))
    return tuple(found)


def _jobs(rows: Sequence[Job], moved: Moved) -> str:
    """`job A1 (was 2025-03-04, is 2025-04-13)`, or the number of jobs and the first of them."""
    jobs = list(dict.fromkeys(rows))
    named = ", ".join(f"{_name(job, moved)}{_change(moved.get(job))}" for job in jobs[:NAMED])
    if len(jobs) == 1:
        return f"job {named}"
    return f"{len(jobs):,} jobs ({named}{', …' if len(jobs) > NAMED else ''})"


def _change(versions: tuple[Visit, Visit] | None) -> str:
    if versions is None:
        return ""
    then, now = versions
    if then["visit_date"] != now["visit_date"]:
        return f" (was {_day(then['visit_date'])}, is {_day(now['visit_date'])})"
    return f" (ended {_day(then['last_day'])}, now {_day(now['last_day'])})"


def _name(job: Job, moved: Moved) -> str:
    """The job's number, with its firm where the load touches several."""
    return job[1] if len({firm for firm, _ in moved}) < 2 else "/".join(job)


def _day(day: date) -> str:
    return day.isoformat()
