"""The sentences of a watch: what an engineer reads on a phone. Plain words, kilograms dry, clock times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from models.catch.records.watch_result import EmitterState, QuarterHour
from models.quantiles import Quantiles

LITTLE_KG = 0.05
"""Up to here a person says that little is left; more than this still due is worth an engineer's minutes."""


def kilograms(kg: float) -> str:
    """Two significant places where it matters: `0.04`, `0.62`, `3.1`, `12`.

    >>> [kilograms(kg) for kg in (0.0042, 0.62, 3.14, 12.4)]
    ['0.00', '0.62', '3.1', '12']
    """
    return f"{kg:.2f}" if kg < 0.995 else f"{kg:.1f}" if kg < 9.95 else f"{kg:.0f}"


def amount(kg: Quantiles) -> str:
    """Middle and the range that should hold four times in five: `0.62 kg more (0.20 to 1.4)`."""
    return f"{kilograms(kg.p50)} kg more ({kilograms(kg.p10)} to {kilograms(kg.p90)})"


def emitter_sentence(
    number: int, state: EmitterState, caught_kg: float, to_come: Quantiles | None, has_flow: bool
) -> str:
    """One short sentence about one emitter, in the trade's words."""
    name, caught = f"Emitter {number}", f"{kilograms(caught_kg)} kg"
    if state == "not_started":
        guess = "." if to_come is None else f"; judging by the others, expect about {kilograms(to_come.p50)} kg."
        return f"{name} has not had the flow yet{guess}"
    if state == "too_early" or to_come is None:
        return f"{name}: {caught} so far, too early to say whether it is levelling off."
    if state == "levelled_off":
        return f"{name} has levelled off at {caught}" + ("; move the flow on." if has_flow else ".")
    if to_come.p50 <= LITTLE_KG:
        return f"{name}: {caught} so far, little left (about {kilograms(to_come.p50)} kg)."
    if has_flow:
        return f"{name} is still giving: {caught} so far, about {kilograms(to_come.p50)} kg to come."
    return f"{name} was left at {caught} while still giving; about {kilograms(to_come.p50)} kg may be behind."


def running_answer(to_come: Quantiles, level_at: dict[str, datetime], at: datetime, is_level: bool) -> str:
    """The one sentence that stands on top while the flush goes on."""
    if is_level:
        return f"It has levelled off: going on would bring about {amount(to_come)}, so move on or stop."
    early, middle, late = (level_at[name] for name in ("p10", "p50", "p90"))
    if middle.date() != at.date():
        return f"Expect {amount(to_come)} if the flow goes on; it does not level off today."
    span = f"not before {early:%H:%M}" if late.date() != at.date() else f"{early:%H:%M} to {late:%H:%M}"
    return f"Expect {amount(to_come)} if the flow goes on; it levels off around {middle:%H:%M} ({span})."


def where_next(ranked: Sequence[QuarterHour], in_focus: int | None) -> str:
    """Where the next quarter hour brings most, one emitter at a time; empty where there is nothing to choose."""
    if len(ranked) < 2:
        return ""
    first, *others = ranked
    much = f"about {kilograms(first.kg.p50)} kg ({kilograms(first.kg.p10)} to {kilograms(first.kg.p90)})"
    start = (
        f"Leave the flow on emitter {first.emitter_no}: it brings most in the next quarter hour, {much}."
        if first.emitter_no == in_focus
        else f"Emitter {first.emitter_no} brings most in the next quarter hour, {much}."
    )
    then = " and ".join(f"emitter {each.emitter_no} ({kilograms(each.kg.p50)} kg)" for each in others[:2])
    return f"{start} Then {then}."


def finished_answer(caught_kg: float, to_come: Quantiles | None, at: datetime) -> str:
    """The sentence for a flush that has ended."""
    start = f"The flush ended at {at:%H:%M} with {kilograms(caught_kg)} kg caught"
    return f"{start}." if to_come is None else f"{start}; going on might have brought {amount(to_come)}."


def refused_answer(weighings: int, caught_kg: float, needed: int) -> str:
    """What stands where the number would stand."""
    if weighings == 0:
        return "Nothing has been weighed yet; open the magnet, weigh the catch and log it, then ask again."
    if caught_kg <= 0:
        return (
            f"Nothing has been caught in {_counted(weighings)}, so nothing can be expected from them; "
            "check that the magnet is in the flow and that the flow goes through the emitters."
        )
    return f"{kilograms(caught_kg)} kg in {_counted(weighings)} is too few to say how much is left; it takes {needed}."


def _counted(weighings: int) -> str:
    return "one weighing" if weighings == 1 else f"{weighings} weighings"
