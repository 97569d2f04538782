"""A book whose every text cell is hostile: simulated jobs, their ids and notes replaced by what a page would run.

Each text wraps the word `MARK` in something that is fetched, styled, linked or left out where it is taken for more
than text. Drawn letter by letter, the word never stands alone and never without what wraps it.
"""

from __future__ import annotations

import re
from pathlib import Path

import polars as pl

MARK = "hostileword"
PATTERNS = (
    f"![{MARK}](http://evil.example/{MARK}.png)",
    f"[{MARK}](http://evil.example/)",
    f"**{MARK}**",
    f"_{MARK}_",
    f"`{MARK}`",
    f"${MARK}$",
    f":red[{MARK}]",
    f"<b>{MARK}</b>",
    f"<img src=http://evil.example/{MARK}>",
    f"~~{MARK}~~",
    f":material/home: {MARK}",
    f":smile: {MARK}",
    f"a -> {MARK}",
    f"# {MARK}",
    f"- {MARK}",
    f"1. {MARK}",
    f"&lt;{MARK}&gt;",
    f"http://evil.example/{MARK}",
    f"www.{MARK}.example",
    f"%{{x}}{MARK}",
    f":{MARK}",
    f"{{nb}}{MARK}",
    f"\\{MARK}\\",
    f"<br>{MARK}",
)
"""What a page, a figure or a paper could take for markup."""
IDS = {"job_id": "J", "engineer_id": "E", "firm_id": "F", "note": "N"}


EVERY_ID = " ".join(PATTERNS[place] for place in (0, 2, 5, 6, 7, 8, 10, 12))
"""What every id begins with: one of each kind of harm."""


def hostile(column: str, number: int) -> str:
    """An id or a note made hostile: each kind of harm, and one more that goes round."""
    return f"{EVERY_ID} {PATTERNS[number % len(PATTERNS)]} {IDS[column]}{number}"


def make_hostile(logs: Path) -> None:
    """Replace every id and note in a folder of CSV job logs, the same everywhere."""
    tables = {path: pl.read_csv(path, infer_schema=False) for path in sorted(logs.glob("*.csv"))}
    for column in IDS:
        seen = {text: None for frame in tables.values() if column in frame for text in frame[column].drop_nulls()}
        names = {text: hostile(column, n) for n, text in enumerate(seen)}
        for path, frame in tables.items():
            if column in frame.columns:
                tables[path] = frame.with_columns(pl.col(column).replace(names))
    for path, frame in tables.items():
        frame.write_csv(path)


def faults_in(texts: list[str]) -> list[str]:
    """Texts in which the word stands without what wraps it."""
    whole = re.compile("|".join(re.escape(pattern) for pattern in sorted(PATTERNS, key=len, reverse=True)))
    return [text for text in texts if MARK in whole.sub("", text)]
