"""Entries of a phone: each once, in order, at its own time; a refused one stops no other."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from dashboard.services import on_site
from pipeline.contract.findings import BookError
from pipeline.on_site.open_job import SiteJob
from pipeline.store.book import Book
from tests.dashboard.phone.conftest import JOBS, ask, entry, send

Read = Callable[[str], SiteJob]
MILL, QUAY = JOBS


def masses(job: SiteJob) -> list[float]:
    return [event.of["mass_g"] for event in job.all_of("catch")]


def test_saved_is_said_when_it_is_on_disk_and_sending_twice_is_one_entry(job_of: Read) -> None:
    one, two = entry("a", ago_min=9), entry("b", mass_g=75, trap="magnet")
    first, second = send(one), send(one, two)

    assert [result["state"] for result in first.json["results"] + second.json["results"]] == ["saved"] * 3
    assert first.json["results"][0]["saved_at"] == second.json["results"][0]["saved_at"]
    assert masses(job_of(MILL)) == [180, 75]


def test_two_phones_on_one_job_and_one_phone_on_two_jobs(job_of: Read) -> None:
    send(entry("a", mass_g=10, trap="magnet"), entry("b", job=QUAY, mass_g=20, trap="strainer"), device="one")
    send(entry("c", mass_g=30, trap="magnet"), device="two")

    assert masses(job_of(MILL)) == [10, 30]
    assert masses(job_of(QUAY)) == [20]
    assert [event.device for event in job_of(MILL).all_of("catch")] == ["one", "two"]


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (entry("x", mass_g=-1, trap="magnet"), "must lie in"),
        (entry("x", mass_g=5), "needs its trap"),
        (entry("x", mass_g=[5], trap="magnet"), "can be kept"),
        (entry("x", mass_g=1e300, trap="magnet"), "can be kept"),
        (entry("x", job="Nowhere"), "no job called Nowhere"),
        (entry("x", kind="finish", flush_ended_at="2026-01-01"), "on the dashboard"),
        (entry("x", kind="undo", undoes="nothing"), "not in this job"),
        (entry("x", ago_min=90), "before the start of the flow"),
        (entry("x", mass_g=5, trap="magnet", surprise=1), "surprise is no part of it"),
        ({**entry("x"), "at_ms": None}, "time is missing"),
        ({**entry("x"), "id": "../../etc"}, "id is missing or strange"),
        ("nonsense", "no form"),
    ],
)
def test_a_refused_entry_is_told_in_a_sentence_and_stops_no_other(job_of: Read, bad: object, words: str) -> None:
    before, after = entry("a", mass_g=10, trap="magnet"), entry("b", mass_g=20, trap="magnet")

    first, refused, last = send(before, bad, after).json["results"]

    assert (first["state"], refused["state"], last["state"]) == ("saved", "refused", "saved")
    assert words in refused["sentence"]
    assert masses(job_of(MILL)) == [10, 20]


@pytest.mark.parametrize("ahead_s", [-300.0, 0.0, 300.0])
def test_a_clock_five_minutes_wrong_moves_no_entry_and_is_told(job_of: Read, ahead_s: float) -> None:
    answer = send(entry("a", ago_min=30), entry("b", ago_min=10), ahead_s=ahead_s).json
    ago = [(datetime.now() - event.at) / timedelta(minutes=1) for event in job_of(MILL).all_of("catch")]
    told = {finding.code for finding in job_of(MILL).findings}

    assert ago == pytest.approx([30, 10], abs=0.1)  # the journal keeps whole seconds
    assert answer["clock_ahead_s"] == pytest.approx(ahead_s, abs=2)
    assert ("5 min" in answer["clock_sentence"]) == (ahead_s != 0)
    assert ("phone_clock" in told) == (ahead_s != 0)


@pytest.mark.parametrize(("ahead_s", "is_told"), [(115.0, False), (125.0, True)])
def test_a_clock_is_told_of_from_two_minutes_on(site: Book, ahead_s: float, is_told: bool) -> None:
    assert bool(send(entry("a"), ahead_s=ahead_s).json["clock_sentence"]) == is_told


def test_an_entry_made_after_it_was_sent_is_now(job_of: Read) -> None:
    send({**entry("a"), "at_ms": entry("a")["at_ms"] + 600_000})

    assert abs((datetime.now() - job_of(MILL).all_of("catch")[0].at).total_seconds()) < 5


def test_an_entry_is_taken_back_once(job_of: Read) -> None:
    undo = {"undoes": entry("a")["id"]}
    first = send(entry("a"), entry("u", kind="undo", **undo), entry("v", kind="undo", **undo))
    again = send(entry("u", kind="undo", **undo))

    assert [result["state"] for result in first.json["results"]] == ["saved", "saved", "refused"]
    assert "taken back before" in first.json["results"][2]["sentence"]
    assert again.json["results"][0]["state"] == "saved"
    assert masses(job_of(MILL)) == []


def test_a_full_disk_keeps_the_job_s_entries_on_the_phone_in_order(
    job_of: Read, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Room is found again after the first entry; the second, which could be saved by then, waits for it."""
    save, failed = on_site.save, []

    def full(book: Book, name: str, *rest: object, **more: object) -> object:
        if not failed:
            failed.append(name)
            raise BookError("The entry is not saved: no space left on the device.")
        return save(book, name, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(on_site, "save", full)
    results = send(entry("a"), entry("b"), entry("c", job=QUAY)).json["results"]

    assert [result["state"] for result in results] == ["kept", "kept", "saved"]
    assert "no space left" in results[0]["sentence"]
    assert (failed, masses(job_of(MILL)), masses(job_of(QUAY))) == ([MILL], [], [180])


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b'{"entries": 3}',
        b'{"entries": [], "clock_ms": NaN}',
        b'{"entries": []}',
        b"\xff",
        b"[" * 9999,
    ],
)
def test_what_is_no_letter_of_entries_is_told_in_a_sentence(site: Book, body: bytes) -> None:
    got = ask("/phone/entries", "POST", body, content_type="application/json")

    assert got.status == 400
    assert got.json["sentence"].startswith("Nothing was saved")


def test_too_much_at_once_is_refused_and_nothing_of_it_saved(job_of: Read) -> None:
    many = send(*(entry(f"n{number}") for number in range(201)))
    long = ask("/phone/entries", "POST", json.dumps({"x": "y" * 256_000}).encode(), content_type="application/json")

    assert (many.status, long.status) == (400, 413)
    assert "256 kB" in long.json["sentence"]
    assert masses(job_of(MILL)) == []


def test_entries_come_from_own_pages_only_and_as_json(job_of: Read) -> None:
    statuses = [
        send(entry("a"), origin="http://evil.example").status,
        send(entry("a"), origin="http://localhost:9999").status,
        send(entry("a"), host="evil.example:8501").status,
        send(entry("a"), content_type="text/plain").status,
    ]

    assert statuses == [403, 403, 421, 400]
    assert masses(job_of(MILL)) == []


def test_a_fault_nobody_foresaw_is_a_sentence_and_in_the_log(site: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(on_site, "save", lambda *_, **__: 1 / 0)
    got = send(entry("a"))

    assert got.status == 500
    assert "entries stay on the phone" in got.json["sentence"]
    assert "ZeroDivisionError" in Path(site.path / "sludgebook.log").read_text(encoding="utf-8")
