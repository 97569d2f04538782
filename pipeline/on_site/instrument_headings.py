"""Headings of an instrument's file that nobody knows yet, as one question each, small enough for a phone.

What a heading is and its unit are one answer ("Flow, L/min"); nothing is chosen for a person but what the heading
and all its values leave no doubt of.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping as Answers
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from pipeline.contract import JOB_LOG
from pipeline.contract.findings import BadInput
from pipeline.mapping.confirmed_mapping import ColumnMap, Mapping, TableMap
from pipeline.mapping.foreign_units import units_of
from pipeline.mapping.heading_columns import Surroundings, draft
from pipeline.mapping.heading_match import Fit, fits
from pipeline.mapping.settled_columns import settled
from pipeline.mapping.value_shapes import Shape, shape_of
from pipeline.on_site.entries import MEASURED
from pipeline.privacy.private_columns import private_heading
from pipeline.readers.files import WORKBOOKS, FoundTable

UNUSED = ""
MOST_ASKED = 24
"""Headings of one file that are asked; the channels of an instrument are fewer."""
_MOSTLY = 0.8
_READINGS = JOB_LOG["readings"]
_DAY, _CLOCK, _TIME = "day", "clock", "read_at"
_WORDS = {_TIME: "Day and time", _DAY: "Day", _CLOCK: "Clock time"}
_ORDERS = {"": "", "dmy": ", day first", "mdy": ", month first", "serial": ", counted from 1900"}


@dataclass(frozen=True, slots=True)
class AskedHeading:
    """One heading: some of its values, the answers as (value, words), and the answer that leaves no doubt, if any."""

    heading: str
    samples: tuple[str, ...]
    choices: tuple[tuple[str, str], ...]
    proposed: str = UNUSED


class HeadingsOpen(BadInput):
    """An instrument's file whose headings a person has to tell first; `asked` are the questions."""

    def __init__(self, file: str, asked: Sequence[AskedHeading], sentence: str = "") -> None:
        usual = f"Say what the headings of {file} are; the next file of this kind is then read by itself."
        super().__init__(sentence or usual)
        self.file = file
        self.asked = tuple(asked)


def asked_of(found: FoundTable, days: Sequence[date] = (), mapping: Mapping | None = None) -> tuple[AskedHeading, ...]:
    """The headings of a table that can be something of a reading: those that hold numbers, days or times. With `days`,
    of which day clock times are is asked too; what a `mapping`, or its own name, says of a heading is proposed."""
    shapes = _shapes(found)
    sure = {heading: _sure(each) for heading, each in settled(fits(shapes, "readings")).taken.items()}
    if days:
        sure |= _said_before(mapping)
    asked = []
    for shape in shapes:
        values = [each for value in _choices(shape) for each in _of_each_day(value, days)]
        choices = tuple((value, _in_words(value)) for value in values)
        proposed = sure.get(shape.heading, UNUSED)
        only = choices[0][0] if len(choices) == 1 else UNUSED
        known = {value for value, _ in choices}
        if choices:
            answer = proposed if proposed in known else only
            asked.append(AskedHeading(shape.heading, shape.samples, choices, answer))
    return tuple(asked[:MOST_ASKED])


def _said_before(mapping: Mapping | None) -> dict[str, str]:
    """What is known of headings already, as answers: by a mapping, or because they are the job log's own."""
    if mapping is None:
        return {name: f"{name}|{next(iter(units_of(_READINGS.column(name))), '')}" for name in MEASURED}
    return {column.heading: f"{column.column}|{column.unit}" for table in mapping.tables for column in table.columns}


def _of_each_day(value: str, days: Sequence[date]) -> list[str]:
    is_clock = value.partition("|")[0] == _CLOCK
    return [f"{_CLOCK}|{day.isoformat()}" for day in days] if is_clock and days else [value]


def told_day(answers: Answers[str, str]) -> date | None:
    """The day that was chosen for clock times, if any was."""
    chosen = [value.partition("|")[2] for value in answers.values() if value.partition("|")[0] == _CLOCK]
    return date.fromisoformat(chosen[0]) if chosen and chosen[0] else None


