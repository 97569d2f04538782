"""Photographs on site: small, bare of place and device, under their hash, verified, taken back like any entry."""

from __future__ import annotations

from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from pipeline.contract.findings import BadInput
from pipeline.on_site import photographs as module
from pipeline.on_site.entries import Sender, record
from pipeline.on_site.open_job import SiteJob, read_site_job
from pipeline.on_site.photographs import MOST_OF_A_JOB, attach_photograph, photographs, redrawn
from pipeline.store.book import Book
from pipeline.verify.verify_kept import kept_findings

WHERE, BY, ROTATED = b"N52.123", "Phone of Ann Archer", 6


def photo(width: int = 3000, height: int = 2000, colour: str = "brown", kind: str = "JPEG") -> bytes:
    """As a phone writes it: with place, device and a note, and standing on its side."""
    exif = Image.Exif()
    exif[0x010E], exif[0x010F], exif[0x0112] = BY, BY, ROTATED
    exif.get_ifd(0x8825)[29] = WHERE.decode()
    out = BytesIO()
    Image.new("RGB", (width, height), colour).save(out, kind, exif=exif.tobytes(), comment=BY.encode())
    return out.getvalue()


def begun(book: Book, name: str) -> SiteJob:
    facts = {"job": {"system_type": "sealed"}, "emitters": [{"emitter_no": 3}]}
    began = datetime.now().replace(microsecond=0) - timedelta(hours=1)
    record(book, name, "start", {**facts, "flush_started_at": began}, Sender(f"start-{name}"))
    return read_site_job(book, name)


def attach(
    book: Book, name: str, content: bytes, entry: str, shows: str = "trap", emitter_no: int | None = None
) -> None:
    attach_photograph(book, read_site_job(book, name), content, shows, Sender(entry), emitter_no=emitter_no)


@pytest.fixture
def two_jobs(book: Book) -> Book:
    book.create()
    for name in ("A1", "A2"):
        begun(book, name)
    return book


def test_it_is_made_small_stands_upright_and_nothing_of_place_or_device_is_left() -> None:
    taken = photo()
    assert WHERE in taken
    assert BY.encode() in taken

    jpeg, width, height = redrawn(taken)

    assert (width, height) == (1067, 1600)  # 3000 x 2000 on its side
    assert len(jpeg) < 200_000
    assert WHERE not in jpeg
    assert b"Archer" not in jpeg
    with Image.open(BytesIO(jpeg)) as drawn:
        assert dict(drawn.getexif()) == {}
        assert drawn.info.keys() & {"exif", "comment", "icc_profile", "xmp"} == set()


def test_photographs_belong_to_their_job_and_sent_twice_are_one(two_jobs: Book) -> None:
    attach(two_jobs, "A1", photo(40, 30, "red"), "p1", "emitter", 3)
    attach(two_jobs, "A1", photo(40, 30, "red"), "p1", "emitter", 3)
    attach(two_jobs, "A2", photo(40, 30, "blue"), "p2", "sample_before")

    kept = [photographs(two_jobs, read_site_job(two_jobs, name)) for name in ("A1", "A2")]
    assert [[(each.shows, each.emitter_no) for each in of_job] for of_job in kept] == [
        [("emitter", 3)],
        [("sample_before", None)],
    ]
    assert kept[0][0].jpeg != kept[1][0].jpeg


def test_one_taken_back_counts_no_more(two_jobs: Book) -> None:
    attach(two_jobs, "A1", photo(40, 30), "p1")
    record(two_jobs, "A1", "undo", {"undoes": "p1"}, Sender("u1"))

    assert photographs(two_jobs, read_site_job(two_jobs, "A1")) == ()


@pytest.mark.parametrize(
    ("harm", "said"), [("missing", "is missing"), ("changed", "was changed since it was attached")]
)
def test_one_that_is_lost_or_changed_is_found_by_verify_and_is_not_shown(two_jobs: Book, harm: str, said: str) -> None:
    attach(two_jobs, "A1", photo(40, 30, "red"), "p1")
    attach(two_jobs, "A2", photo(40, 30, "blue"), "p2")
    assert kept_findings(two_jobs) == []
    (path,) = (two_jobs.path / "on_site" / "A2.files").iterdir()
    path.unlink() if harm == "missing" else path.write_bytes(photo(40, 30, "green"))

    assert [said in finding.sentence for finding in kept_findings(two_jobs)] == [True]
    assert len(photographs(two_jobs, read_site_job(two_jobs, "A1"))) == 1
    assert photographs(two_jobs, read_site_job(two_jobs, "A2")) == ()


@pytest.mark.parametrize("content", [b"", b"no picture", photo(40, 30)[:200]])
def test_what_is_no_picture_is_refused_in_a_sentence_and_nothing_is_kept(two_jobs: Book, content: bytes) -> None:
    with pytest.raises(BadInput, match="no photograph that can be read"):
        attach(two_jobs, "A1", content, "p1")

    assert not list(Path(two_jobs.path / "on_site").glob("*.files/*"))


def test_what_a_picture_shows_must_be_said_and_an_emitter_has_a_number(two_jobs: Book) -> None:
    with pytest.raises(BadInput, match="say what the photograph shows"):
        attach(two_jobs, "A1", photo(40, 30), "p1", "customer")
    with pytest.raises(BadInput, match=r"must lie in 1\.\.200"):
        attach(two_jobs, "A1", photo(40, 30), "p2", "trap", 201)


def test_sizes_that_no_phone_takes_and_one_too_many_are_refused(
    two_jobs: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_MEGAPIXELS", 0.0011)
    with pytest.raises(BadInput, match="40 x 30 points, which is too many"):
        attach(two_jobs, "A1", photo(40, 30), "p0")
    monkeypatch.setattr(module, "LARGEST_MB", 0.0001)
    with pytest.raises(BadInput, match=r"at most 0\.0001 MB are taken"):
        attach(two_jobs, "A1", photo(30, 30), "p0")
    monkeypatch.undo()
    monkeypatch.setattr(module, "MOST_OF_A_JOB", 2)
    attach(two_jobs, "A1", photo(40, 30), "p1")
    attach(two_jobs, "A1", photo(40, 31), "p2")
    with pytest.raises(BadInput, match="2 photographs, which is the most"):
        attach(two_jobs, "A1", photo(40, 32), "p3")
    assert MOST_OF_A_JOB == 40
