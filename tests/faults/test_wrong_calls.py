"""What a person or a disk can do at the command line ends in one plain sentence and status 2, never in a trace."""

from __future__ import annotations

import re
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from dashboard.cli.main import main
from pipeline.intake.load import load
from pipeline.store.book import Book
from tests.faults import wrong_calls as wrong
from tests.faults.kill_many import HAND_WRITTEN
from tests.faults.wrong_calls import LONG, Call

BUSY_S, WAITS_S = 20, 60
"""A call may use so many seconds of the processor, however busy the machine is, and wait for so long by the clock."""

BOOK_COMMANDS = (
    "rejects",
    "verify",
    "train",
    "audit",
    "replay",
    "quotes",
    "history H-01",
    "watch H-01",
    "export jobs {tmp}/new.csv",
    "report H-01 --pdf {tmp}/new.pdf",
    "quote {tmp}/good.json",
)
NO_BOOK = [Call(f"{command} --book {{none}}", "There is no book at") for command in BOOK_COMMANDS]
A_FILE = [Call(f"{command} --book {{tmp}}/taken.csv", "is no book") for command in BOOK_COMMANDS]
LONG_BOOK = [Call(f"{command} --book {{tmp}}/{LONG}", "File name too long") for command in BOOK_COMMANDS]
OTHER_FOLDER = [Call(f"{command} --book {{tmp}}", "is no book: it has no folder") for command in BOOK_COMMANDS]

READ_BUILD = ("watch H-01", "export jobs {tmp}/new.csv", "report H-01 --pdf {tmp}/new.pdf", "audit", "train", "replay")
BUILDS = [
    Call(f"{command} --book {{book}}", told, harm)
    for command in READ_BUILD
    for told, harm in (
        ("`sludgebook rebuild --book .*` makes it", wrong.overlong_pointer),
        ("names a build that is not there; `sludgebook rebuild", wrong.pointer_to_nothing),
        ("is damaged .*`sludgebook rebuild --book", wrong.spoilt_build),
        ("folder `received` of the book .* is missing", wrong.no_received),
    )
]

