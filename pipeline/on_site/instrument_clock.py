"""Clock times without a day in an instrument's file: the day is that of the job, asked only where several could be.

Past midnight a clock begins again at zero, so the rows behind a fall of more than half a day are of the next day.
Where summer time ends an hour of the night comes twice: its second readings stay behind the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import polars as pl

from pipeline.contract.findings import BadInput
from pipeline.mapping.mapped_cells import clock_text
from pipeline.on_site.open_job import SiteJob
from pipeline.readers.text_tables import LINE, TextTable

AHEAD = timedelta(minutes=15)
"""An instrument's clock may be fast by so much: more, and the reading is not of that day."""
REPEATED = timedelta(hours=1)
"""A clock is put back by an hour at most (IANA time zone database, from memory; half an hour on Lord Howe Island)."""
NIGHT_ENDS = 4
"""Hour before which clocks are put back, wherever that is done (from memory)."""
_AT = "read_at"
_HALF_A_DAY_S = 12 * 3600


@dataclass(frozen=True, slots=True)
class Days:
    """The days that a job has had so far, in order, and the time now; none where nobody knows of the job's days."""

    days: tuple[date, ...] = ()
    now: datetime = datetime.max


class DayOpen(BadInput):
    """The readings of a file could be of each of these days."""

    def __init__(self, file: str, days: Sequence[date]) -> None:
        super().__init__(f"Say of which day the readings of {file} are; it holds clock times only.")
        self.days = tuple(days)


def days_of(job: SiteJob, now: datetime) -> Days:
    """From the day on which the flow began: those on which something was entered, and today."""
    begun = (job.started_at or now).date()
    entered = {event.at.date() for event in job.events} | {begun, now.date()}
    return Days(tuple(sorted(day for day in entered if begun <= day <= now.date())), now)


def dated(file: str, texts: Sequence[TextTable], known: Days, told: date | None) -> tuple[list[TextTable], date | None]:
    """The tables with a day before each clock time, and the first day; unchanged, and None, where there is none.

    `told` is the first day if it is known. DayOpen where several are possible, BadInput where none is.
    """
    clocks = [_clocks(text) for text in texts]
    if not any(each.drop_nulls().len() for each in clocks):
        return list(texts), None
    first = told or _only(file, clocks, known)
    return [_with_day(text, each, first) for text, each in zip(texts, clocks, strict=True)], first


def _clocks(text: TextTable) -> pl.Series:
    """Seconds since the midnight before the first reading, null where a cell is no bare clock time."""
    if _AT not in text.frame.columns:
        return pl.Series([], dtype=pl.Int64)
    shown = text.frame.select(clock_text(pl.col(_AT).str.strip_chars())).to_series()
    hour, minute, second = (shown.str.slice(begin, 2).cast(pl.Int64, strict=False) for begin in (0, 3, 6))
    seconds = hour * 3600 + minute * 60 + second
    is_next = (seconds.forward_fill().diff() < -_HALF_A_DAY_S).fill_null(value=False)
    return seconds + is_next.cast(pl.Int64).cum_sum() * 24 * 3600


def _only(file: str, clocks: Sequence[pl.Series], known: Days) -> date:
    """The one day of the job on which the first reading can be: the last one may not lie ahead."""
    last = timedelta(seconds=max(int(str(each.max())) for each in clocks if each.drop_nulls().len()))
    fit = [day for day in known.days if datetime.combine(day, time()) + last <= known.now + AHEAD]
    if len(fit) == 1:
        return fit[0]
    if fit:
        raise DayOpen(file, fit)
    raise BadInput(
        f"{file} holds clock times only, and the last lies ahead of this computer's clock on every day of the job.",
        "Set the instrument's clock, or export the readings with their day.",
    )


def _with_day(text: TextTable, seconds: pl.Series, first: date) -> TextTable:
    if not seconds.len():
        return text
    begins = datetime.combine(first, time())
    moments = [None if each is None else (begins + timedelta(seconds=each)).isoformat() for each in seconds.to_list()]
    made = pl.Series(moments, dtype=pl.String)
    return replace(text, frame=text.frame.with_columns(pl.coalesce(made, pl.col(_AT)).alias(_AT)))


def apart_in_order(rows: pl.DataFrame) -> pl.DataFrame:
    """Readings in the order of their lines, those of an hour that came twice one after the other.

    A clock cannot go on while another is put back, so the second readings of the hour stand a second apart behind the
    last of the first, as entries on site do. That the hour came twice is told by the file: its times rise but for one
    fall at night, of an hour at most, and no row behind it says the same as one before. Any other file stays as it is.
    """
    at = rows[_AT]
    falls = (at.diff() < timedelta()).fill_null(value=False).arg_true().to_list()
    if len(falls) != 1:
        return rows
    (place,) = falls
    before, behind = at[place - 1], at[place]
    said = [name for name in rows.columns if name != LINE]
    again = rows[place:].join(rows[:place], on=said, how="semi", nulls_equal=True).height
    if before - behind > REPEATED or before.hour >= NIGHT_ENDS or behind.hour >= NIGHT_ENDS or again:
        return rows
    last, moments = before, []
    for moment in at[place:]:
        last = max(moment, last + timedelta(seconds=1))
        moments.append(last)
    moved = pl.concat([at[:place], pl.Series(_AT, moments, dtype=at.dtype)])
    return rows.with_columns(moved)
