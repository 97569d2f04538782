"""`firm.toml`: what a firm pays, charges and accepts. One table of keys makes file, checks and docs.

Each field of `Firm` carries its unit, meaning and allowed values. The commented default file, the
reference table and the validation are all derived from it, so that they cannot drift apart. Default
rates are placeholders for an invented firm (common practice, no source): every firm sets its own.
"""

from __future__ import annotations

import difflib
import json
import math
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date, timedelta
from pathlib import Path
from threading import get_ident
from typing import Any, Literal

from pipeline.contract.findings import BadInput, SettingsError
from pipeline.contract.measured import MAX_SETTINGS_BYTES, parsed_toml, read_measured
from pipeline.contract.whole_files import replace_file

SettingKind = Literal["text", "integer", "number", "yes or no"]


LARGEST_NUMBER = 1e15
LONGEST_SHOWN = 80
"""Letters of a wrong value that a sentence repeats."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One key of `firm.toml`: kind, default, unit, meaning, inclusive range, heading in the file, and the words
    allowed where only some are."""

    name: str
    kind: SettingKind
    default: str | int | float
    unit: str
    meaning: str
    low: float | None
    high: float | None
    heading: str
    choices: tuple[str, ...] = ()

    @property
    def allowed(self) -> str:
        """Allowed values as short text, such as `1.3..2.7`."""
        if self.choices:
            return " or ".join(self.choices)
        if self.kind == "yes or no":
            return "true or false"
        if self.kind == "text":
            return f"{self.low:g}..{self.high:g} characters"
        return f"{self.low:g}..{self.high:g}"


def _key(
    default: str | int | float,
    unit: str,
    low: float,
    high: float,
    meaning: str,
    heading: str = "",
    choices: tuple[str, ...] = (),
) -> Any:
    facts = {"unit": unit, "low": low, "high": high, "meaning": meaning, "heading": heading, "choices": choices}
    return field(default=default, metadata=facts)