REQUESTS = [
    Call(f"quote {{tmp}}/{name} --book {{book}}", told)
    for name, told in (
        ("deep.json", "nested too deep; .* at most 40"),
        ("nested.json", "nested too deep; .* at most 40"),
        ("surrogate.json", "half a character"),
        ("surrogate_key.json", "half a character"),
        ("digits.json", "a number of more than 300 digits"),
        ("number.json", "must hold a job"),
        ("text.json", "must hold a job"),
        ("list.json", "must hold a job"),
        ("empty.json", "no readable JSON"),
        ("half.json", "no readable JSON"),
        ("latin.json", "not UTF-8"),
        ("no_system.json", "cannot be quoted"),
        ("rows.json", "must be a list of rows"),
        ("tables.json", "must hold a job"),
        ("folder", "holds no job"),
        ("folder.json", "holds no job"),
        ("nothing.json", "is not there"),
        ("letter.pdf", "is no request"),
        ("pipe.json", "a pipe or a device"),
        ("zero.json", "a pipe or a device"),
        ("jobs.csv", "a pipe or a device"),
        (f"{LONG}.json", "File name too long"),
    )
]
LOGS = [
    Call(f"{command} {{tmp}}/{name}", told)
    for command in ("load --book {tmp}/newbook", "map")
    for name, told in (
        ("pipe.csv", "a pipe or a device"),
        ("pipe.zip", "a pipe or a device"),
        ("zero.csv", "a pipe or a device"),
        ("zero.zip", "a pipe or a device"),
        ("nothing.csv", "is not there"),
        ("empty.zip", "no readable archive|damaged|holds no table|is empty"),
        (f"{LONG}.csv", "File name too long"),
    )
]
KINDS = [
    Call("load {tmp}/letter.pdf --book {tmp}/newbook", "is no table of the job log"),
    Call("load {tmp}/old.xls --book {tmp}/newbook", "save it as XLSX"),
    Call("load {tmp}/empty.csv --book {tmp}/newbook", "is empty"),
    Call("load {tmp}/empty.xlsx --book {tmp}/newbook", "empty.xlsx"),
    Call("load {tmp}/empty.parquet --book {tmp}/newbook", "empty.parquet"),
    Call("load {tmp}/folder --book {tmp}/newbook", "holds no table"),
    Call("load {good} --book {tmp}", "a folder with other things in it"),
    Call("load {good} --book {tmp}/taken.csv", "cannot be written"),
    Call("load {good} --book {tmp}/" + LONG, "File name too long"),
    Call("map {tmp}/letter.pdf", "There is no table here"),
    Call("map {good} --out {tmp}/taken.csv", "not overwritten"),
    Call("map {good} --out {tmp}/no/where.toml", "is not there; make it first"),
    Call("map {good} --out {tmp}/" + LONG, "File name too long"),
]
MAPPINGS = [
    Call(f"load {{good}} --book {{tmp}}/newbook --mapping {{tmp}}/{name}", told)
    for name, told in (
        ("deep.toml", "nested too deep"),
        ("nested.toml", "nested too deep"),
        ("digits.toml", "a number of more than 300 digits"),
        ("broken.toml", "is not valid TOML"),
        ("strange.toml", "'colour' is no key"),
        ("latin.toml", "not UTF-8"),
        ("pipe.toml", "a pipe or a device"),
        ("zero.toml", "a pipe or a device"),
        ("nothing.toml", "is not there"),
        ("folder", "is a folder and no file"),
    )
]
OUTS = [
    Call("export jobs {tmp}/" + LONG + ".csv --book {book}", "File name too long"),
    Call("export jobs {tmp}/no/where.csv --book {book}", "is not there; make it first"),
    Call("export jobs /proc/new.csv --book {book}", "/proc/new.csv cannot be written"),
    Call("export jobs /proc/new.parquet --book {book}", "/proc/new.parquet cannot be written"),
    Call("export jobs /proc/new.xlsx --book {book}", "/proc/new.xlsx cannot be written"),
    Call("export jobs {tmp}/taken.csv --book {book}", "not overwritten"),
    Call("export jobs {tmp}/new.pdf --book {book}", "must end in"),
    Call("export sludge {tmp}/new.csv --book {book}", "There is no table 'sludge'"),
    Call("export quotes {tmp}/" + LONG + ".csv --book {book}", "File name too long"),
    Call("rejects --xlsx {tmp}/no/where.xlsx --book {book}", "is not there; make it first"),
    Call("rejects --xlsx /proc/new.xlsx --book {book}", "/proc/new.xlsx cannot be written"),
    Call("rejects --xlsx {tmp}/taken.xlsx --book {book}", "not overwritten"),
    Call("rejects --xlsx {tmp}/new.csv --book {book}", "must end in .xlsx"),
    Call("rejects --xlsx {tmp}/" + LONG + ".xlsx --book {book}", "File name too long"),
    Call("rejects --xlsx {tmp}/new.xlsx --all --book {book}", "leave --all out"),
    Call("rejects --xlsx {tmp}/new.xlsx --batch none --book {book}", "received no batch none"),
    Call("report H-01 --book {book}", "Name the file to write"),
    Call("report H-01 --pdf {tmp}/taken.pdf --book {book}", "is there already"),
    Call("report H-01 --pdf {tmp}/no/where.pdf --book {book}", "is not there; make it first"),
    Call("report H-01 --pdf /proc/new.pdf --book {book}", "/proc/new.pdf cannot be written"),
    Call("report H-01 --pdf {tmp}/" + LONG + ".pdf --book {book}", "File name too long"),
    Call("report none --pdf {tmp}/new.pdf --book {book}", "is not in the book"),
    Call("report H-01 --text {tmp}/new.txt --book {book}", "--text is for a quote"),
    Call("report {tmp}/deep.json --pdf {tmp}/new.pdf --book {book}", "nested too deep"),
    Call("format {tmp}/taken.csv", "cannot be written"),
    Call("format {tmp}/" + LONG, "File name too long"),
    Call("format /proc/templates", "cannot be written"),
    Call("format --table sludge", "no table 'sludge'"),
    Call("simulate /proc/new --jobs 2", "/proc/new cannot be written"),
    Call("simulate {tmp}/taken.csv --jobs 2", "not an empty folder"),
    Call("simulate {tmp}/" + LONG + " --jobs 2", "File name too long"),
    Call("simulate {tmp}/new --jobs 2 --scenario none", "no scenario 'none'"),
]
JOBS = [
    Call("history none --book {book}", "was ever received"),
    Call("watch none --book {book}", "is not in the book"),
    Call("watch H-01 --at soon --book {book}", "is no time"),
    Call("watch H-01 --at 1970-01-01T00:00 --book {book}", "lies before the flush"),
    Call("replay --at soon --book {book}", "are no shares"),
    Call("replay --at 7 --book {book}", "Shares of the flush lie between"),
    Call("quotes --job H-01 --book {book}", "goes with --became"),
    Call("quotes --became Q00009 won --book {book}", "There is no quote 'Q00009'"),
    Call("quotes --became Q00009 eaten --book {book}", "is no state of a quote"),
    Call("history H-01 --book {book}", "`sludgebook rebuild --book .*` makes them again", wrong.cut_checked),
    Call("history H-01 --book {book}", "damaged manifest", wrong.cut_manifest),
    Call("rejects --book {book}", "damaged manifest", wrong.cut_manifest),
    Call("rejects --xlsx {tmp}/new.xlsx --book {book}", "damaged manifest", wrong.cut_manifest),
    Call("load {good} --book {book}", "damaged manifest", wrong.cut_manifest),
    Call("rebuild --book {book}", "damaged manifest", wrong.cut_manifest),
    Call("rebuild --book {none}", "There is no book at"),
    Call("load {good} --book {book}", "damaged manifest", wrong.pipe_for_manifest),
    Call("load {again} --book {book}", "id.key, .* has 0 bytes and not 32; restore it", wrong.emptied_key),
]
SETTINGS = [
    Call("quote {tmp}/good.json --book {book}", told, harm)
    for told, harm in (
        ("a number of more than 300 digits", wrong.settings("hourly_rate = " + "9" * 5_000)),
        ("`hourly_rate` = 9+… is outside", wrong.settings("hourly_rate = " + "9" * 299)),
        ("`hourly_rate` = .* is outside", wrong.settings("hourly_rate = inf")),
        ("`hourly_rate` = .* is outside", wrong.settings("hourly_rate = nan")),
        ("nested too deep", wrong.settings("hourly_rate = " + "[" * 5_000 + "]" * 5_000)),
        ("is no setting", wrong.settings("colour = 1")),
        ("is not valid TOML", wrong.settings("hourly_rate = ")),
        ("a pipe or a device", wrong.pipe_for_settings),
    )
]
MARKS = [
    Call("report H-01 --pdf {tmp}/new.pdf --book {book}", told, harm)
    for told, harm in (
        ("has too many points; a mark may have at most 40,000,000", wrong.vast_mark),
        ("is 9,000 by 9,000 points; a mark may have at most 40,000,000", wrong.large_mark),
        ("name a PNG or JPEG picture", wrong.no_mark),
        ("`mark_file` of firm.toml names gone.png", wrong.settings("mark_file = 'gone.png'")),
    )
]
NOT_WHOLE = {"format": 2, "versions": [], "facts": 7, "files": "x"}
MODELS = [
    Call("quote {tmp}/good.json --book {book}", f"{told}; run `sludgebook train`", harm)
    for told, harm in (
        ("manifest.json is no manifest", wrong.model_files("manifest.json", b"")),
        ("manifest.json is no manifest", wrong.model_files("manifest.json", b"[" * 50_000)),
        ("manifest.json is not whole", wrong.model_files("manifest.json", b"[]")),
        ("manifest.json is not whole", wrong.model_files("arrays.npz", b"", NOT_WHOLE)),
        ("arrays.npz cannot be read", wrong.model_files("arrays.npz", b"")),
        ("arrays.npz cannot be read", wrong.model_files("arrays.npz", b"PK\x03\x04 foreign")),
        ("arrays.npz cannot be read", wrong.model_files("arrays.npz", b"\x80\x04K\x01.")),
        ("arrays.npz is missing", wrong.model_files("other.npz", b"x")),
    )
]
KEEPING = [
    Call("backup {none} {tmp}/new.zip", "There is no book at"),
    Call("backup {book} {tmp}/taken.zip", "not overwritten"),
    Call("backup {book} {tmp}/new.tar", "must end in .zip"),
    Call("backup {book} {book}/new.zip", "name a place outside"),
    Call("backup {book} {tmp}/no/new.zip", "is not there; make it first"),
    Call("backup {book} {tmp}/" + LONG + ".zip", "File name too long"),
    Call("backup {book} /proc/new.zip", "could not be written"),
    Call("restore {tmp}/nothing.zip {tmp}/new", "is not there"),
    Call("restore {tmp}/empty.zip {tmp}/new", "is no whole backup"),
    Call("restore {tmp}/taken.zip {tmp}/new", "is no whole backup"),
    Call("restore {tmp}/pipe.zip {tmp}/new", "is no file"),
    Call("restore {tmp}/zero.zip {tmp}/new", "is no file"),
    Call("restore {tmp}/folder {tmp}/new", "is no file"),
    Call("restore {tmp}/taken.zip {tmp}", "is there already"),
    Call("restore {tmp}/taken.zip {tmp}/no/new", "is not there; make it first"),
    Call("restore {tmp}/taken.zip {tmp}/" + LONG, "File name too long"),
    Call("serve --book {tmp}/taken.csv --no-browser", "is no folder"),
    Call("serve --book {book} --address 203.0.113.9 --no-browser", "cannot listen on 203.0.113.9"),
    Call("serve --book {book} --address no.such.host.invalid --no-browser", "cannot listen on no.such"),
    Call(f"serve --book {{book}} --address {LONG} --no-browser", "cannot listen on"),
]
CALLS = [
    *(NO_BOOK + A_FILE + LONG_BOOK + OTHER_FOLDER + BUILDS + REQUESTS + LOGS + KINDS + MAPPINGS + OUTS + JOBS),
    *(SETTINGS + MARKS + MODELS + KEEPING),
]
USAGE = (
    *("", "sludge", "load", "quote", "watch", "backup", "backup {book}", "restore", "demo --jobs 0", "demo --jobs x"),
    *(
        "serve --port 0",
        "serve --port 70000",
        "simulate",
        "simulate {tmp}/new --seed -1",
        "export jobs",
        "load --sludge x",
    ),
    *("simulate {tmp}/new --format pdf", "quotes --became Q00001", "map {good} --heading-line -1"),
)


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What the places in a call stand for; read only."""
    folder = tmp_path_factory.mktemp("calls")
    book = Book(folder / "book")
    load([HAND_WRITTEN], book)
    (folder / "odd").mkdir()
    wrong.odd_files(folder / "odd")
    (folder / "again").mkdir()
    text = (HAND_WRITTEN / "emitters.csv").read_text(encoding="utf-8")
    (folder / "again" / "emitters.csv").write_text(f"{text}H-02,9,column,600,600,0,15,no\n", encoding="utf-8")
    places = {"tmp": folder / "odd", "book": book.path, "none": folder / "none", "good": HAND_WRITTEN}
    return {name: str(path) for name, path in (places | {"again": folder / "again"}).items()}


@pytest.fixture(autouse=True)
def _ends() -> Iterator[None]:
    """A call that waits or reads for ever is a fault, not a test that never ends."""

    def late(number: int, _: object) -> None:
        raise AssertionError(f"the call took too long ({signal.Signals(number).name})")

    timers = ((signal.ITIMER_REAL, signal.SIGALRM, WAITS_S), (signal.ITIMER_PROF, signal.SIGPROF, BUSY_S))
    before = [signal.signal(number, late) for _, number, _ in timers]
    for timer, _, seconds in timers:
        signal.setitimer(timer, seconds)
    yield
    for (timer, number, _), was in zip(timers, before, strict=True):
        signal.setitimer(timer, 0)
        signal.signal(number, was)


Typed = Callable[[str, dict[str, str]], tuple[int, str]]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typed:
    """Type a call in this very process: exit status, standard error."""

    def run(call: str, places: dict[str, str]) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["sludgebook", *(part.format(**places) for part in call.split())])
        with pytest.raises(SystemExit) as ended:
            main()
        return int(ended.value.code or 0), capsys.readouterr().err

    return run


@pytest.mark.skipif(sys.platform != "linux", reason="pipes, /dev/zero and /proc stand for odd files and places")
@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_a_wrong_call_is_told_in_one_sentence_with_status_two(
    call: Call, typed: Typed, places: dict[str, str], tmp_path: Path
) -> None:
    if call.harm is not None:
        shutil.copytree(places["book"], tmp_path / "book")
        places = {**places, "book": str(tmp_path / "book")}
        call.harm(Book(tmp_path / "book"))
    (Path(places["tmp"]) / "newbook").mkdir(exist_ok=True)  # a book is begun before its files are looked into
    before = sorted(Path(places["tmp"]).iterdir())

    status, told = typed(call.typed, places)

    lines = [line for line in told.splitlines() if not line.endswith("…")]  # what runs is said before
    assert status == 2, told
    assert len(lines) == 1, told
    assert re.search(call.told, lines[0]), lines[0]
    assert not re.search(r"Traceback|The program failed|The cause|\bdelete\b", told), told
    assert sorted(Path(places["tmp"]).iterdir()) == before


@pytest.mark.parametrize("call", USAGE)
def test_a_call_that_cannot_be_understood_shows_how_to_call(call: str, typed: Typed, places: dict[str, str]) -> None:
    status, told = typed(call, places)

    assert (status, "Traceback" in told) == (2, False)
    assert "Usage:" in told or "Error:" in told or not call


def test_there_are_as_many_wrong_calls_as_were_asked_for_each_once() -> None:
    names = [(call.typed, call.harm) for call in CALLS]

    assert len(set(names)) == len(names) >= 150