def told(found: FoundTable, answers: Answers[str, str]) -> Mapping:
    """The mapping that the answers amount to, heading → value of a choice; BadInput says what is missing or twice."""
    shapes = {shape.heading: shape for shape in _shapes(found)}
    given = {heading: value.partition("|")[::2] for heading, value in answers.items() if value and heading in shapes}
    twice = [name for name, times in Counter(name for name, _ in given.values()).items() if times > 1]
    if twice:
        raise BadInput(f"Two headings cannot both be {_in_words(f'{twice[0]}|').lower()}; choose one.")
    places = {name: heading for heading, (name, _) in given.items()}
    if not any(name in places for name in MEASURED):
        raise BadInput("Say which heading is a measurement, such as the flow.")
    if _TIME not in places and _CLOCK not in places:
        raise BadInput("Say which heading holds the day and the time of each reading.")
    around = _around(found, shapes.get(places.get(_DAY, "")))
    columns = [_time_map(given, places, around, shapes)]
    for name in (*MEASURED, "focus_emitter_no"):
        if heading := places.get(name):
            unit = given[heading][1]
            chosen = Fit(heading, name, 1.0, (unit,) if unit else ())
            columns.append(draft(chosen, shapes[heading], _READINGS.column(name), around).mapped)
    return Mapping((TableMap(found.stem, "readings", tuple(columns)),))


def _shapes(found: FoundTable) -> list[Shape]:
    text = found.read()
    shapes = [shape_of(name, text.frame[name]) for name in text.headings if not private_heading(name)]
    return [shape for shape in shapes if shape.filled and not shape.private]


def _around(found: FoundTable, day: Shape | None) -> Surroundings:
    return Surroundings(day, found.suffix in WORKBOOKS, found.counts_from_1904)


def _time_map(
    given: Answers[str, tuple[str, str]], places: Answers[str, str], around: Surroundings, shapes: Answers[str, Shape]
) -> ColumnMap:
    heading = places.get(_TIME) or places[_CLOCK]
    decisive = heading if _TIME in places else places.get(_DAY, "")
    chosen = given[decisive][1] if decisive else ""
    drafted = draft(Fit(heading, _TIME, 1.0), shapes[heading], _READINGS.column(_TIME), around).mapped
    day = "" if _TIME in places else places.get(_DAY, "")
    return ColumnMap(_TIME, heading, dates=chosen or drafted.dates, date_heading=day)


def _choices(shape: Shape) -> list[str]:
    """Answers that its values allow, as `column|unit` or `column|order of day and month`."""
    orders = {"?": ("dmy", "mdy"), "both": ("dmy", "mdy")}.get(shape.order, (shape.order,))
    for name, share in ((_TIME, shape.moments), (_CLOCK, shape.clocks), (_DAY, shape.dates)):
        if share >= _MOSTLY:
            return [f"{name}|{order if name != _CLOCK else ''}" for order in (orders if name != _CLOCK else ("",))]
    if shape.numbers < _MOSTLY:
        return []
    found = [f"{_TIME}|serial"] if shape.serials >= _MOSTLY else []
    for name in MEASURED:
        found += [f"{name}|{unit}" for unit in units_of(_READINGS.column(name)) or ("",)]
    return [*found, "focus_emitter_no|"]


def _sure(each: Fit) -> str:
    """The answer where heading and values leave one only."""
    if each.column == _TIME:
        return UNUSED  # its choices tell it where there is one only
    if not units_of(_READINGS.column(each.column)):
        return f"{each.column}|"
    return f"{each.column}|{each.units[0]}" if len(each.units) == 1 else UNUSED


def _in_words(value: str) -> str:
    name, _, rest = value.partition("|")
    if name == _CLOCK and rest:
        day = date.fromisoformat(rest)
        return f"{_WORDS[name]}, on {day.day} {day:%B}"
    if name in _WORDS:
        return f"{_WORDS[name]}{_ORDERS.get(rest, '')}"
    column = _READINGS.column(name)
    words = column.meaning.partition(";")[0]
    return f"{words}, {rest}" if rest else words if column.unit in ("", "pH", "count") else f"{words}, {column.unit}"
