"""What a load says of rows that are in the book but will not do what their sender meant: one sentence a cause."""

from __future__ import annotations

from pathlib import Path

from pipeline.checks.row_rules import COUNTED_TO_IT, LATE_START
from pipeline.contract import DEFAULT_FIRM_ID
from pipeline.contract.findings import Finding
from pipeline.store.book import read_records

_WARNED = """
select count(*)::bigint as n from row_warnings
where batch_id = $batch and table_name = 'jobs' and contains(reason, $words)
"""
_TOTALS = "select count(*)::bigint as n from jobs where flush_started_at is null"
# One of the two firms is the one that stands for a firm_id left out.
_APART = """
select w.firm_id as waits, j.firm_id as stands, string_agg(distinct w.table_name, ', ' order by w.table_name) as tables,
    sum(w.rows)::bigint as n
from job_ledger as w
join jobs as j on w.job_id = j.job_id and (w.firm_id = $own) <> (j.firm_id = $own)
where w.status = 'waiting'
group by w.firm_id, j.firm_id
order by n desc, w.firm_id, j.firm_id
"""


def load_notes(build: Path, batch: str) -> tuple[Finding, ...]:
    """Notes on one batch, and on rows of the book that wait under another firm than their job's."""
    return (*_firms_apart(build), *_late_starts(build, batch), *_follow_up(build, batch), *_by_totals(build))


def _firms_apart(build: Path) -> tuple[Finding, ...]:
    found = []
    for row in read_records(build, _APART, own=DEFAULT_FIRM_ID):
        rows = "1 row" if row["n"] == 1 else f"{row['n']:,} rows"
        one = row["n"] == 1
        what = f"{rows} of {row['tables']}"
        if row["waits"] == DEFAULT_FIRM_ID:
            seen = f"{what} came without firm_id and {'waits' if one else 'wait'}, but the jobs of these numbers "
            seen += f"are of the firm {row['stands']!r}"
        else:
            seen = f"{what} {'waits' if one else 'wait'} for jobs of the firm {row['waits']!r}, but the jobs of these "
            seen += "numbers came without firm_id"
        found.append(Finding("firm_id_in_one_table", f"{seen}: write firm_id in every table, or in none.", dict(row)))
    return tuple(found)


def _late_starts(build: Path, batch: str) -> tuple[Finding, ...]:
    jobs = read_records(build, _WARNED, batch=batch, words=LATE_START)[0]["n"]
    if not jobs:
        return ()
    what = "1 job begins its flush" if jobs == 1 else f"{jobs:,} jobs begin their flush"
    return (Finding("late_flush", f"{what} {LATE_START}: is the date right?", {"jobs": jobs}),)


def _follow_up(build: Path, batch: str) -> tuple[Finding, ...]:
    jobs = read_records(build, _WARNED, batch=batch, words=COUNTED_TO_IT)[0]["n"]
    if not jobs:
        return ()
    what = "1 job is" if jobs == 1 else f"{jobs:,} jobs are"
    sentence = (
        f"{what} said to be followed until after the day of loading, such as to the end of a guarantee; nobody has "
        f"watched so long, so {COUNTED_TO_IT}."
    )
    return (Finding("follow_up_ahead", sentence, {"jobs": jobs}),)


def _by_totals(build: Path) -> tuple[Finding, ...]:
    jobs = read_records(build, _TOTALS)[0]["n"]
    if not jobs:
        return ()
    what, count = ("1 job is", "it counts") if jobs == 1 else (f"{jobs:,} jobs are", "they count")
    sentence = (
        f"{what} kept by totals, without flush times: {count} in forecasts of kilograms and hours and beside prices, "
        "and not where a catch is watched."
    )
    return (Finding("kept_by_totals", sentence, {"jobs": jobs}),)
