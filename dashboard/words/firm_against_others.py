"""One firm against the unnamed others of its pool, in words and rows: the same on the page, on paper and in a file."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import pandas as pd

from dashboard.words import audit_words, wording
from dashboard.words.audit_words import avoided
from dashboard.words.number_rows import SHARE, NumberRow
from models.practice.effects.doubly_robust import FEWEST_CALLBACKS, FEWEST_JOBS
from models.practice.results.pool_results import AgainstOthers, OwnFirm

HEADS = ("Practice", "Your firm", "The others", "One more firm", "How it compares")
OWN_MISSING = (
    f"Where your firm has no figure: fewer than {FEWEST_JOBS} comparable jobs done the one way or the other, or fewer "
    f"than {FEWEST_CALLBACKS} debris callbacks among them."
)


def answer(view: OwnFirm) -> str:
    """How the firm's own effects lie among the others', in one sentence."""
    told = [each for each in view.practices if each.apart is not None]
    if not told:
        return "Nothing can be held against the others yet."
    apart = [each for each in told if each.place != "like the others"]
    if not apart:
        held = wording.count(len(told), "practice")
        return f"Of {held} held against the others, each does here what it does for them, as far as can be told."
    said = [f"{each.label[:1].lower()}{each.label[1:]} {each.place.replace(' here', '')}" for each in apart]
    return f"Against the others, {wording.listed(said)} here; the rest does what it does for them."


def note(view: OwnFirm) -> str:
    """How the others are protected, and what the rows hold."""
    return (
        f"The others are pooled without your firm and never named. Nothing of them is shown where fewer than "
        f"{view.fewest_others} have figures of their own, or one would make up most of the mean; and always over all "
        "years and systems, since two answers over slightly different jobs would give the difference away."
    )


def row(each: AgainstOthers) -> tuple[str, str, str, str, str]:
    """Practice; callbacks avoided per 100 jobs in this firm, in the others, in one more firm; how it compares."""
    own = _span(each.own.difference, each.own.low, each.own.high)
    others = _span(each.difference, each.low, each.high)
    further = "–"
    if each.difference is not None and each.prediction_low is not None and each.prediction_high is not None:
        _, low, high = avoided(each.difference, each.prediction_low, each.prediction_high)
        further = f"{audit_words.signed(low)} to {audit_words.signed(high)}"
    return each.label, own, others, further, each.place


def _span(middle: float | None, low: float | None, high: float | None) -> str:
    if middle is None or low is None or high is None:
        return "–"
    return audit_words.span(*avoided(middle, low, high))


def missing(view: OwnFirm) -> tuple[str, ...]:
    """Why figures are missing, each reason once."""
    reasons = [each.refused for each in view.practices if each.refused]
    if any(each.own.difference is None for each in view.practices):
        reasons.append(OWN_MISSING)
    return tuple(dict.fromkeys(reasons))


def table(view: OwnFirm) -> pd.DataFrame:
    """Every practice as a row, differences as callbacks avoided per 100 jobs; names no firm."""

    def per_100(value: float | None) -> float | None:
        return None if value is None else round(-100 * value, 1) + 0.0

    return pd.DataFrame(
        [
            {
                "Practice": e.label,
                "Your firm": per_100(e.own.difference),
                "from": per_100(e.own.high),
                "to": per_100(e.own.low),
                "The others": per_100(e.difference),
                "others from": per_100(e.high),
                "others to": per_100(e.low),
                "one more firm from": per_100(e.prediction_high),
                "one more firm to": per_100(e.prediction_low),
                "Other firms": e.other_firms,
                "Their jobs": e.other_jobs,
                "Variation beyond chance": wording.share(e.i_squared),
                "How it compares": e.place,
                "Why not told": e.refused or e.own.refused,
            }
            for e in view.practices
        ]
    )


def numbers(view: OwnFirm) -> Iterator[NumberRow]:
    """The same as rows of the file of all numbers."""
    for each in view.practices:
        row, own = partial(NumberRow, "own firm", each.contrast), each.own
        told = own.refused or "adjusted difference among the firm's own jobs, all years and systems"
        yield row("difference", own.difference, SHARE, told, own.low, own.high)
        told = each.refused or f"random-effects mean over {each.other_firms} other firms, without this one"
        yield row("others", each.difference, SHARE, told, each.low, each.high)
        told = each.refused or "where a further firm would lie, 95 %"
        yield row("one more firm", each.difference, SHARE, told, each.prediction_low, each.prediction_high)
        told = f"own less the others', allowing for what firms differ by anyway; {each.place}"
        yield row("apart", each.apart, SHARE, told, each.apart_low, each.apart_high)
