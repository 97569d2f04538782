"""Words for the callbacks that a price counts: the rate, whose it is, and what the plan moves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.words import wording

if TYPE_CHECKING:
    from models.quote.base.callback_cost import CallbackCost, PlanChange


def callbacks(counted: CallbackCost, currency: str) -> str:
    """What is counted for return visits and where it comes from, or why nothing is."""
    if counted.why_nought or counted.rate is None:
        return f"Expected callbacks are nought: {counted.why_nought}."
    rate = counted.rate
    whose = "this firm's own jobs" if rate.firm_id is not None else "all jobs of the book"
    not_own = f" ({counted.why_not_own})" if counted.why_not_own else ""
    said = (
        f"Expected callbacks: {wording.share(rate.risk)} of {wording.count(rate.jobs, 'followed job')} "
        f"({wording.share(rate.low)} to {wording.share(rate.high)}) were called back for debris within a year; a visit "
        f"costs {wording.money(counted.each, currency)} before overhead. It is the rate of {whose}{not_own}, not of "
        "this house."
    )
    return f"{said} {plan(counted)}".rstrip()


def plan(counted: CallbackCost) -> str:
    """What the way of flushing, or a filter, moves the rate by, or why nothing; empty where there is nothing to say."""
    change = counted.change
    if change is None:
        return f"The way of flushing does not move it. {counted.why_plain}" if counted.why_plain else ""
    whys = []
    if change.kilograms:
        more = "more" if change.kilograms > 0 else "less"
        whys.append(
            f"its way of flushing is expected to take out {wording.kilograms(abs(change.kilograms))} {more} "
            "than the book's usual ways"
        )
    if change.steps:
        whys.append(f"the practice audit has a verdict on {wording.listed(practices(change))}")
    if not whys:
        return "The plan is flushed in the book's usual ways, which moves nothing."
    chance = wording.per_100(counted.chance)
    return f"For this plan {chance} in 100 are counted, {compared(change)}: {' and '.join(whys)}."


def practices(change: PlanChange) -> list[str]:
    """The practices that the audit speaks of, in its words."""
    from models.practice.cohort.contrasts import BY_NAME

    labels = [BY_NAME[contrast].label for contrast, _ in change.steps]
    return [label[0].lower() + label[1:] for label in labels]


def compared(change: PlanChange) -> str:
    """A change of the chance with its interval: `1.6 fewer (0.8 to 2.4 fewer)`.

    >>> from models.quote.base.callback_cost import PlanChange
    >>> compared(PlanChange(-0.016, -0.024, -0.008)), compared(PlanChange(0.01, -0.002, 0.022))
    ('1.6 fewer (0.8 to 2.4 fewer)', '1.0 more (0.2 fewer to 2.2 more)')
    """
    if wording.per_100(abs(change.change)) == "0.0":
        return "as many"
    ends = sorted((change.low, change.high), key=abs)
    if ends[0] * ends[1] >= 0:
        span = f"{wording.per_100(abs(ends[0]))} to {_more(ends[1])}"
    else:
        span = f"{_more(change.low)} to {_more(change.high)}"
    return f"{_more(change.change)} ({span})"


def _more(change: float) -> str:
    return f"{wording.per_100(abs(change))} {'more' if change > 0 else 'fewer'}"
