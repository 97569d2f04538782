"""What is entered on site: the kinds of entry, each checked by the contract before it goes into the journal.

An entry carries its own id (what is sent twice is stored once), the device it came from and that device's
clock. The order of entries and their times come from the computer that keeps the book, never from a phone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from pipeline.contract import JOB_LOG
from pipeline.contract.columns import Column
from pipeline.contract.controls import REASON, has_controls
from pipeline.contract.findings import BadInput
from pipeline.contract.photographs import SHOWN
from pipeline.privacy.private_text import private_fields
from pipeline.store.book import Book
from pipeline.store.journal import Entry, append

Kind = Literal[
    "start",
    "start_moved",
    "emitters",
    "catch",
    "reading",
    "focus",
    "change",
    "undo",
    "files",
    "photograph",
    "finish",
    "reopen",
    "received",
]
MEASURED = ("flow_l_min", "flow_temp_c", "return_temp_c", "turbidity_ntu", "conductivity_us_cm", "ph", "pressure_bar")
CHANGES = ("heat_source", "agitation", "connection", "isolation", "half_drained_emitters", "flow_reversed", "note")
FINISH = (
    "engineer_id",
    "arrived_at",
    "left_at",
    "half_drained_emitters",
    "flow_reversed",
    "boiler_strainer",
    "strainer_checked",
    "mains_conductivity_us_cm",
    "final_ph",
    "final_conductivity_us_cm",
    "dosed_conductivity_us_cm",
    "final_turbidity_ntu",
    "final_iron_mg_l",
    "filter_fitted",
    "inhibitor_dosed",
    "cleaner_put_in_l",
    "inhibitor_put_in_l",
)
LONGEST_NOTE = 500
LONGEST_NAME = 60
LONGEST_AGO_MIN = 24 * 60.0


@dataclass(frozen=True, slots=True)
class Sender:
    """Who sends an entry: the entry's own id, the device's id, and the device's clock (None: it gave none)."""

    entry_id: str
    device: str = ""
    device_at: datetime | None = None


def record(
    book: Book,
    job: str,
    kind: Kind,
    of: Mapping[str, Any],
    sender: Sender,
    *,
    ago_min: float = 0.0,
    now: datetime | None = None,
) -> Entry:
    """Check one entry and save it: on disk before this returns. The entry of the same id is returned unwritten.

    `ago_min` says how long ago it happened. BadInput names every fault; BookError when it could not be saved.
    """
    at = (now or datetime.now()).replace(microsecond=0)
    facts = {name: value for name, value in of.items() if value is not None and value != ""}
    faults = _faults(kind, facts)
    if kind == "start" and len(job) > LONGEST_NAME:
        faults.append(f"the name of the job has {len(job)} letters, it may have {LONGEST_NAME}")
    if kind == "start" and has_controls(job):
        faults.append(f"the name of the job {REASON}")
    of_people = private_fields({"name of the job": job if kind == "start" else "", **facts})
    faults += [f"the book keeps no people, and this looks like one ({', '.join(of_people)})"] if of_people else []
    if not 0.0 <= ago_min <= LONGEST_AGO_MIN:
        faults.append(f"it happened {ago_min:g} minutes ago, which must lie in 0..{LONGEST_AGO_MIN:g}")
    if faults:
        raise BadInput(f"Not saved: {'; '.join(faults)}.")
    values = {
        "id": sender.entry_id,
        "kind": kind,
        "device": sender.device,
        "device_at": _iso(sender.device_at),
        "at": _iso(at - timedelta(minutes=ago_min)),
        "of": _plain(facts),
    }
    return append(book, job, values, at, is_first=kind == "start")


