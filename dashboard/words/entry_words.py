"""Entries made on site as a person says them: `420 g wet, magnet, emitter 3`. The same on every screen."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol

from dashboard.words import wording


class Said(Protocol):
    """What of an entry is needed to say it: its kind and what it holds."""

    @property
    def kind(self) -> str:
        """Kind of the entry."""

    @property
    def of(self) -> Mapping[str, Any]:
        """What was entered, by the columns of the job log."""


WAYS = {"heat_source": "heat {}", "agitation": "shaken {}", "isolation": "flow {}", "connection": "joined at {}"}
SHORT = {
    "flow_l_min": "flow",
    "flow_temp_c": "flow",
    "return_temp_c": "return",
    "pressure_bar": "pressure",
    "turbidity_ntu": "turbidity",
    "conductivity_us_cm": "conductivity",
    "ph": "pH",
}
UNITS = {
    "flow_l_min": "L/min",
    "flow_temp_c": "°C",
    "return_temp_c": "°C",
    "pressure_bar": "bar",
    "turbidity_ntu": "NTU",
    "conductivity_us_cm": "µS/cm",
    "ph": "",
}


def in_words(event: Said, called: str = "emitter") -> str:
    """An entry as a person says it: `420 g wet, magnet, emitter 3`; a phone calls it a radiator."""
    of = event.of
    match event.kind:
        case "catch":
            grams = f"{of['mass_g']:g} g {of.get('weighed', 'wet')}"
            return f"{grams}, {wording.plain(of['trap'])}, {place(of.get('focus_emitter_no'), called=called)}"
        case "reading":
            return wording.listed([f"{SHORT[name]} {of[name]:g} {UNITS[name]}".strip() for name in SHORT if name in of])
        case "focus":
            return f"flow on {place(of.get('focus_emitter_no'), called=called)}"
        case "change":
            said = [words.format(wording.plain(of[name])) for name, words in WAYS.items() if of.get(name)]
            half = of.get("half_drained_emitters")
            said += [] if half is None else [f"{wording.count(int(half), called)} half-drained"]
            said += ["flow reversed"] if of.get("flow_reversed") else []
            return ", ".join([*said, *([of["note"]] if of.get("note") else [])])
        case "emitters":
            rows = of.get("emitters") or []
            named = sum(1 for row in rows if row.get("room"))
            return f"{wording.count(len(rows), called)}, {named} of them with a room"
        case "start_moved":
            return f"the flow started at {datetime.fromisoformat(str(of['flush_started_at'])):%H:%M}"
        case "photograph":
            return f"{wording.plain(of['shows'])}, {place(of.get('emitter_no'), called=called)}"
        case "files":
            return f"{of['name']}, {wording.count(int(of['readings']), 'reading')}"
    return {"start": "job begun", "undo": "taken back", "finish": "job finished", "reopen": "job opened again"}.get(
        event.kind, event.kind
    )


def place(emitter_no: int | None, room: str = "", called: str = "emitter") -> str:
    """Where the flow is: the room where it is known."""
    if emitter_no is None:
        return "whole system"
    return f"{room} ({emitter_no})" if room else f"{called} {emitter_no}"
