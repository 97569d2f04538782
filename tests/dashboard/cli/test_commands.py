"""The command as a person or a program meets it: output, exit status, one sentence when it cannot be done."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from dashboard.cli.catch import print_clock
from dashboard.cli.main import main
from models.catch.replay_clock import ClockScore
from pipeline.store.book import Book
from tests.dashboard.other_maker import write_other_jobs

HAND_WRITTEN = Path(__file__).parents[2] / "data" / "hand_written"
FORECASTS = ("magnetite_kg", "non_magnetic_kg", "flush_minutes", "site_minutes")
LEVELS = ["p05", "p10", "p25", "p50", "p75", "p90", "p95"]

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run `sludgebook …` in this process: (exit status, standard output, standard error)."""

    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["sludgebook", *(str(each) for each in arguments)])
        status = 0
        try:
            main()
        except SystemExit as ended:
            status = int(ended.code or 0)
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return call


@pytest.fixture(scope="module")
def hand_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The twelve jobs typed in by hand, loaded. Read only."""
    from pipeline.intake.load import load

    book = tmp_path_factory.mktemp("hand") / "book"
    load([HAND_WRITTEN], Book(book))
    return book


def test_simulate_load_rejects_export(run: Run, tmp_path: Path) -> None:
    status, out, _ = run("simulate", tmp_path / "logs", "--jobs", 12, "--seed", 3)
    assert (status, json.loads(out)["jobs"]) == (0, 12)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["logs", "logs-truth.parquet"]

    status, out, _ = run("load", tmp_path / "logs", "--book", tmp_path / "book")
    report = json.loads(out)
    assert (status, report["tables"]["jobs"]["accepted"]) == (0, 12)
    assert set(report) >= {"batch", "build", "tables", "files", "seconds"}
    (jobs,) = [each for each in report["files"] if each["file"] == "jobs.csv"]
    assert jobs == {"file": "jobs.csv", "table": "jobs", **report["tables"]["jobs"]}

    status, out, _ = run("rejects", "--book", tmp_path / "book")
    assert (status, json.loads(out)) == (0, [])

    status, out, _ = run("export", "jobs", tmp_path / "jobs.parquet", "--book", tmp_path / "book")
    assert (status, json.loads(out)["rows"]) == (0, 12)
    assert pl.read_parquet(tmp_path / "jobs.parquet").height == 12


def test_rejects_are_listed_with_file_line_column_value_and_reason(run: Run, hand_book: Path) -> None:
    _, out, _ = run("rejects", "--book", hand_book, "--json")

    rejects = json.loads(out)
    assert len(rejects) == 5
    assert rejects[0] == {
        "file": "catches.csv",
        "table": "catches",
        "line": 31,
        "column": "trap",
        "value": "sieve",
        "reason": "not one of magnet, strainer, machine_base",
    }


def test_strict_loading_ends_with_status_one_when_rows_need_a_person(run: Run, tmp_path: Path) -> None:
    assert run("load", HAND_WRITTEN, "--book", tmp_path / "book", "--strict")[0] == 1


def test_strict_loading_ends_with_status_one_where_rows_only_wait_and_with_none_once_their_job_came(
    run: Run, tmp_path: Path
) -> None:
    catches, jobs = tmp_path / "catches.csv", tmp_path / "jobs.csv"
    catches.write_text("job_id,catch_no,caught_at,trap,mass_g\na,1,2025-03-04T10:00,magnet,5\n", encoding="utf-8")
    times = "2025-03-04,2025-03-04T09:00,2025-03-04T15:00"
    head = "job_id,system_type,visit_date,flush_started_at,flush_ended_at"
    jobs.write_text(f"{head}\na,sealed,{times}\n", encoding="utf-8")
    book = ("--book", tmp_path / "book", "--strict")
    assert [run("load", path, *book)[0] for path in (catches, jobs, catches)] == [1, 0, 0]


def test_text_output_says_what_became_of_the_rows(run: Run, tmp_path: Path) -> None:
    status, out, _ = run("load", HAND_WRITTEN, "--book", tmp_path / "book", "--text")
    assert status == 0  # rejects alone are no failure
    assert "jobs.csv line 8: crew_size '0': outside 1..6" in out
    assert "2 rows wait for their jobs" in out


def check_quote(quote: dict[str, Any]) -> None:
    for name in FORECASTS:
        values = [quote[name][level] for level in LEVELS]
        assert values == sorted(values)
        assert values[0] >= 0
    assert 0 <= quote["second_day"] <= 1
    assert set(quote) >= {"firm_id", "job_id", "price", "why", "similar_jobs", "basis", "findings"}


def test_one_request_is_quoted(run: Run, tmp_path: Path, trained_book: Book) -> None:
    request = {"job_id": "q", "system_type": "sealed", "emitters": [{"emitter_kind": "panel_11"}] * 9}
    (tmp_path / "request.json").write_text(json.dumps(request), encoding="utf-8")
    status, out, _ = run("quote", tmp_path / "request.json", "--book", trained_book.path)

    (line,) = out.splitlines()
    quote = json.loads(line)
    assert (status, quote["job_id"]) == (0, "q")
    check_quote(quote)
    assert "simulated_only" in [finding["code"] for finding in quote["findings"]]


def test_jobs_of_another_maker_load_and_are_quoted_from_the_demo_book(
    run: Run, tmp_path: Path, trained_book: Book
) -> None:
    write_other_jobs(tmp_path / "other", jobs=25)
    _, out, _ = run("load", tmp_path / "other", "--book", tmp_path / "book")
    assert {n: (c["rows"], c["rejected"]) for n, c in json.loads(out)["tables"].items()}["jobs"] == (25, 0)

    status, out, _ = run("quote", tmp_path / "other", "--book", trained_book.path)
    quotes = [json.loads(line) for line in out.splitlines()]
    assert (status, len(quotes)) == (0, 25)
    for quote in quotes:
        check_quote(quote)


def test_a_bad_job_of_a_folder_is_refused_in_a_line_of_its_own(run: Run, trained_book: Book) -> None:
    status, out, _ = run("quote", HAND_WRITTEN, "--book", trained_book.path)
    refused = [json.loads(line) for line in out.splitlines() if "refused" in json.loads(line)]
    assert (status, len(out.splitlines())) == (0, 12)
    assert {each["job_id"] for each in refused} == {"H-05", "H-07"}


def test_watch_tells_what_was_known_at_the_time(run: Run, hand_book: Path) -> None:
    status, out, _ = run("watch", "H-01", "--book", hand_book, "--at", "11:10")
    seen = json.loads(out)

    assert (status, seen["at"]) == (0, "2024-03-11T11:10:00")
    assert seen["caught_kg"] == pytest.approx((420 + 210 + 90) / 2.0 / 1000)
    assert set(seen) >= {"remaining_kg", "level_off_at", "emitters", "one_more_hour", "findings"}
    assert run("watch", "H-01", "--book", hand_book, "--text")[1].strip() != ""


def test_replay_tells_finished_jobs_again_with_what_followed(run: Run, hand_book: Path) -> None:
    status, out, _ = run("replay", "--book", hand_book, "--at", "0.5")
    row = next(row for row in map(json.loads, out.splitlines()) if row["job_id"] == "H-01")

    assert (status, row["at"], row["learnt_from_jobs"]) == (0, 0.5, 0)
    assert row["then"]["remaining_kg"] >= 0
    assert "too few finished jobs" in run("replay", "--book", hand_book, "--text")[1]
    assert run("replay", "--book", hand_book, "--at", "half")[0] == 2


def test_replay_every_hour_asks_by_the_clock_to_the_last(run: Run, hand_book: Path) -> None:
    status, out, _ = run("replay", "--book", hand_book, "--every", "60")
    rows = [row for row in map(json.loads, out.splitlines()) if row["job_id"] == "H-01"]

    assert status == 0
    assert [row["minutes"] for row in rows] == [60.0 * at for at in range(1, len(rows) + 1)]
    assert 0 < rows[-1]["then"]["minutes"] <= 60.5
    assert "too few finished jobs" in run("replay", "--book", hand_book, "--every", "60", "--text")[1]
    status, _, err = run("replay", "--book", hand_book, "--every", "0")
    assert (status, "lie between 1 and 240" in err) == (2, True)


def test_scores_by_the_clock_are_printed_by_the_time_on_the_job(capsys: pytest.CaptureFixture[str]) -> None:
    scores = [
        ClockScore("all moments", 4052, 300, 0.827, 0.803),
        ClockScore("by the clock", 9, 5, 0.8, 0.7, 0.0, 140.0),
    ]

    print_clock(scores, 20.0)

    out = " ".join(capsys.readouterr().out.split())
    assert "asked every 20 minutes of the flush" in out
    assert {"4,052", "300", "83%", "80%"} <= set(out.replace("│", " ").split())
    assert "0 to 140 min after the start" in out


def test_train_reports_scores_beside_simple_peers(run: Run, tmp_path: Path, trained_book: Book) -> None:
    shutil.copytree(trained_book.path, tmp_path / "book")
    status, out, _ = run("train", "--book", tmp_path / "book")

    tested = json.loads(out)["backtest"]
    scores, waiting = tested["targets"], {each["facts"]["target"]: each["facts"] for each in tested["findings"]}
    assert status == 0
    assert set(scores) | set(waiting) == set(FORECASTS)
    # other debris is known only where somebody looked for it: in 56 of these 90 jobs, and testing takes 80
    assert {target: facts["found"] for target, facts in waiting.items()} == {"non_magnetic_kg": 56}
    assert set(scores["magnetite_kg"]["peers"]) == {"per_emitter", "group_median", "linear"}


def test_the_format_is_printed_and_templates_are_written(run: Run, tmp_path: Path) -> None:
    status, out, _ = run("format")
    assert (status, "system_type*" in out) == (0, True)
    tables = {table["table"]: table for table in json.loads(run("format", "--json")[1])}
    assert all(rule in out for table in tables.values() for rule in table["rules"])
    assert any("a gap over midnight" in rule for rule in tables["jobs"]["rules"])
    assert run("format", tmp_path / "templates")[0] == 0
    assert (tmp_path / "templates" / "job_log.xlsx").is_file()


def test_the_demo_runs_without_serving_and_a_second_time_does_nothing_new(run: Run, tmp_path: Path) -> None:
    first = run("demo", "--jobs", 50, "--book", tmp_path / "demo", "--no-serve")
    build = Book(tmp_path / "demo").current()
    second = run("demo", "--jobs", 50, "--book", tmp_path / "demo", "--no-serve")

    assert (first[0], second[0]) == (0, 0)
    assert (tmp_path / "demo-logs" / "jobs.csv").is_file()
    assert "nothing changed" in second[1]
    assert "fitted already" in second[1]
    assert Book(tmp_path / "demo").current() == build


@pytest.mark.parametrize(
    "arguments",
    [
        ("load", "{tmp}/nowhere", "--book", "{tmp}/b"),
        ("load", "{tmp}", "--book", "{tmp}/b"),
        ("load", "{tmp}/note.txt", "--book", "{tmp}/b"),
        ("load", "{tmp}/short/jobs.csv", "--book", "{tmp}/b"),
        ("load", "{hand}", "--book", "{tmp}/note.txt"),
        ("rejects", "--book", "{tmp}/nowhere"),
        ("train", "--book", "{tmp}"),
        ("quote", "{tmp}/nowhere.json", "--book", "{tmp}"),
        ("quote", "{tmp}/bad.json", "--book", "{tmp}"),
        ("watch", "a", "--book", "{tmp}/corrupt"),
        ("export", "jobs", "{tmp}/out.csv", "--book", "{tmp}/corrupt"),
        ("simulate", "{tmp}/short"),
        ("simulate", "{tmp}/new", "--scenario", "nowhere"),
        ("format", "--table", "sludge"),
        ("serve", "--book", "{tmp}/note.txt"),
    ],
)
def test_what_cannot_be_done_ends_with_status_two_and_one_sentence(
    arguments: tuple[str, ...], run: Run, tmp_path: Path
) -> None:
    (tmp_path / "note.txt").write_text("sand", encoding="utf-8")
    (tmp_path / "bad.json").write_text("{", encoding="utf-8")
    (tmp_path / "short").mkdir()
    (tmp_path / "short" / "jobs.csv").write_text("job_id\na\n", encoding="utf-8")
    for folder in ("received", "builds"):
        (tmp_path / "corrupt" / folder).mkdir(parents=True)
    (tmp_path / "corrupt" / "builds" / "x.duckdb").write_bytes(b"rubbish")
    (tmp_path / "corrupt" / "current").write_text("x.duckdb\n", encoding="utf-8")

    status, _, err = run(*(each.format(tmp=tmp_path, hand=HAND_WRITTEN) for each in arguments))

    said = [line for line in err.splitlines() if line.startswith("sludgebook: ")]
    assert (status, len(said)) == (2, 1)
    assert "Traceback" not in err


def test_after_a_load_the_models_of_the_build_before_still_serve_and_say_so(
    run: Run, tmp_path: Path, trained_book: Book
) -> None:
    shutil.copytree(trained_book.path, tmp_path / "book")
    run("load", HAND_WRITTEN, "--book", tmp_path / "book")
    (tmp_path / "r.json").write_text('{"system_type": "sealed"}', encoding="utf-8")
    status, out, _ = run("quote", tmp_path / "r.json", "--book", tmp_path / "book")

    check_quote(json.loads(out))
    assert status == 0
    assert "model_older_than_records" in [finding["code"] for finding in json.loads(out)["findings"]]


def test_a_flush_whose_minutes_nobody_can_know_is_refused_with_what_to_add(run: Run, tmp_path: Path) -> None:
    head = "job_id,system_type,visit_date,flush_started_at,flush_ended_at"
    ends = (("a", "14:00"), ("b", "03:00"))
    rows = (f"{job},sealed,2025-03-04,2025-03-04T22:00,2025-03-05T{ended}" for job, ended in ends)
    (tmp_path / "jobs.csv").write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    run("load", tmp_path / "jobs.csv", "--book", tmp_path / "book")
    status, _, told = run("watch", "a", "--book", tmp_path / "book")

    assert (status, "Add a weighing or a reading from before and after the night." in told) == (2, True)
    assert json.loads(run("watch", "b", "--book", tmp_path / "book")[1])["minutes"] == 300.0
