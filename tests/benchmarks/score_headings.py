"""How a labelled set of foreign headings is taken: right, wrong, asked, left out.

    python -m tests.benchmarks.score_headings [tune|hold] [--each]

The set is tests/data/headings/foreign_headings.csv. A heading is *wrong* when it stands in the proposed mapping under
another column than the right one, whether or not something else is asked about it. `--each` prints every heading that
is not simply taken right or left out right.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.mapping.propose import propose
from pipeline.readers.files import find_tables

HEADINGS = Path(__file__).parents[1] / "data" / "headings" / "foreign_headings.csv"
PARTS = ("tune", "hold")


@dataclass(frozen=True, slots=True)
class Scored:
    """One heading: its sheet, the right answer (`ask` and `none` besides columns), the column it was put under (empty
    for none), and whether anything about it is asked."""

    sheet: str
    heading: str
    right: str
    column: str
    is_asked: bool

    @property
    def outcome(self) -> str:
        """What became of it, in a word or two."""
        if self.column and self.column != self.right:
            return "wrong"
        if self.is_asked:
            return "asked"
        if self.column:
            return "taken right"
        return "left out right" if self.right in ("none", "ask") else "left out, is a column"


def scored(parts: tuple[str, ...] = PARTS) -> list[Scored]:
    """Every heading of these parts of the set, judged sheet by sheet as `map` judges a file."""
    sheets: dict[tuple[str, str], list[dict[str, str]]] = defaultdict(list)
    with HEADINGS.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["part"] in parts:
                sheets[row["sheet"], row["table"]].append(row)
    return [each for (_, table), rows in sheets.items() for each in _sheet(table, rows)]


def _sheet(table: str, rows: list[dict[str, str]]) -> list[Scored]:
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"{table}.csv"
        cells = [row["values"].split("|") for row in rows]
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, delimiter=";")
            writer.writerow([row["heading"] for row in rows])
            writer.writerows(zip(*cells, strict=True))
        made = propose(find_tables(path))
    columns = {each.heading: each.column for one in made.tables for each in one.columns}
    asked = {question.heading for question in made.questions}
    names = [" ".join(row["heading"].split()).lower() for row in rows]
    return [
        Scored(row["sheet"], row["heading"], row["answer"], columns.get(name, ""), name in asked)
        for row, name in zip(rows, names, strict=True)
    ]


def main(words: list[str]) -> None:
    """Print the score of each part that is named."""
    for part in [word for word in words if word in PARTS] or PARTS:
        found = scored((part,))
        counts = Counter(each.outcome for each in found)
        told = ", ".join(f"{counts[name]} {name}" for name in sorted(counts))
        asked = sum(each.is_asked for each in found)
        share = f"{asked / len(found):.1%}"
        print(f"{part}: {len(found)} headings: {told}; something is asked about {asked} ({share})")  # noqa: T201
        for each in found if "--each" in words else ():
            if each.outcome not in ("taken right", "left out right"):
                print(f"  {each.outcome}: {each.sheet} {each.heading!r} is {each.right}, got {each.column}")  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