def _faults(kind: Kind, facts: Mapping[str, Any]) -> list[str]:
    match kind:
        case "start":
            return _start_faults(facts)
        case "emitters":
            return _emitter_faults(facts.get("emitters") or [])
        case "start_moved":
            return [] if isinstance(facts.get("flush_started_at"), datetime) else ["the start of the flow is missing"]
        case "catch":
            needed = [f"a catch needs its {words}" for name, words in _CATCH_NEEDS.items() if name not in facts]
            return needed + _out_of_range("catches", facts, _CATCH)
        case "reading":
            faults = _out_of_range("readings", facts, ("focus_emitter_no", *MEASURED))
            has_any = any(name in facts for name in MEASURED)
            return faults if has_any else [*faults, "a reading needs at least one figure"]
        case "focus":
            return _out_of_range("readings", facts, ("focus_emitter_no",))
        case "change":
            known = {name: value for name, value in facts.items() if name != "note"}
            return _out_of_range("jobs", known, CHANGES) if facts else ["there is nothing in it"]
        case "photograph":
            faults = _out_of_range("readings", {"focus_emitter_no": facts.get("emitter_no")}, ("focus_emitter_no",))
            return faults if facts.get("shows") in SHOWN else [*faults, "say what the photograph shows"]
        case "finish":
            times = [] if isinstance(facts.get("flush_ended_at"), datetime) else ["the end of the flow is missing"]
            return times + _out_of_range("jobs", _without(facts, ("flush_started_at", "flush_ended_at")), FINISH)
    return []


_CATCH = ("focus_emitter_no", "trap", "mass_g", "weighed", "sticks_to_magnet", "note")
_CATCH_NEEDS = {"mass_g": "grams", "trap": "trap"}


def _start_faults(facts: Mapping[str, Any]) -> list[str]:
    job, emitters = facts.get("job") or {}, facts.get("emitters") or []
    faults = _out_of_range("jobs", job, JOB_LOG["jobs"].names)
    faults += [] if job.get("system_type") else ["say whether the system is open-vented or sealed"]
    began, arrived = facts.get("flush_started_at"), job.get("arrived_at")
    faults += [] if isinstance(began, datetime) else ["the start of the flow is missing"]
    if isinstance(began, datetime) and isinstance(arrived, datetime) and arrived > began:
        faults.append(f"the arrival at {arrived:%H:%M} lies after the start of the flow at {began:%H:%M}")
    return faults + _emitter_faults(emitters)


def _emitter_faults(emitters: Sequence[Mapping[str, Any]]) -> list[str]:
    """What is wrong with a list of emitters; each needs a number of its own."""
    faults = []
    for place, row in enumerate(emitters, start=1):
        faults += [f"emitter {place}: {fault}" for fault in _out_of_range("emitters", row, JOB_LOG["emitters"].names)]
        faults += [] if "emitter_no" in row else [f"emitter {place} has no number"]
    counted = Counter(row["emitter_no"] for row in emitters if "emitter_no" in row)
    return faults + [f"emitter {number} stands there {times} times" for number, times in counted.items() if times > 1]


def _out_of_range(table: str, facts: Mapping[str, Any], allowed: Iterable[str]) -> list[str]:
    names = tuple(allowed)
    faults = [f"{name} is no part of it" for name in facts if name not in names]
    return faults + [
        fault
        for name, value in facts.items()
        if name in names and value is not None
        for fault in _column_faults(JOB_LOG[table].column(name), value)
    ]


def _column_faults(column: Column, value: Any) -> list[str]:
    words = column.meaning[0].lower() + column.meaning[1:].partition(";")[0]
    if column.choices:
        return [] if value in column.choices else [f"{words}: {value!r} is none of {', '.join(column.choices)}"]
    if column.kind == "text":
        return [] if len(str(value)) <= LONGEST_NOTE else [f"{words} is longer than {LONGEST_NOTE} letters"]
    if column.kind not in ("number", "integer"):
        return []
    if not isinstance(value, int | float) or isinstance(value, bool) or value != value:
        return [f"{words}: {value!r} is no number"]
    low, high = column.low, column.high
    if (low is not None and value < low) or (high is not None and value > high):
        unit = f" {column.unit}" if column.unit not in ("", "count", "pH", "ratio", "year") else ""
        return [f"{words} is {value:g}{unit}, it must lie in {column.allowed.partition(';')[0]}"]
    return []


def _without(facts: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
    return {name: value for name, value in facts.items() if name not in names}


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.replace(tzinfo=None).isoformat(timespec="seconds")


def _plain(value: Any) -> Any:
    """Values as JSON takes them: times and days as ISO text, all the way down."""
    if isinstance(value, Mapping):
        return {str(name): _plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value.isoformat() if hasattr(value, "isoformat") else value