@dataclass(frozen=True, slots=True)
class Firm:
    """The firm's settings; every key has a default, so that an empty file is valid.

    Money is in `currency`, before tax. Shares are fractions: 0.2 is 20 %.
    """

    name: str = _key("Own firm", "", 1, 60, "Name as it stands on quotes", "The firm")
    currency: str = _key("GBP", "", 1, 8, "Currency of every amount of money in the book")
    currency_symbol: str = _key("", "", 0, 8, "Sign written with amounts; empty: the usual one of the currency")
    symbol_place: str = _key(
        "auto",
        "",
        1,
        10,
        "Where the sign stands; auto: as is usual for the currency",
        choices=("auto", "before", "after"),
    )
    decimal_sign: str = _key(
        "auto", "", 1, 10, "Before cents; auto: as is usual for the currency", choices=("auto", "point", "comma")
    )
    thousands_sign: str = _key(
        "auto",
        "",
        1,
        10,
        "Between thousands, not the decimal sign; auto: as is usual for the currency",
        choices=("auto", "comma", "point", "space", "apostrophe", "none"),
    )
    firm_id: str = _key(
        "",
        "",
        0,
        60,
        "Its id in the job log: in a book of several firms the form of Price a job begins with it; empty: none",
    )

    wet_dry_ratio: float = _key(
        2.0,
        "wet mass / dry mass",
        1.3,
        2.7,
        "Magnetite, for jobs with no catch weighed both wet and dry; 1.3..2.7 is a packed bed at porosity 0.6..0.9",
        "Weighing",
    )
    other_wet_dry_ratio: float = _key(
        1.25,
        "wet mass / dry mass",
        1.0,
        2.7,
        "Debris that no magnet holds: sand at porosity 0.4 carries a quarter of its dry mass in water",
    )

    day_minutes: int = _key(
        480,
        "min",
        60,
        1440,
        "Working day on site, more needs a second day; how past jobs of such a length ended corrects it",
        "Time",
    )
    setup_minutes: float = _key(
        75.0, "min", 0, 600, "Set-up and clear-away on site; used only while no past job logs its arrival and leaving"
    )
    travel_minutes: float = _key(60.0, "min", 0, 1440, "Paid travel for one day on site, there and back")
    preparation_minutes: float = _key(
        15.0, "min", 0, 1440, "Paid time for one job off site: loading, cleaning the machine, paperwork"
    )
    predose_visit_minutes: float = _key(
        30.0, "min", 0, 1440, "Paid time on site of a visit ahead to put the cleaning chemical in, for one person"
    )
    callback_minutes: float = _key(
        120.0, "min", 0, 1440, "Time on site of an unpaid return visit, besides set-up and travel"
    )

    crew_size: int = _key(1, "people", 1, 6, "People on site where the request does not say", "Labour")
    hourly_rate: float = _key(32.0, "currency/h", 0, 10_000, "Cost of one person for an hour, with on-costs")
    second_day_cost: float = _key(40.0, "currency", 0, 100_000, "Cost of a second day, besides its labour and travel")

    cleaner_dose_l_per_100_l: float = _key(
        1.0,
        "L per 100 L",
        0,
        20,
        "Label dose of cleaning chemical; the label on the container comes first",
        "Materials",
    )
    cleaner_cost_per_l: float = _key(16.0, "currency/L", 0, 10_000, "Cost of cleaning chemical")
    inhibitor_dose_l_per_100_l: float = _key(
        1.0, "L per 100 L", 0, 20, "Label dose of inhibitor; the label on the container comes first"
    )
    inhibitor_cost_per_l: float = _key(18.0, "currency/L", 0, 10_000, "Cost of inhibitor")
    chemical_pack_l: float = _key(
        1.0, "L", 0, 1000, "Chemical is used by whole containers of this size; 0: by the litre"
    )
    label_max_days: int = _key(
        0,
        "days",
        0,
        365,
        "Longest the label lets the cleaning chemical stay in; 0: not read yet, no pre-dose is offered",
    )
    filter_cost: float = _key(85.0, "currency", 0, 100_000, "Magnetic filter with fittings, if none is there")
    water_cost_per_m3: float = _key(4.0, "currency/m³", 0, 1000, "Water in and waste water out")
    water_fills: float = _key(8.0, "system volumes", 0, 200, "Water used for one job, in system volumes")
    disposal_cost_per_kg: float = _key(0.5, "currency/kg", 0, 1000, "Disposal of debris, per wet kilogram")
    disposal_cost_per_job: float = _key(12.0, "currency", 0, 100_000, "Disposal, fixed part of one job")

    overhead_share: float = _key(0.25, "share", 0, 5, "Overhead, as a share of direct cost", "Price")
    tax_share: float = _key(0.20, "share", 0, 1, "Tax added to the price")
    target_margin_share: float = _key(
        0.20, "share", 0, 0.95, "Profit wanted at the median cost, as a share of the price before tax"
    )
    accepted_chance_of_loss: float = _key(
        0.10, "share", 0.01, 0.5, "Chance of losing money on a job which the owner accepts"
    )
    price_step: float = _key(5.0, "currency", 0, 10_000, "Prices are rounded up to a multiple; 0: to 0.01")
    lowest_price: float = _key(0.0, "currency", 0, 100_000, "No job is quoted below this, before tax")
    count_callbacks: bool = _key(
        True, "", 0, 1, "Whether prices hold what unpaid return visits for debris cost on average (true or false)"
    )
    quote_valid_days: int = _key(30, "days", 1, 365, "How long a quote stands", "Papers")
    tagline: str = _key("", "", 0, 80, "A line under the firm's name on papers; empty: none")
    mark_file: str = _key("", "", 0, 200, "Picture (PNG or JPEG) in the book's folder, beside the name on papers")
    font_file: str = _key(
        "", "", 0, 200, "Font (TrueType) in the book's folder, for names in letters outside Western Europe"
    )
    paper: str = _key("A4", "", 1, 10, "Size of papers", choices=("A4", "Letter"))

    def valid_until(self, quoted_on: date) -> date:
        """The last day that a quote of that day stands."""
        return quoted_on + timedelta(days=self.quote_valid_days)


def _settings() -> tuple[Setting, ...]:
    kinds: dict[type, SettingKind] = {str: "text", int: "integer", float: "number", bool: "yes or no"}
    heading = ""
    found = []
    for item in fields(Firm):
        facts: Mapping[str, Any] = item.metadata
        default: Any = item.default
        heading = facts["heading"] or heading
        found.append(
            Setting(
                item.name,
                kinds[type(default)],
                default,
                facts["unit"],
                facts["meaning"],
                facts["low"],
                facts["high"],
                heading,
                facts["choices"],
            )
        )
    return tuple(found)


SETTINGS: tuple[Setting, ...] = _settings()
"""Every key of `firm.toml`, in the order of the file."""


