"""What the values of a heading say against a column: wrong kind, outside what can be, unlike what is usual."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.contract.columns import Column
from pipeline.mapping.foreign_units import Unit, units_of
from pipeline.mapping.heading_doubts import USUAL
from pipeline.mapping.trade_words import choice_for
from pipeline.mapping.value_shapes import MAX_WORDS, Shape
from pipeline.privacy.private_columns import is_outward_only

MOSTLY = 0.8
"""Share of the cells that must be of a column's kind; the rest is rejected row by row."""

SURE_WORD = 0.75
"""From this score on a firm's word is put beside the contract's in the proposal; below it is asked."""

_KNOWN_WORDS = 0.5
_EARLIEST_HOUR = 5
_MOST_PEOPLE = 6
_IDS = ("firm_id", "job_id", "engineer_id")


@dataclass(frozen=True, slots=True)
class Against:
    """What speaks against a column, a clause; `is_hopeless` where the values cannot be of its kind at all."""

    clause: str
    is_hopeless: bool = False


def against(shape: Shape, column: Column, units: tuple[str, ...]) -> Against | None:
    """Why the values of a heading, in one of `units` where its heading names any, are not a column's; None where they
    may be, and where there are none."""
    if not shape.filled:
        return None
    if column.kind in ("number", "integer"):
        return _number(shape, column, units)
    if column.kind == "date":
        return None if shape.dates + shape.serials >= MOSTLY else Against("its values are no days", is_hopeless=True)
    if column.kind == "time":
        return _time(shape)
    if column.kind in ("choice", "yes_no"):
        return _words(shape, column)
    return _text(shape, column)


def _number(shape: Shape, column: Column, units: tuple[str, ...]) -> Against | None:
    if shape.numbers < MOSTLY:
        return Against("its values are no numbers", is_hopeless=True)
    if column.kind == "integer" and not shape.is_whole:
        return Against(f"not all of its values are whole, but {column.name} is counted")
    if shape.is_mark_open or shape.middle is None or shape.lowest is None or shape.highest is None:
        return None
    meant = [unit for name, unit in units_of(column).items() if (not units or name in units) and not unit.sizes]
    known: list[Unit | None] = [*meant] or [None]
    ends = (shape.lowest, shape.highest)
    allowed = [_inside(_span(ends, unit), (column.low, column.high)) for unit in known]
    if not any(allowed):
        return Against(f"its values reach from {ends[0]:g} to {ends[1]:g}, outside {_spelt(column)}")
    usual = USUAL.get(column.name, (None, None))
    if not any(_inside(_span(shape.middle, unit), usual) for unit in known):
        low, high = shape.middle
        most = f"most of its values are {low:g}" + (f" to {high:g}" if high > low else "")
        return Against(f"{most}; usual for {column.name} are {usual[0]:g} to {usual[1]:g} {column.unit}".rstrip())
    return None


def _span(ends: tuple[float, float], unit: Unit | None) -> tuple[float, float]:
    first, last = ends
    return ends if unit is None else ((first - unit.offset) * unit.factor, (last - unit.offset) * unit.factor)


def _inside(span: tuple[float, float], limits: tuple[float | None, float | None]) -> bool:
    low, high = limits
    return (low is None or span[0] >= low) and (high is None or span[1] <= high)


def _spelt(column: Column) -> str:
    return f"the {column.allowed.partition(';')[0]} {column.unit} that {column.name} can have".replace("  ", " ")


def _time(shape: Shape) -> Against | None:
    if max(shape.clocks, shape.moments + shape.serials) < MOSTLY:
        return Against("its values are no times of day", is_hopeless=True)
    if shape.clocks >= MOSTLY and shape.moments < MOSTLY and shape.middle_hour < _EARLIEST_HOUR:
        return Against(f"most of its values are before {_EARLIEST_HOUR} o'clock, as if they were lengths of time")
    return None


def _words(shape: Shape, column: Column) -> Against | None:
    if len(shape.words) > MAX_WORDS:
        return Against("it holds too many different words", is_hopeless=True)
    known = sum(choice_for(column.name, column.kind, word)[1] >= SURE_WORD for word in shape.words)
    if known / len(shape.words) >= _KNOWN_WORDS:
        return None
    is_other = max(shape.numbers, shape.dates, shape.moments, shape.clocks) >= MOSTLY
    choices = ", ".join(column.choices or ("yes", "no"))
    return Against(f"most of its words are none of {choices}", is_hopeless=is_other)


def _text(shape: Shape, column: Column) -> Against | None:
    if max(shape.dates, shape.moments, shape.clocks) >= MOSTLY:
        return Against("its values are days or times", is_hopeless=True)
    if column.name == "postcode_district":
        return None if is_outward_only(shape.words) else Against("its values are no postcode districts")
    if column.name == "note" and shape.numbers >= MOSTLY:
        return Against("its values are numbers", is_hopeless=True)
    if column.name in _IDS and shape.numbers >= MOSTLY and (not shape.is_whole or column.name == "firm_id"):
        return Against("its values are numbers and no ids", is_hopeless=True)
    if column.name == "engineer_id" and shape.numbers >= MOSTLY and (shape.highest or 0) <= _MOST_PEOPLE:
        return Against("its values may be a number of people")
    return None


def repeats(shape: Shape, column: Column, table: str) -> Against | None:
    """Job numbers of a list of jobs that stand twice: one row a job is what the list must have."""
    if table != "jobs" or column.name != "job_id" or shape.distinct == shape.filled:
        return None
    return Against(f"it has {shape.filled - shape.distinct} repeated values, but a job has one row")
