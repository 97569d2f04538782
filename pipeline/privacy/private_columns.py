"""What must never be loaded: people's names, phones, e-mails, addresses, full postcodes. And ids that are e-mails.

A column is private by the words of its heading or by the shape of its values. Ids that look like e-mail
addresses are replaced by a keyed hash: the same person keeps the same id, and nobody can tell who it is.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
from collections.abc import Iterable

import polars as pl

from pipeline.contract import JOB_LOG

PRIVATE_WORDS = frozenset(
    {
        "customer",
        "client",
        "name",
        "surname",
        "forename",
        "firstname",
        "lastname",
        "phone",
        "telephone",
        "mobile",
        "cell",
        "tel",
        "fax",
        "email",
        "mail",
        "address",
        "addr",
        "street",
        "road",
        "town",
        "city",
        "county",
        "postcode",
        "postal",
        "zip",
        "zipcode",
        "contact",
        "landlord",
        "tenant",
        "owner",
        "occupier",
        "householder",
        "kunde",
        "kundin",
        "telefon",
        "adresse",
        "strasse",
        "straße",
        "plz",
        "vorname",
        "nachname",
        "birthday",
        "dob",
    }
)
"""A heading with one of these words is private, whatever its column holds."""

_EMAILS = "e-mail addresses"
_SHAPES = {
    _EMAILS: r"(?i)[a-z0-9._%+-]+@[a-z0-9.-]+\.[a-z]{2,}",
    "phone numbers": r"^(?:\+|00|\(?0)[\d\s()./-]{8,18}\d$|^\(?\d{3}\)?[ .-]\d{3}[ .-]\d{4}$",
    "full postcodes": r"(?i)^[a-z]{1,2}\d[a-z\d]?\s?\d[a-z]{2}$|^\d{5}-\d{4}$",
    "street addresses": r"(?i)^\d+[a-z]?,? [a-z' -]+ (?:street|st|road|rd|lane|ln|avenue|ave|close|drive|dr|way|"
    r"crescent|terrace|place|court|gardens|grove|hill|row|square|blvd|boulevard)\b",
}
_PERSON = r"^(?:(?:Mr|Mrs|Ms|Miss|Dr)\.? )?\p{Lu}[\p{Ll}'’-]+(?: \p{Lu}\.?| \p{Lu}[\p{Ll}'’-]+){1,2}$"
OUTWARD = r"(?i)^[a-z]{1,2}\d[a-z\d]?$"
"""The outward part of a postcode alone, which names a district and nobody."""

_NOT_A_PHONE = r"^\d{1,4}[-/. ]\d{1,2}[-/. ]\d{1,4}(?:\D|$)|^\d+[.,]\d+$"
"""Days in figures and decimals have the figures of a phone number and are none."""

_ENOUGH = 0.3
_ENOUGH_NAMES = 0.8
_EMAIL = re.compile(_SHAPES[_EMAILS])
_HASH_CHARACTERS = 16
ID_COLUMNS = ("firm_id", "job_id", "engineer_id")


def private_heading(heading: str) -> bool:
    """Whether the words of a heading say that its column holds people or where they live."""
    words = re.split(r"[^a-zß]+", re.sub(r"e[-_ ]?mail", "email", heading.lower()))
    return any(word in PRIVATE_WORDS or word.startswith("kunde") or word.endswith("name") for word in words)


def private_values(cells: pl.Series, *, is_id: bool = False) -> str:
    """What the values of a column look like, such as `phone numbers`; empty when nothing private.

    A share of 30 % is enough, because one address is one too many; people's names are told by shape only,
    so they need 80 % and three different ones. In a column of ids e-mails are no fault: they are hashed.
    """
    counted = cells.drop_nulls().str.strip_chars().alias("c").value_counts(name="times")
    if not counted.height:
        return ""
    c, times = pl.col("c"), pl.col("times")
    found = {what: c.str.contains(shape) for what, shape in _SHAPES.items() if not (is_id and what == _EMAILS)}
    found["phone numbers"] &= ~c.str.contains(_NOT_A_PHONE)
    is_person = c.str.contains(_PERSON)
    found |= {"people": is_person}
    shares = counted.select(
        *(((times * mask).sum() / times.sum()).alias(what) for what, mask in found.items()),
        is_person.sum().alias("persons"),
    ).row(0, named=True)
    for what in _SHAPES:
        if (shares.get(what) or 0.0) >= _ENOUGH:
            return what
    return "people's names" if (shares["people"] or 0.0) >= _ENOUGH_NAMES and shares["persons"] >= 3 else ""


def is_outward_only(cells: Iterable[str | None]) -> bool:
    """Whether every value is the outward part of a postcode and nothing more."""
    values = [cell.strip() for cell in cells if cell and cell.strip()]
    return bool(values) and all(re.match(OUTWARD, value) for value in values)


def looks_like_email(text: str) -> bool:
    """Whether an e-mail address stands in the text."""
    return _EMAIL.search(text) is not None


def hide_id(text: str, key: bytes) -> str:
    """A keyed hash that stands for an id: HMAC-SHA256 (RFC 2104), 80 bits of it in base32, after `id-`.

    Capitals and outer spaces do not matter, as they do not in an address. ValueError for an empty key.

    >>> hide_id("Ann@example.org", b"key") == hide_id(" ann@example.org", b"key") != hide_id("ann@example.org", b"k")
    True
    """
    if not key:
        raise ValueError("hiding ids needs a key")
    digest = hmac.new(key, text.strip().lower().encode(), hashlib.sha256).digest()
    return "id-" + base64.b32encode(digest)[:_HASH_CHARACTERS].decode().lower()


def hide_email_ids(frame: pl.DataFrame, table: str, key: bytes) -> pl.DataFrame:
    """The text frame of a job-log table with e-mail addresses in its id columns hidden; other cells unchanged."""
    columns = [name for name in ID_COLUMNS if name in JOB_LOG[table].names and name in frame.columns]
    for name in columns:
        distinct = frame[name].drop_nulls().unique()
        hidden = {text: hide_id(text, key) for text in distinct if looks_like_email(text)}
        if hidden:
            frame = frame.with_columns(pl.col(name).replace(hidden))
    return frame
