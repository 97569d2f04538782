"""Units that firms write, and how each becomes the unit of the contract.

A unit belongs to a dimension; every dimension has the contract's unit as its base. Nominal tube sizes are
units too, of which only the listed sizes exist.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pipeline.contract import units as u
from pipeline.contract.columns import Column

EACH_CELL = "each cell"
"""Stands for a unit where every cell names its own (`420 g`)."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: base = (value - offset) × factor, or, for a nominal size, what `sizes` says."""

    name: str
    dimension: str
    factor: float
    offset: float = 0.0
    spellings: tuple[str, ...] = ()
    sizes: Mapping[float, float] = field(default_factory=dict)


_L_MIN_PER_M3_H = u.L_PER_M3 / u.MINUTES_PER_HOUR
_MM, _M, _MIN, _H, _KG = "length in mm", "length in m", "time", "time in h", "mass in kg"
INCH_WORDS = ("inch", "inches", "in", '"', "″", "''")

UNITS: tuple[Unit, ...] = (
    Unit("g", "mass", 1.0, spellings=("gram", "grams", "gramm", "gr", "gms")),
    Unit("kg", "mass", u.G_PER_KG, spellings=("kilo", "kilos", "kilogram", "kilograms", "kgs")),
    Unit("lb", "mass", u.G_PER_LB, spellings=("lbs", "pound", "pounds")),
    Unit("oz", "mass", u.G_PER_OZ, spellings=("ounce", "ounces")),
    Unit("kg", _KG, 1.0, spellings=("kilo", "kilos", "kilogram", "kilograms", "kgs")),
    Unit("g", _KG, 1.0 / u.G_PER_KG, spellings=("gram", "grams", "gramm", "gr", "gms")),
    Unit("lb", _KG, u.G_PER_LB / u.G_PER_KG, spellings=("lbs", "pound", "pounds")),
    Unit("L/min", "flow", 1.0, spellings=("lpm", "l/m", "ltr/min", "litres/min", "liters/min", "l min")),
    Unit("L/s", "flow", u.SECONDS_PER_MINUTE, spellings=("lps", "ltr/s", "litres/s", "l/sec")),
    Unit("L/h", "flow", 1.0 / u.MINUTES_PER_HOUR, spellings=("lph", "l/hr", "litres/h", "litres/hour", "l/hour")),
    Unit("m³/h", "flow", _L_MIN_PER_M3_H, spellings=("m3/h", "m3/hr", "m³/hr", "cbm/h", "cu m/h")),
    Unit("gal US/min", "flow", u.L_PER_GAL_US, spellings=("us gpm", "usgpm", "gpm us", "us gal/min")),
    Unit("gal UK/min", "flow", u.L_PER_GAL_UK, spellings=("uk gpm", "imp gpm", "gpm uk", "uk gal/min", "imp gal/min")),
    Unit("°C", "temperature", 1.0, spellings=("c", "degc", "deg c", "celsius", "ºc")),
    Unit("°F", "temperature", 1.0 / u.F_PER_C, u.F_AT_0_C, ("f", "degf", "deg f", "fahrenheit", "ºf")),
    Unit("mm", _MM, 1.0, spellings=("millimetre", "millimetres", "millimeter", "millimeters")),
    Unit("cm", _MM, 10.0, spellings=("centimetre", "centimetres", "centimeters")),
    Unit("m", _MM, u.MM_PER_M, spellings=("metre", "metres", "meter", "meters", "mtr")),
    Unit("inch", _MM, u.MM_PER_INCH, spellings=INCH_WORDS),
    Unit("ft", _MM, u.MM_PER_FT, spellings=("foot", "feet", "'")),
    Unit("inch copper US", _MM, 1.0, sizes=u.COPPER_US_OUTSIDE_MM),
    Unit("inch copper UK", _MM, 1.0, sizes=u.COPPER_UK_OUTSIDE_MM),
    Unit("inch steel", _MM, 1.0, sizes=u.STEEL_OUTSIDE_MM),
    Unit("m", _M, 1.0, spellings=("metre", "metres", "meter", "meters", "mtr")),
    Unit("mm", _M, 1.0 / u.MM_PER_M, spellings=("millimetre", "millimetres")),
    Unit("cm", _M, 10.0 / u.MM_PER_M, spellings=("centimetre", "centimetres")),
    Unit("ft", _M, u.MM_PER_FT / u.MM_PER_M, spellings=("foot", "feet", "'")),
    Unit("inch", _M, u.MM_PER_INCH / u.MM_PER_M, spellings=INCH_WORDS),
    Unit("bar", "pressure", 1.0, spellings=("bars", "barg")),
    Unit("kPa", "pressure", u.PA_PER_KPA / u.PA_PER_BAR),
    Unit("psi", "pressure", u.PA_PER_PSI / u.PA_PER_BAR, spellings=("psig", "lb/in2", "lbs/sq in")),
    Unit("kW", "power", 1.0, spellings=("kilowatt", "kilowatts")),
    Unit("W", "power", 1e-3, spellings=("watt", "watts")),
    Unit("BTU/h", "power", u.W_PER_BTU_H / 1000.0, spellings=("btu", "btuh", "btu/hr")),
    Unit("µS/cm", "conductivity", 1.0, spellings=("us/cm", "μs/cm", "us", "µs", "micros/cm", "us cm")),
    Unit("mS/cm", "conductivity", 1000.0, spellings=("ms",)),
    Unit("min", _MIN, 1.0, spellings=("mins", "minute", "minutes")),
    Unit("h", _MIN, u.MINUTES_PER_HOUR, spellings=("hr", "hrs", "hour", "hours")),
    Unit("h", _H, 1.0, spellings=("hr", "hrs", "hour", "hours")),
    Unit("min", _H, 1.0 / u.MINUTES_PER_HOUR, spellings=("mins", "minute", "minutes")),
    Unit("mg/L", "content", 1.0, spellings=("mg/ltr", "ppm", "mg l")),
    Unit("µg/L", "content", 1e-3, spellings=("ug/l", "μg/l", "ppb")),
)

