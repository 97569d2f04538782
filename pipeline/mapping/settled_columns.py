"""What is taken of a sheet's headings, what is asked, and what is left out: the rules that keep a proposal honest.

A heading is taken only where every word of it is accounted for by a phrase that decides, its values are such as the
column holds, it fits no second column, and no second heading claims the same one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pipeline.mapping.heading_doubts import STATE_WORDS
from pipeline.mapping.heading_match import CLAIMS, Fit
from pipeline.mapping.trade_words import tokens

_MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Settled:
    """Heading → its column, for those taken; heading → what it may be, for those asked; heading → why, a clause, for
    every one that is not taken and has a reason beyond fitting nothing."""

    taken: dict[str, Fit]
    asked: dict[str, tuple[Fit, ...]]
    why: dict[str, str]


def settled(candidates: Sequence[Fit]) -> Settled:
    """Decide on every heading of one table from all pairs of heading and column."""
    by_heading: dict[str, list[Fit]] = defaultdict(list)
    for each in candidates:
        if each.claim != "none":
            by_heading[each.heading].append(each)
    exact = {each.heading: each for each in candidates if each.heading == each.column}
    claims = {heading: exact[heading] for heading in exact} | {
        heading: one for heading, fits in by_heading.items() if heading not in exact and (one := _only(fits))
    }
    rivals = _rivals(claims, by_heading, exact)
    taken = {heading: each for heading, each in claims.items() if heading not in rivals}
    asked: dict[str, tuple[Fit, ...]] = {}
    why = dict(rivals)
    given = {each.column for each in taken.values()}
    for heading, found in by_heading.items():
        if heading in taken:
            continue
        open_to = [each for each in found if each.column not in given and not each.is_hopeless]
        asked_of = _worth_asking(open_to, is_rival=heading in rivals)
        if asked_of:
            asked[heading] = asked_of
        why.setdefault(heading, _why(found, asked_of, given))
    return Settled(taken, asked, why)


def _only(found: Iterable[Fit]) -> Fit | None:
    """The one column that a heading claims firmly, where its values agree and no other column fits as well."""
    hopeful = [each for each in found if not each.is_hopeless]
    firm = [each for each in hopeful if each.claim == "firm"]
    agreed = [each for each in firm if each.against is None]
    second = [each for each in hopeful if each.claim == "doubtful" and each.against is None]
    return agreed[0] if len(agreed) == 1 and len(firm) == 1 and not second else None


def _rivals(claims: dict[str, Fit], by_heading: dict[str, list[Fit]], exact: dict[str, Fit]) -> dict[str, str]:
    """Headings that claim a column which another claims too, and why neither is taken. The contract's own name wins;
    a second column of masses, wet or dried, is always a rival: which of them counts is never guessed."""
    headings: dict[str, set[str]] = defaultdict(set)
    for heading, each in claims.items():
        headings[each.column].add(heading)
    for heading, found in by_heading.items():
        if "mass_g" in headings and heading not in claims and tokens(heading) & STATE_WORDS.keys():
            if any(each.column == "mass_g" and not each.is_hopeless for each in found):
                headings["mass_g"].add(heading)
    rivals = {}
    for column, both in headings.items():
        for heading in both if len(both) > 1 else ():
            if heading not in exact:
                others = ", ".join(repr(other) for other in sorted(both - {heading}))
                rivals[heading] = f"{others} may be {column} as well"
    return rivals


def _worth_asking(open_to: Sequence[Fit], *, is_rival: bool) -> tuple[Fit, ...]:
    """The columns a person is asked about. Where words beside the phrase are left over, the values must agree."""
    found = [each for each in open_to if each.claim != "partial" or each.against is None]
    if is_rival:
        found = [each for each in open_to if each.claim in ("firm", "doubtful")] or list(open_to)
    ordered = sorted(found, key=lambda each: (CLAIMS.index(each.claim), -each.score))
    return tuple(ordered[:_MOST_NAMED])


def _why(found: Sequence[Fit], asked: Sequence[Fit], given: set[str]) -> str:
    """Why a heading was not taken, in a clause."""
    best = min(found, key=lambda each: (CLAIMS.index(each.claim), -each.score))
    shown = asked or [best]
    if len(asked) > 1:
        return "more than one column fits it"
    if shown[0].against is not None:
        return f"like {shown[0].column}, but {shown[0].against.clause}"
    if not asked and best.column in given:
        return f"{best.column} is another heading already"
    return f"it may be {shown[0].column}, but its words do not say so for certain"
