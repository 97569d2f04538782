"""Headings that repeat with a number (`catch 1 kg`, `catch 2 kg` …): what a wide sheet unfolds into."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.contract import JOB_LOG
from pipeline.mapping.confirmed_mapping import NUMBER_PLACE
from pipeline.mapping.heading_match import LIKELY, fits, likeliest
from pipeline.mapping.settled_columns import Settled, settled
from pipeline.mapping.trade_words import TABLE_WORDS, choice_for, tokens
from pipeline.mapping.value_shapes import Shape

_NUMBERED = re.compile(r"^(\D*?)(\d{1,3})(?!\d)(\D*)$")
CHILDREN = ("catches", "emitters")
"""Tables that a wide sheet of jobs is unfolded into."""


@dataclass(frozen=True, slots=True)
class Group:
    """Numbered headings that belong together, the table they unfold into, and what each becomes.

    `settled` is by the heading with `{n}`; `trap` is the word for the trap that the headings name.
    """

    table: str
    numbers: tuple[int, ...]
    settled: Settled
    shapes: dict[str, Shape]
    trap: str = ""


def numbered_headings(headings: Iterable[str]) -> dict[str, tuple[int, ...]]:
    """Heading with `{n}` → the numbers it has, for headings that stand with two numbers or more.

    >>> numbered_headings(["job", "catch1 (kg)", "catch2 (kg)", "type 22"])
    {'catch{n} (kg)': (1, 2)}
    >>> numbered_headings(["e04", "e05"])
    {}
    """
    found: dict[str, list[int]] = {}
    for heading in headings:
        match = _NUMBERED.match(heading)
        is_plain = match is not None and match[2] == str(int(match[2]))  # `e04` would be looked for as `e4`
        is_ours = heading.strip().lower().replace(" ", "_") in JOB_LOG["jobs"].names  # `panel 11 count`
        if match and is_plain and not is_ours and (match[1] + match[3]).strip(" _.#-()"):
            found.setdefault(f"{match[1]}{NUMBER_PLACE}{match[3]}", []).append(int(match[2]))
    return {
        template: tuple(sorted(numbers))
        for template, numbers in found.items()
        if len(set(numbers)) == len(numbers) >= 2 and all(_spelt(template, n) for n in numbers)
    }


def _spelt(template: str, number: int) -> bool:
    return template.replace(NUMBER_PLACE, "").strip() != "" and number < 1000


def groups(shapes: dict[str, Shape], templates: dict[str, tuple[int, ...]]) -> list[Group]:
    """Numbered headings by the word they begin with, each group with the table it fits best."""
    by_word: dict[str, list[str]] = {}
    for template in templates:
        first = re.findall(r"[^\W\d_]+", template.replace(NUMBER_PLACE, " "))[:1]
        by_word.setdefault(" ".join(tokens(first[0])) if first else "", []).append(template)
    merged = _merged(by_word, templates)
    found = [_group(word, members, shapes, templates) for word, members in merged.items()]
    return [group for group in found if group is not None]


def _merged(by_word: dict[str, list[str]], templates: dict[str, tuple[int, ...]]) -> dict[str, list[str]]:
    """A group whose word names no table (`time {n}`) joins the only group with the same numbers that names one."""
    words = {word: [t for t in CHILDREN if tokens(word) & tokens(TABLE_WORDS[t])] for word in by_word}
    merged = {word: list(members) for word, members in by_word.items() if words[word]}
    for word, members in by_word.items():
        if words[word]:
            continue
        hosts = [w for w in merged if templates[merged[w][0]] == templates[members[0]]]
        merged.setdefault(hosts[0] if len(hosts) == 1 else word, []).extend(members)
    return merged


def _group(
    word: str, members: list[str], shapes: dict[str, Shape], templates: dict[str, tuple[int, ...]]
) -> Group | None:
    own = {template: shapes[template] for template in members}
    labels = {template: " ".join(template.replace(NUMBER_PLACE, " ").split()) for template in members}
    named = [table for table in CHILDREN if tokens(word) & tokens(TABLE_WORDS[table])]
    best: tuple[float, str, Settled | None] = (0.0, "", None)
    for table in named or CHILDREN:
        candidates = fits(own.values(), table, labels)
        score = sum(each.score for each in likeliest(candidates).values()) / len(members)
        if score > best[0]:
            best = (score, table, settled(candidates))
    if best[0] < LIKELY / 2 or best[2] is None:
        return None
    trap, score = choice_for("trap", "choice", word)
    numbers = tuple(sorted({n for template in members for n in templates[template]}))
    return Group(best[1], numbers, best[2], own, trap if best[1] == "catches" and score >= 0.9 else "")