def default_text() -> str:
    """The commented default `firm.toml`: every key with its meaning, unit, allowed values and default."""
    lines = [
        "# Settings of the firm. A key left out keeps its default. Money is before tax, in `currency`;",
        "# shares are fractions (0.2 is 20 %). The defaults are an invented firm's: put in your own.",
    ]
    heading = ""
    for setting in SETTINGS:
        if setting.heading != heading:
            heading = setting.heading
            lines += ["", f"# --- {heading} ---"]
        unit = f" [{setting.unit}]" if setting.unit else ""
        lines += ["", f"# {setting.meaning}{unit}; allowed: {setting.allowed}"]
        lines.append(f"{setting.name} = {json.dumps(setting.default, ensure_ascii=False)}")
    return "\n".join(lines) + "\n"


def reference_table() -> str:
    """Every key as a Markdown table, for the documents."""
    rows = ["| key | default | allowed | unit | meaning |", "|---|---|---|---|---|"]
    for item in SETTINGS:
        shown = _shown(item.default) if item.kind == "yes or no" else item.default
        rows.append(f"| `{item.name}` | {shown} | {item.allowed} | {item.unit} | {item.meaning} |")
    return "\n".join(rows)


def write_default_firm(path: Path) -> None:
    """Write the commented default file, whole or not at all. SettingsError if a file stands there already."""
    if path.exists():
        raise SettingsError(f"{path} is there already; it was left as it is.")
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.{os.getpid()}-{get_ident()}.part")
    try:
        part.write_text(default_text(), encoding="utf-8")
    except OSError:
        part.unlink(missing_ok=True)
        raise
    replace_file(part, path)


def read_firm(path: Path) -> Firm:
    """Settings from `path`; keys left out keep their defaults.

    SettingsError names the file and every fault at once: unknown key, wrong type, out of range.
    """
    given = _parsed(path)
    known = {setting.name: setting for setting in SETTINGS}
    faults: list[str] = []
    values: dict[str, Any] = {}
    for name, value in given.items():
        setting = known.get(name)
        fault = _unknown(name, known) if setting is None else _fault(setting, value)
        if fault:
            faults.append(fault)
        elif setting is not None:
            values[name] = float(value) if setting.kind == "number" else value
    faults += _together(values)
    if faults:
        raise SettingsError(f"{path} cannot be used: {'; '.join(faults)}.")
    return Firm(**values)


def _parsed(path: Path) -> dict[str, Any]:
    try:
        if not path.exists():
            raise SettingsError(f"{path} is not there; write the default settings file there first.")
        return parsed_toml(read_measured(path, MAX_SETTINGS_BYTES), str(path))
    except BadInput as error:
        raise SettingsError(str(error)) from error
    except OSError as error:
        raise SettingsError(f"{path} cannot be read: {error.strerror}.") from error


def _unknown(name: str, known: Mapping[str, Setting]) -> str:
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f"did you mean `{near[0]}`?" if near else f"the keys are {', '.join(known)}"
    return f"`{name}` is no setting ({hint})"


def _fault(setting: Setting, value: object) -> str:
    """What is wrong with a value, or an empty text."""
    if setting.kind == "yes or no":
        return "" if isinstance(value, bool) else f"`{setting.name}` must be true or false, not {_shown(value)}"
    wanted = {"text": (str,), "integer": (int,), "number": (int, float)}[setting.kind]
    if isinstance(value, bool) or not isinstance(value, wanted):
        kind = {"text": "a text in quotes", "integer": "a whole number", "number": "a number"}[setting.kind]
        return f"`{setting.name}` must be {kind}, not {_shown(value)}"
    if setting.choices and value not in setting.choices:
        return f"`{setting.name}` = {_shown(value)} must be {setting.allowed}"
    size = len(value) if isinstance(value, str) else value
    if not isinstance(size, int | float) or not _within(size, setting):
        return f"`{setting.name}` = {_shown(value)} is outside {setting.allowed}"
    return ""


def _together(values: Mapping[str, Any]) -> list[str]:
    """What is wrong with values that are right one by one."""
    signs = [values.get(name, "auto") for name in ("decimal_sign", "thousands_sign")]
    if signs[0] == signs[1] != "auto":
        return [f"`decimal_sign` and `thousands_sign` are both {_shown(signs[0])}: 1.234 could then be read two ways"]
    return []


def _within(size: float, setting: Setting) -> bool:
    low = -math.inf if setting.low is None else setting.low
    high = math.inf if setting.high is None else setting.high
    return abs(size) <= LARGEST_NUMBER and low <= size <= high  # also without an end, or no number


def _shown(value: object) -> str:
    shown = json.dumps(value, ensure_ascii=False, default=str)
    return shown if len(shown) <= LONGEST_SHOWN else f"{shown[:LONGEST_SHOWN]}…"
