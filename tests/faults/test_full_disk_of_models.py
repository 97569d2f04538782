"""A disk that is full while models are written, training that was killed, builds that must make room."""

from __future__ import annotations

import os
import shutil
import time
from pathlib import Path

import numpy as np
import pytest

from models.store import Stored, load_model, save_model
from pipeline.contract.findings import BookError, SludgebookError
from pipeline.intake.load import load
from pipeline.store import pruning
from pipeline.store.book import Book
from pipeline.store.pruning import leftovers, make_room, sweep_models
from pipeline.verify.verify_book import verify
from tests.faults.kill_many import HAND_WRITTEN
from tests.faults.test_disk import files_no_larger_than

SMALL = Stored(arrays={"x": np.arange(3.0)})
LARGE = Stored(arrays={"x": np.random.default_rng(1).random(40_000)})


@pytest.mark.parametrize("limit", [0, 200, 100_000])
def test_a_disk_that_takes_no_more_is_a_sentence_and_the_earlier_models_stay(limit: int, tmp_path: Path) -> None:
    folder = tmp_path / "build" / "quote"
    save_model(folder, SMALL, {"model": "quote"})
    with files_no_larger_than(limit), pytest.raises(SludgebookError, match="cannot be written: .* Make room") as told:  # noqa: RUF043
        save_model(folder, LARGE, {"model": "quote"})

    assert "run `sludgebook train` again; what was learnt before stays" in str(told.value)
    assert load_model(folder).arrays["x"].tolist() == [0.0, 1.0, 2.0]
    assert [path.name for path in folder.parent.iterdir()] == ["quote"]


def model_book(tmp_path: Path) -> Book:
    book = Book(tmp_path / "book")
    book.create()
    save_model(book.path / "models" / "b" / "quote", SMALL, {"model": "quote"})
    return book


def later(monkeypatch: pytest.MonkeyPatch) -> None:
    now = time.time()
    monkeypatch.setattr(pruning.time, "time", lambda: now + pruning.LEFTOVER_S + 1)


def test_what_killed_training_left_is_swept_later_and_never_while_another_may_write_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = model_book(tmp_path)
    half = book.path / "models" / "b" / ".quote.123.part"
    half.mkdir()
    (half / "arrays.npz").write_bytes(b"half")
    sweep_models(book)
    assert (half.is_dir(), leftovers(book)) == (True, ())

    later(monkeypatch)
    assert leftovers(book) == (half,)
    sweep_models(book)
    assert [path.name for path in half.parent.iterdir()] == ["quote"]


def test_models_put_aside_by_training_that_was_killed_at_that_moment_come_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = model_book(tmp_path)
    folder = book.path / "models" / "b" / "quote"
    folder.rename(folder.with_name(".quote.123.old"))
    later(monkeypatch)
    sweep_models(book)
    assert load_model(folder).arrays["x"].tolist() == [0.0, 1.0, 2.0]


def test_older_builds_make_room_where_the_disk_is_short_and_never_the_current_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Book(tmp_path / "book")
    load([HAND_WRITTEN], book)
    current = book.current()
    for number in (1, 2):
        older = book.builds / f"{number:016x}.duckdb"
        shutil.copy(current, older)
        os.utime(older, (number, number))
    assert make_room(book, 1) == ()

    free = [100, 100, 5_000]
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(pruning.shutil, "disk_usage", lambda _: usage._replace(free=free.pop(0)))
    assert [path.name for path in make_room(book, 4_000)] == [f"{1:016x}.duckdb", f"{2:016x}.duckdb"]
    assert list(book.builds.iterdir()) == [current]


@pytest.fixture
def with_older(tmp_path: Path) -> tuple[Book, Path]:
    """A book with a build of before, which can be made again."""
    book = Book(tmp_path / "book")
    load([HAND_WRITTEN], book)
    older = book.builds / f"{1:016x}.duckdb"
    shutil.copy(book.current(), older)
    os.utime(older, (1, 1))
    return book, older


def free(of: int, monkeypatch: pytest.MonkeyPatch, book: Book) -> None:
    """The disk has so many bytes free from now on."""
    usage = shutil.disk_usage(book.path)
    monkeypatch.setattr(pruning.shutil, "disk_usage", lambda _: usage._replace(free=of))


def test_a_load_makes_room_before_it_builds(with_older: tuple[Book, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    book, older = with_older
    files = sum(path.stat().st_size for path in HAND_WRITTEN.iterdir() if path.is_file())
    free(book.current().stat().st_size + files, monkeypatch, book)

    load([HAND_WRITTEN], book)
    assert not older.exists()


def test_too_little_room_even_so_is_told_before_anything_is_received(
    with_older: tuple[Book, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book, older = with_older
    before = sorted(path for path in book.path.rglob("*") if path != older)
    log = tmp_path / "emitters.csv"
    log.write_bytes((HAND_WRITTEN / "emitters.csv").read_bytes() + b"H-02,9,column,600,600,0,15,no\n")
    needed = book.current().stat().st_size + log.stat().st_size
    free(needed - 1, monkeypatch, book)

    with pytest.raises(BookError, match=r"MB free, and a new build needs about .* MB. Nothing was received or changed"):
        load([log], book)

    assert sorted(book.path.rglob("*")) == before
    assert verify(book).clean
    free(needed, monkeypatch, book)
    assert load([log], book).is_new
