"""What each command does: calls the parts in order and hands their results to `printing`."""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.cli import printing as text
from dashboard.cli.open_book import book_at
from pipeline.contract.findings import BadInput
from pipeline.contract.plain_names import as_typed
from pipeline.store.book import Book

if TYPE_CHECKING:
    from synthetic_data.logbook.writing import Format

DEMO_SEED = 7
DEMO_LABEL_DAYS = 14
"""The invented firm has read the label of its invented cleaner; another firm's settings begin without."""


def demo(path: Path, jobs: int) -> None:
    """Simulate, load and train one after the other; what is there already is kept."""
    from dashboard.services.training import is_trained

    started = time.perf_counter()
    logs = path.with_name(f"{path.name}-logs")
    if logs.is_dir() and any(logs.iterdir()):
        text.say(f"The logs in {logs} are there already and are used as they are.")
    else:
        simulate(logs, jobs, DEMO_SEED, "usual", "csv", as_json=False)
    load([logs], path, strict=False, as_json=False)
    book = Book(path)
    settings = book.firm_file.read_text(encoding="utf-8")
    settings = settings.replace("label_max_days = 0\n", f"label_max_days = {DEMO_LABEL_DAYS}\n")
    book.firm_file.write_text(settings, encoding="utf-8")
    if is_trained(book):
        text.say("The models of these jobs are fitted already.")
    else:
        train(path, as_json=False)
    seconds = time.perf_counter() - started
    text.say(f"Ready after {seconds:.0f} s. `sludgebook serve --book {as_typed(path)}` opens the dashboard.")


def simulate(
    out: Path,
    jobs: int | None,
    seed: int,
    scenario: str,
    format: Format,
    as_json: bool | None,
    *,
    effects: bool = False,
) -> None:
    """Write simulated job logs to a new folder and the truth beside it; on request, the true effects of practices."""
    from synthetic_data.scenarios import SCENARIOS
    from synthetic_data.simulate import simulate_to_folder

    if scenario == "list":
        text.scenarios({name: world.meaning for name, world in SCENARIOS.items()}, as_json)
        return
    if scenario not in SCENARIOS:
        raise BadInput(f"There is no scenario {scenario!r}; there are {', '.join(SCENARIOS)}.")
    count = jobs or SCENARIOS[scenario].default_jobs
    try:
        with text.progress("Simulating jobs") as show:
            written = simulate_to_folder(
                out,
                jobs=count,
                seed=seed,
                scenario=scenario,
                format=format,
                effects=effects,
                progress=lambda done, of: show(done, of, f"{done:,} of {of:,}"),
            )
    except OSError as error:
        raise BadInput(f"{out} cannot be written: {error.strerror or error}.") from error
    text.simulated(written, as_json)


def print_format(out: Path | None, table: str | None, as_json: bool | None) -> None:
    """Print the contract, or write the templates to a folder."""
    from pipeline.contract.templates import format_data, format_text, write_templates

    if out is not None:
        text.written(write_templates(out), as_json)
    elif as_json:
        text.json_out(format_data())
    else:
        text.say(format_text(table))


def load(paths: list[Path], path: Path, strict: bool, as_json: bool | None, mapping: Path | None = None) -> int:
    """Load into the book; the exit status: 1 only if strict and something needs a person."""
    from pipeline.intake.load import load as load_into

    with text.progress("Loading") as show:
        report = load_into(paths, Book(path), show, mapping_file=mapping)
    text.loaded(report, as_json)
    needs_a_person = any(counts.rejected or counts.waiting for counts in report.tables.values())
    needs_a_person |= any(finding.code == "batch_set_aside" for finding in report.findings)
    return 1 if strict and needs_a_person else 0


def train(path: Path, as_json: bool | None) -> None:
    """Fit and store the models of the current build."""
    book = book_at(path)
    from dashboard.cli.catch import say_effects
    from dashboard.services import apart, training
    from pipeline.store.simulated import jobs_held

    with apart.commanded(book.path, text.bars, text.say_aside) as bars:
        done = training.train(book, bars=bars)
    text.trained(jobs_held(book).beside(done.as_json()), as_json)
    if not text.wants_json(as_json):
        say_effects(done.catch)


def watch(name: str, path: Path, at: str | None, as_json: bool | None) -> None:
    """Print what the catch of one job says at a moment."""
    book = book_at(path)
    build = book.current()
    from dashboard.services import watching
    from dashboard.services.build_tables import tables_of_job
    from dashboard.services.settings import settings
    from models.catch.records.serialization import as_json as watch_json
    from models.refusals import Refusal
    from pipeline.store.job_reads import find_job
    from pipeline.store.simulated import jobs_held

    firm_id, job_id = find_job(build, name)
    past = watching.past(book, build)
    job = watching.job_of_book(tables_of_job(build, firm_id, job_id), firm_id, job_id, settings(book), past)
    try:
        seen = watching.watch(job, None if at is None else _moment(at, job.started_at), past)
    except Refusal as refusal:
        raise BadInput(str(refusal)) from refusal
    text.watched(seen, jobs_held(book).beside(watch_json(seen)), as_json)


def _moment(at: str, started: datetime) -> datetime:
    for form in ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M", "%H:%M"):
        try:
            moment = datetime.strptime(at, form)
        except ValueError:
            continue
        if form == "%H:%M":
            moment = started.replace(hour=moment.hour, minute=moment.minute, second=0)
        if moment < started - timedelta(days=1):
            raise BadInput(f"{at} lies before the flush, which began {started:%Y-%m-%dT%H:%M}.")
        return moment
    raise BadInput(f"{at!r} is no time; write 2031-03-04T11:30, or 11:30 for the first day.")


def export(table: str, out: Path, path: Path, as_json: bool | None) -> None:
    """Write a table of the book to a file: one of its build, or one about the kept quotes."""
    book = book_at(path)
    from dashboard.cli import kept_quotes
    from dashboard.services.kept_quotes import TABLES
    from pipeline.store.export import export_table

    rows = kept_quotes.export(table, out, book) if table in TABLES else export_table(book, table, out)
    text.exported(table, out, rows, as_json)