BASES = MappingProxyType(
    {
        "g": "mass",
        "kg": _KG,
        "h": _H,
        "L/min": "flow",
        "°C": "temperature",
        "mm": _MM,
        "m": _M,
        "bar": "pressure",
        "kW": "power",
        "µS/cm": "conductivity",
        "min": _MIN,
        "mg/L": "content",
    }
)
"""The contract's unit → its dimension. Columns of other units (pH, NTU, counts, years) are never converted."""

_GALLONS = ("gal US/min", "gal UK/min")
UNSAID = MappingProxyType(dict.fromkeys(("gpm", "gal/min", "gals/min", "gallons/min"), _GALLONS))
"""Spellings that can mean more than one unit: asked, never guessed."""

TUBE_COLUMNS = frozenset({"main_bore_mm", "tail_bore_mm", "outside_mm"})
"""Columns that hold the outside diameter of tube: an inch there may be a nominal size."""

TUBE_UNITS = ("inch copper US", "inch copper UK", "inch steel", "inch")


def units_of(column: Column) -> dict[str, Unit]:
    """Units that a column can be converted from, by name; empty where its unit has no other spelling."""
    dimension = BASES.get(column.unit)
    found = {unit.name: unit for unit in UNITS if unit.dimension == dimension}
    return {name: unit for name, unit in found.items() if column.name in TUBE_COLUMNS or not unit.sizes}


def spelling(text: str) -> str:
    """A unit's spelling as it is compared: small letters, single spaces, no dot at the end."""
    return re.sub(r"\s+", " ", text.strip().lower().replace("²", "2").rstrip(".")).replace(" / ", "/")


def unit_words(unit: Unit) -> tuple[str, ...]:
    """All spellings of a unit."""
    return tuple(dict.fromkeys((spelling(unit.name), *(spelling(word) for word in unit.spellings))))


def unit_named(word: str, column: Column) -> tuple[str, ...]:
    """Names of the units that a word can mean for a column: none, one, or several to ask about."""
    word = spelling(word)
    found = tuple(unit.name for unit in units_of(column).values() if word in unit_words(unit))
    if found == ("inch",) and column.name in TUBE_COLUMNS:
        return TUBE_UNITS
    if not found and BASES.get(column.unit) == "flow":
        return UNSAID.get(word, ())
    return found
