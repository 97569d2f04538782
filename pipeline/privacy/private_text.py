"""Private details inside cells that are loaded: a phone number in a note, a whole postcode for its district.

The detail is left out of the cell, the row loads, and a warning on it says so. The received file keeps the
cell as it came.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from pipeline.privacy.private_columns import hide_email_ids
from pipeline.readers.text_tables import LEFT_OUT, LINE, TextTable

EMAIL = r"[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+(?:\.[A-Za-z0-9-]+)*\.[A-Za-z]{2,}"
PHONE = (
    r"(?:\+|\b00)\d{1,3}(?:[ ()./-]{0,2}\d){7,12}\b"  # abroad: + and 8 to 15 figures (E.164 allows 15)
    r"|\(?\b0\d{2,5}\)?(?:[ /-]?\d){6,8}\b"  # a trunk 0, an area code written together, then the number
    r"|\(\d{3}\) ?\d{3}[-. ]\d{4}\b|\b\d{3}([-.])\d{3}[-.]\d{4}\b"
)
POSTCODE = r"\b[A-Z]{1,2}\d[A-Z\d]? \d[ABD-HJLNP-UW-Z]{2}\b"
"""In running text in capitals and with its space only; the letters that no inward code has keep `2 KG` out."""

STREET = (
    r"\b\d{1,4}[a-z]? (?:\p{Lu}[\p{L}'’-]+ ){1,3}"
    r"(?:Street|Road|Lane|Avenue|Close|Drive|Crescent|Terrace|Gardens|Boulevard)\b"
)
TITLED = r"\b(?:Mr|Mrs|Ms|Miss|Dr)\.? \p{Lu}[\p{L}'’-]+"
"""A name is told from other words by its title alone."""

_IN_NOTES = {
    "e-mail address": EMAIL,
    "phone number": PHONE,
    "postcode": POSTCODE,
    "street address": STREET,
    "name of a person": TITLED,
}
WITHOUT = "loaded without the"
"""How the reason of such a warning begins."""

_DISTRICT = r"(?i)^\s*([a-z]{1,2}\d[a-z\d]?)\s?\d[a-z]{2}\s*$"
_CELLS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "note": tuple((what, shape, f"[{what} left out]") for what, shape in _IN_NOTES.items()),
    "postcode_district": (("rest of the postcode", _DISTRICT, "${1}"),),
}


def holds_private(frame: pl.DataFrame) -> bool:
    """Whether a cell of the frame holds something private that must be left out of it."""
    checks = [
        pl.col(column).str.contains(shape).any().alias(f"{column} {what}")
        for column, kinds in _CELLS.items()
        if frame.schema.get(column) == pl.String
        for what, shape, _ in kinds
    ]
    return bool(checks) and any(frame.select(checks).row(0))


def private_in(text: str) -> str:
    """What a text typed by hand holds of a person, such as `phone number`; empty for nothing.

    The same shapes that are left out of notes on intake. A number of figures alone is a job's, not a phone's.

    >>> private_in("ring Mrs Alder"), private_in("valve, 07700 900123"), private_in("0012345678"), private_in("M14")
    ('name of a person', 'phone number', '', '')
    """
    cell = pl.Series([text])
    found = (what for what, shape in _IN_NOTES.items() if cell.str.contains(shape)[0])
    return next((what for what in found if what != "phone number" or not text.strip().isdigit()), "")


def private_fields(facts: object, name: str = "") -> tuple[str, ...]:
    """Of values as JSON has them, at any depth: each field that holds something of a person, `note: phone number`."""
    if isinstance(facts, Mapping):
        return tuple(found for key, value in facts.items() for found in private_fields(value, str(key)))
    if isinstance(facts, list | tuple):
        return tuple(found for value in facts for found in private_fields(value, name))
    what = private_in(facts) if isinstance(facts, str) else ""
    return (f"{name.replace('_', ' ')}: {what}",) if what else ()


def without_private(text: TextTable, table: str, key: bytes) -> TextTable:
    """The text of a job-log table with ids that are e-mails hashed and private details left out of its cells."""
    frame, told = hide_email_ids(text.frame, table, key), [pl.DataFrame(schema=LEFT_OUT)]
    for column, what, shape, instead in _kinds(frame):
        lines = frame.filter(pl.col(column).str.contains(shape)).select(pl.col(LINE).cast(pl.Int64))
        if lines.height:
            reason = pl.lit(f"{WITHOUT} {what} that stood in it").alias("reason")
            told.append(lines.with_columns(pl.lit(column).alias("column_name"), reason))
            frame = frame.with_columns(pl.col(column).str.replace_all(shape, instead))
    broken = tuple(replace(row, text=_masked(row.text)) for row in text.broken)
    return replace(text, frame=frame, broken=broken, left_out=pl.concat(told))


def _kinds(frame: pl.DataFrame) -> list[tuple[str, str, str, str]]:
    return [(column, *kind) for column, kinds in _CELLS.items() if column in frame.columns for kind in kinds]


def _masked(text: str) -> str:
    """A line that is broken as text, e-mails and phone numbers left out: it is shown among the rejects."""
    for what in ("e-mail address", "phone number"):
        text = re.sub(_IN_NOTES[what], f"[{what} left out]", text)
    return text
