"""The rule of nights: which part of the time between two moments of a flush was work.

A build asks the same rule in SQL (`core/site_days`), where a job may have thousands of readings; a test holds
the two to the same edge jobs. All figures of the rule are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise

from pipeline.contract.units import SECONDS_PER_MINUTE

SHORTEST_NIGHT = timedelta(hours=6)
"""A gap over midnight shorter than this is work, this long or longer is a night."""
DAY_BEGINS, DAY_ENDS = time(8, 0), time(16, 30)
"""What stands for the begin or the end of a working day of which one moment only is known."""
_TICK = timedelta(microseconds=1)

RULE = (
    "Minutes of a flush and on site: a gap over midnight with nothing logged in it is work when shorter than 6 hours "
    "and a night, left out, from 6 hours on; a gap within one day is work. 00:00 belongs to the day before.",
    "Of a day on site of which one moment only is known, the first is taken to end at 16:30 and a later one to begin "
    "at 08:00 (working hours). Where the moment lies on the wrong side of that, or a whole day with nothing logged "
    "lies beside such a day, the minutes are not known: empty, with a warning on the job, never 0.",
)
"""The same in words, for documents."""


@dataclass(frozen=True, slots=True)
class FlushDay:
    """One day on site, which may run past midnight: from `first_at` to `last_at`; minutes None: not known."""

    first_at: datetime
    last_at: datetime
    minutes_before: float | None
    minutes: float | None


def day_of(moment: datetime) -> date:
    """The day that a moment belongs to: 00:00 still the day before."""
    return (moment - _TICK).date()


def is_night(before: datetime, after: datetime) -> bool:
    """Whether a night lies between two moments with nothing logged in between."""
    return day_of(before) < day_of(after) and after - before >= SHORTEST_NIGHT


def flush_days(moments: Iterable[datetime]) -> tuple[FlushDay, ...]:
    """Days on site from every moment known of a flush, its begin and end among them."""
    ordered = sorted(set(moments))
    groups: list[list[datetime]] = [[moment] for moment in ordered[:1]]
    for before, after in pairwise(ordered):
        if is_night(before, after):
            groups.append([])
        groups[-1].append(after)
    days: list[FlushDay] = []
    before_it: float | None = 0.0
    for number, group in enumerate(groups):
        spans = _opened(group, is_first=number == 0, is_only=len(groups) == 1)
        is_known = spans is not None and not (number and _is_lost(groups[number - 1], group))
        first, last = spans or (group[0], group[-1])
        minutes = (last - first).total_seconds() / SECONDS_PER_MINUTE if is_known else None
        days.append(FlushDay(first, last, before_it, minutes))
        before_it = None if before_it is None or minutes is None else before_it + minutes
    return tuple(days)


def _opened(group: list[datetime], *, is_first: bool, is_only: bool) -> tuple[datetime, datetime] | None:
    """Begin and end of a day; None where one moment is known and working hours do not help."""
    if len(group) > 1 or is_only:
        return group[0], group[-1]
    (moment,) = group
    if is_first:
        ends = datetime.combine(day_of(moment), DAY_ENDS)
        return (moment, ends) if ends > moment else None
    begins = datetime.combine(moment.date(), DAY_BEGINS)
    return (begins, moment) if begins < moment else None


def _is_lost(before: list[datetime], after: list[datetime]) -> bool:
    """A whole day with nothing logged lies between, beside a day of one moment: nobody knows whether it was work."""
    is_gap = (day_of(after[0]) - day_of(before[-1])).days > 1
    return is_gap and 1 in (len(before), len(after))
