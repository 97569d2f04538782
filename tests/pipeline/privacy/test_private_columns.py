"""What is private, and ids that are e-mail addresses."""

from __future__ import annotations

import hashlib
import hmac

import polars as pl
import pytest

from pipeline.contract import JOB_LOG
from pipeline.privacy.private_columns import hide_email_ids, hide_id, private_heading, private_values

KEY = b"a key of the book"


@pytest.mark.parametrize("heading", ["Customer", "e-mail", "Tel. no", "site_address", "Kundennummer", "ZIP"])
def test_headings_that_name_people_or_places_are_private(heading: str) -> None:
    assert private_heading(heading)


def test_no_column_of_the_contract_but_the_district_is_private() -> None:
    names = [column.name for table in JOB_LOG.values() for column in table.columns]

    assert [name for name in names if private_heading(name)] == ["postcode_district"]


@pytest.mark.parametrize(
    "values",
    [
        ["2025-03-04", "04.03.2025 09:15"],
        ["0.123456789"],
        ["J-2025-0001", "J-2025-0002"],
        ["panel_22"],
        ["1012031234"],
        ["Magnet", "Strainer", "Machine base"],
        ["LS7", "AB1"],
        ["09:15:00"],
    ],
)
def test_values_of_honest_records_are_not_private(values: list[str]) -> None:
    assert private_values(pl.Series(values)) == ""


def test_hidden_ids_are_the_first_eighty_bits_of_the_keyed_hash() -> None:
    digest = hmac.new(KEY, b"ann@example.org", hashlib.sha256).hexdigest()
    hidden = hide_id("Ann@Example.org ", KEY)

    bits = "".join(f"{'abcdefghijklmnopqrstuvwxyz234567'.index(c):05b}" for c in hidden.removeprefix("id-"))
    assert f"{int(bits, 2):020x}" == digest[:20]


def test_ids_differ_with_the_person_and_with_the_key() -> None:
    assert len({hide_id("a@example.org", KEY), hide_id("b@example.org", KEY), hide_id("a@example.org", b"other")}) == 3
    with pytest.raises(ValueError, match="key"):
        hide_id("a@example.org", b"")


def test_only_emails_in_id_columns_are_hidden() -> None:
    email = "a@example.org"
    frame = pl.DataFrame({"job_id": [email, "J2"], "engineer_id": ["E1", None], "note": [email, "x"]})
    hidden = hide_email_ids(frame, "jobs", KEY)

    assert hidden.rows() == [(hide_id(email, KEY), "E1", email), ("J2", None, "x")]
