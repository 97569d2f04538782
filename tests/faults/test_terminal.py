"""What stands in files, ids and what was typed never steers the terminal that it is told on: a real pseudo-terminal."""

from __future__ import annotations

import os
import re
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from dashboard.cli.main import main
from pipeline.intake.load import load
from pipeline.store.book import Book

pty = pytest.importorskip("pty", reason="the system has no pseudo-terminals of this kind")

EVIL = ("\x1b[31;7mEVIL", "\x9b2JEVIL", "\x1b]0;EVIL\x07", "\u202eEVIL")
STEERS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Everything that steers, but for the tab and the end of a line."""
JOBS = "job_id,system_type,visit_date,flush_started_at,flush_ended_at"
TIMES = "2025-03-04,2025-03-04T09:00,2025-03-04T15:00"


@pytest.fixture(scope="module")
def hostile_logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Steering characters in the name of a file that is left aside, in ids, choices, numbers, times, notes, heads."""
    folder = tmp_path_factory.mktemp("hostile")
    rows = [JOBS, f"J1,sealed,{TIMES}", *(f"J{each},sealed,{TIMES}" for each in EVIL)]
    rows += [f"B{number},{each},{TIMES}" for number, each in enumerate(EVIL)]
    rows += [f"T{number},sealed,{each},," for number, each in enumerate(EVIL)]
    (folder / "jobs.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    catches = ["job_id,catch_no,caught_at,trap,mass_g,note," + EVIL[3]]
    catches += [f"J1,{n},2025-03-04T10:0{n},magnet,{100 + n},{each},x" for n, each in enumerate(EVIL, start=1)]
    catches += [f"J1,{n},2025-03-04T11:0{n},magnet,{each},,x" for n, each in enumerate(EVIL, start=5)]
    (folder / "catches.csv").write_text("\n".join(catches) + "\n", encoding="utf-8")
    (folder / f"{EVIL[1]} {EVIL[2]}.csv").write_text(f"a;{EVIL[3]}\n{EVIL[1]};1\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def hostile_book(hostile_logs: Path, tmp_path_factory: pytest.TempPathFactory) -> Book:
    book = Book(tmp_path_factory.mktemp("book") / f"book {EVIL[0]}")
    load([hostile_logs], book)
    return book


Typed = Callable[..., str]


@pytest.fixture
def on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> Typed:
    """Type a command at a terminal that draws nothing by itself; everything that it was sent."""
    monkeypatch.setenv("TERM", "dumb")

    def typed(*words: str) -> str:
        ours, theirs = pty.openpty()
        heard: list[bytes] = []
        listener = threading.Thread(target=lambda: heard.extend(iter(lambda: _read(ours), b"")))
        listener.start()
        with open(theirs, "w", encoding="utf-8") as terminal, monkeypatch.context() as patch:
            patch.setattr(sys, "stdout", terminal)
            patch.setattr(sys, "stderr", terminal)
            patch.setattr(sys, "argv", ["sludgebook", *words])
            with pytest.raises(SystemExit):
                main()
        listener.join()
        os.close(ours)
        return b"".join(heard).decode("utf-8", "surrogateescape")

    return typed


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 65_536)
    except OSError:  # the other end is closed
        return b""


BOOK = (
    "rejects",
    "verify",
    "quotes",
    "history J1",
    "watch J1",
    "watch EVIL0",
    "history EVIL1",
    "watch J1 --at EVIL2",
    "replay --at EVIL0",
    "rejects --batch EVIL1",
    "quotes --became EVIL0 won",
    "quotes --became Q00001 EVIL1",
    "export EVIL0 {tmp}/x.csv",
    "export jobs {tmp}/EVIL0/x.csv",
    "export catches {tmp}/EVIL2.csv",
    "report EVIL3 --pdf {tmp}/x.pdf",
    "quote {tmp}/EVIL0.json",
    "load {tmp}/EVIL1.csv",
    "load {logs}",
    "load {logs} --mapping {tmp}/EVIL0.toml",
    "train",
    "audit",
    "audit --firm EVIL0",
    "serve --address EVIL1 --no-browser",
)
OTHERS = (
    "EVIL0",
    "watch J1 EVIL0",
    "watch --EVIL0",
    "rejects EVIL2",
    "demo --jobs EVIL1",
    "map {logs}",
    "map {tmp}/EVIL0.csv",
    "simulate {tmp}/new --scenario EVIL1",
    "simulate {tmp}/new --format EVIL2",
    "format --table EVIL2",
    "backup {tmp}/EVIL0 {tmp}/x.zip",
    "restore {tmp}/EVIL1.zip {tmp}/new",
)


@pytest.mark.parametrize("call", [*(f"{each} --book {{book}}" for each in BOOK), *OTHERS])
def test_no_character_of_a_file_or_of_what_was_typed_steers_the_terminal(
    call: str, on_a_terminal: Typed, hostile_book: Book, hostile_logs: Path, tmp_path: Path
) -> None:
    places = {"{tmp}": str(tmp_path), "{logs}": str(hostile_logs), "{book}": str(hostile_book.path)}
    places |= {f"EVIL{number}": each for number, each in enumerate(EVIL)}
    words = call.split()
    for short, long in places.items():
        words = [word.replace(short, long) for word in words]

    said = on_a_terminal(*words)

    assert said.strip()
    assert [each[0] for each in STEERS.finditer(said)] == []


def test_what_was_left_out_of_the_terminal_is_written_out(on_a_terminal: Typed, hostile_book: Book) -> None:
    said = re.sub(r"\s", "", on_a_terminal("rejects", "--book", str(hostile_book.path), "--text"))

    for each in (r"\x1b[31;7mEVIL", r"\x9b2JEVIL", r"\x1b]0;EVIL\x07", r"\u202eEVIL"):
        assert said.count(each) >= 2


def test_the_server_tells_the_terminal_of_a_fault_in_letters_alone(capsys: pytest.CaptureFixture[str]) -> None:
    from dashboard.cli.serve import _Plain

    print(f"Traceback: {''.join(EVIL)}", file=_Plain(sys.stderr))

    assert STEERS.search(capsys.readouterr().err) is None
