"""The practice audit in words, the same on the page and on paper. Callbacks avoided per 100 jobs throughout."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dashboard.words import wording
from models.practice.results.audit_result import Audit, PracticeEffect, Worth
from models.practice.results.engineer_results import EngineerPoint

MOST_TOLD = 2
"""Practices that one sentence can name with their figures."""
MOVES = ("cuts callbacks", "raises callbacks")
ORDER = (*MOVES, "no difference worth knowing", "cannot be told yet")
"""Verdicts as they are told, the surest first."""
EMPTY = "Hand in `callbacks` and `followed_until` with the jobs: that is what is learnt from."


def signed(value: float, decimals: int = 1) -> str:
    """A number with a true minus, never minus nought.

    >>> signed(3.21), signed(-2.84), signed(-0.04)
    ('3.2', '−2.8', '0.0')
    """
    shown = f"{value:.{decimals}f}"
    return shown.lstrip("-") if float(shown) == 0 else shown.replace("-", "−")


def in_order(effects: Sequence[PracticeEffect]) -> list[PracticeEffect]:
    """What is told first, the surest at the top; then the nearest to an answer; then what was refused."""
    return sorted(effects, key=_rank)


def _rank(effect: PracticeEffect) -> tuple[int, bool, float]:
    is_told = effect.verdict != "cannot be told yet"
    within = effect.p_value if is_told else effect.jobs_needed
    return ORDER.index(effect.verdict), effect.difference is None, float("inf") if within is None else float(within)


def avoided(difference: float, low: float, high: float) -> tuple[float, float, float]:
    """Callbacks avoided per 100 jobs from a difference in risk and the ends of its interval."""
    return -100 * difference, -100 * high, -100 * low


def avoided_by(effect: PracticeEffect) -> tuple[float, float, float]:
    """Callbacks avoided per 100 jobs: estimate and the ends of its interval. The effect must not be refused."""
    assert effect.difference is not None
    assert effect.low is not None
    assert effect.high is not None
    return avoided(effect.difference, effect.low, effect.high)


def span(middle: float, low: float, high: float) -> str:
    """`3.2 (−2.8 to 9.3)`."""
    return f"{signed(middle)} ({signed(low)} to {signed(high)})"


def answer(audit: Audit) -> str:
    """What can be said, in one sentence that a practitioner could repeat."""
    told = [each for each in in_order(audit.practices) if each.verdict in MOVES]
    same = [_inside(each.label) for each in audit.practices if each.verdict == "no difference worth knowing"]
    level = f"no difference worth knowing: {wording.listed(same)}" if same else ""
    if told:
        parts = [*(_of_one_verdict(told, verdict) for verdict in MOVES), level]
        return "; ".join(part for part in parts if part) + "."
    near = min((each for each in audit.practices if each.jobs_needed), key=lambda e: e.jobs_needed or 0, default=None)
    more = f"; the nearest, {_inside(near.label)}, wants about {near.jobs_needed:,} more jobs" if near else ""
    return f"No practice can be told yet to cut or raise callbacks{more}{'; ' if level else ''}{level}."


def _of_one_verdict(told: Sequence[PracticeEffect], verdict: str) -> str:
    same = [each for each in told if each.verdict == verdict]
    if not same:
        return ""
    word = "fewer" if verdict == "cuts callbacks" else "more"
    if len(same) <= MOST_TOLD:
        parts = [f"{each.label} {verdict}: {_change(each)} {word} per 100 jobs" for each in same]
        return "; ".join([parts[0], *(_inside(part) for part in parts[1:])])
    names = [each.label if number == 0 else _inside(each.label) for number, each in enumerate(same)]
    surest = same[0]
    verb = verdict.replace("s callbacks", " callbacks")
    return f"{wording.listed(names)} {verb}; surest is {_inside(surest.label)}, {_change(surest)} {word} per 100 jobs"


def _change(effect: PracticeEffect) -> str:
    """Size of the change, its sign told by the words around it; the ends in order."""
    middle, low, high = avoided_by(effect)
    return span(middle, low, high) if middle >= 0 else span(-middle, -high, -low)


def _inside(label: str) -> str:
    return label[:1].lower() + label[1:]


def about(audit: Audit) -> str:
    """How many jobs, which visits, how many callbacks."""
    return (
        f"{wording.count(audit.jobs, 'job')}, {wording.window(audit.first_visit, audit.last_visit)}, "
        f"{wording.count(audit.callbacks, 'debris callback')} within {audit.horizon_days} days"
    )


def effect_sentence(effect: PracticeEffect) -> str:
    """One practice: adjusted, before adjusting, and why it is no verdict where the interval alone would seem one."""
    middle, low, high = avoided_by(effect)
    adjusted = f"Adjusted: {span(middle, low, high)} callbacks avoided per 100 jobs"
    raw = effect.raw
    bare = "" if raw is None else (f"; in the bare records {span(*avoided(raw.difference, raw.low, raw.high))}")
    is_clear = low > 0 or high < 0
    chance = (
        ""
        if effect.verdict != "cannot be told yet" or not is_clear
        else (" Its interval alone leaves zero out, but of so many practices looked at, one does that by chance.")
    )
    return f"{adjusted}{bare}.{chance}{_ruled_out(effect)}{follow_up(effect)}"


def follow_up(effect: PracticeEffect) -> str:
    """Which callbacks stand behind the figure, and what the other way of counting gives; empty where not known."""
    year, every = effect.first_year, effect.all_follow_up
    if year is None or every is None:
        return ""
    wide = every.by[0]
    alone = span(*avoided(year.difference, year.low, year.high))
    later = wording.count(every.later_callbacks, "callback")
    if every.is_told:
        return (
            f" It counts {later} after the first year too, taking it that the practice works the same early and late; "
            f"the first year alone gives {alone}."
        )
    whole = span(*avoided(wide.difference, wide.low, wide.high))
    return f" It counts the first year alone; with {later} after it, {whole}."


def _ruled_out(effect: PracticeEffect) -> str:
    if effect.verdict != "no difference worth knowing" or effect.target_difference is None:
        return ""
    least = 100 * abs(effect.target_difference)
    return f" A change of {least:.1f} per 100 jobs, a quarter of the risk, is ruled out either way."


def hidden(effect: PracticeEffect) -> str:
    """The E-value in words; empty where there is none."""
    if effect.e_value is None:
        return ""
    if effect.e_value_limit is None or effect.e_value_limit <= 1:
        return "The interval includes no effect, so nothing hidden is needed to explain it away."
    return (
        f"To explain the estimate away, something not on record would have to make both the practice and callbacks "
        f"{effect.e_value:.1f} times as likely; {effect.e_value_limit:.1f} times to bring the interval to no effect "
        "(E-value)."
    )


def power(effect: PracticeEffect) -> str:
    """What the jobs at hand would have shown, and so many more; empty where nothing could be worked out."""
    if effect.detectable_difference is None:
        return ""
    seen = 100 * effect.detectable_difference
    told = f"With these jobs a change of {seen:.1f} per 100 would be seen in 8 audits of 10"
    if effect.jobs_needed is None or effect.target_difference is None:
        return f"{told}."
    if abs(effect.target_difference) >= effect.detectable_difference:
        return f"{told}; if the estimate stays, about {effect.jobs_needed:,} more jobs would settle it."
    return f"{told}; with about {effect.jobs_needed:,} more jobs, one of {100 * abs(effect.target_difference):.1f}."


def left_out(counts: Mapping[str, int]) -> str:
    """`78: no comparable job done the other way`, joined; empty where none is left out."""
    return "; ".join(f"{number:,}: {reason}" for reason, number in counts.items() if number)


def who(effect: PracticeEffect) -> str:
    """The jobs behind one practice, and those that are not."""
    out = left_out(effect.left_out)
    seen = (
        f"{wording.count(effect.jobs_with, 'job')} with ({wording.count(effect.callbacks_with, 'callback')}), "
        f"{wording.count(effect.jobs_without, 'job')} without ({wording.count(effect.callbacks_without, 'callback')})."
    )
    size = effect.effective_sample_size
    like = f" Weighted to be alike they tell as much as {size:,.0f} jobs." if size is not None else ""
    return f"{seen}{like}" + (f" Left out, {out}." if out else "")


def worth_parts(effect: PracticeEffect) -> tuple[tuple[str, str, str], ...]:
    """What it is worth, as (name, figure, range or reason); empty where nothing could be worked out."""
    worth = effect.worth
    if worth is None:
        return ()
    price = worth.cost_per_avoided
    visit = wording.money(worth.cost_per_callback, worth.currency)
    range_of = f"{signed(worth.avoided_low)} to {signed(worth.avoided_high)}"
    one = wording.money(price, worth.currency)
    against = "none is shown to be avoided" if price is None else f"a return visit costs about {visit}"
    net = [wording.money(amount, worth.currency) for amount in (worth.net_per_job, worth.net_low, worth.net_high)]
    return (
        ("Callbacks to count on avoiding, per 100 jobs", signed(worth.avoided_per_100), range_of),
        ("Cost per callback avoided", one, against),
        ("Net per job", net[0], f"{net[1]} to {net[2]}"),
    )


def worth_basis(worth: Worth) -> str:
    """What the money holds, which effect it counts, and what it leaves out."""
    return (
        "Counted as in your prices: the effect moved towards zero, because of many practices compared the clearest owe "
        "something to luck. "
        f"A job with it costs {wording.money(worth.cost_per_job, worth.currency)} more ({worth.basis}), a return visit "
        f"about {wording.money(worth.cost_per_callback, worth.currency)}, by firm.toml. What a callback costs in good "
        "name, and what a practice does besides, is not counted."
    )


def engineer_sentence(point: EngineerPoint, horizon_days: int) -> str:
    """One engineer's own figures against what their jobs lead to expect; nothing below the number shown."""
    name = f"{point.engineer_id}: {wording.count(point.jobs, 'job')}"
    if point.observed is None or point.expected is None or point.shrunk_ratio is None:
        return f"{name}, too few to say anything fair. Nothing more is shown."
    places = {
        "within limits": "what chance alone brings to engineers alike",
        "fewer than expected": "fewer than chance would bring: worth asking what is done well",
        "more than expected": "more than chance would bring: look at how callbacks and jobs were logged, then ask why",
    }
    ends = f"{point.shrunk_low:.2f} to {point.shrunk_high:.2f}" if point.shrunk_low and point.shrunk_high else ""
    return (
        f"{name}, {wording.count(point.observed, 'debris callback')} within {horizon_days} days where "
        f"{point.expected:.1f} were to be expected of these jobs: {places[point.place]}. Allowing for how little is "
        f"known, {point.shrunk_ratio:.2f} times the expected ({ends})."
    )
