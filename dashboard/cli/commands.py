"""What each command does: calls the parts in order and hands their results to `printing`."""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.cli import printing as text
from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    from models.catch.records.job import JobCatch
    from pipeline.contract.firm import Firm
    from pipeline.store.book import Book
    from synthetic_data.logbook.writing import Format

DEMO_SEED = 7


def _book(path: Path) -> Book:
    from pipeline.store.book import Book

    return Book(path)


def demo(path: Path, jobs: int) -> None:
    """Simulate, load and train one after the other; what is there already is kept."""
    started = time.perf_counter()
    logs = path.with_name(f"{path.name}-logs")
    if logs.is_dir() and any(logs.iterdir()):
        text.say(f"The logs in {logs} are there already and are used as they are.")
    else:
        simulate(logs, jobs, DEMO_SEED, "usual", "csv", as_json=False)
    load([logs], path, strict=False, as_json=False)
    book = _book(path)
    if _is_trained(book):
        text.say("The models of these jobs are fitted already.")
    else:
        train(path, as_json=False)
    seconds = time.perf_counter() - started
    text.say(f"Ready after {seconds:.0f} s. `sludgebook serve --book {path}` opens the dashboard.")


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
        report = load_into(paths, _book(path), show, mapping_file=mapping)
    text.loaded(report, as_json)
    needs_a_person = any(counts.rejected or counts.waiting for counts in report.tables.values())
    needs_a_person |= any(finding.code == "batch_set_aside" for finding in report.findings)
    return 1 if strict and needs_a_person else 0


def train(path: Path, as_json: bool | None) -> None:
    """Fit and store the models of the current build."""
    from dashboard.cli.catch import learn_catch, learnt_json, say_effects
    from models.practice.cohort.audited_jobs import PracticeFrames
    from models.quote.model.callback_inputs import learn_and_store as learn_returns
    from models.quote.train import train_and_store
    from pipeline.store.book import read_table

    book = _book(path)
    build = book.current()
    features, outcomes = read_table(build, "ftr_quote"), read_table(build, "ftr_outcome")
    jobs, callback = read_table(build, "jobs"), read_table(build, "ftr_callback")
    with text.progress("Training") as show:
        report = train_and_store(
            features, outcomes, book.models_dir(build), progress=lambda done, of: show(done, of, "")
        )
    learn_returns(PracticeFrames(jobs, features, outcomes, callback), book.models_dir(build))
    with text.progress("Learning how crews work") as show:
        learnt = learn_catch(book, build, progress=lambda done, of: show(done, of, ""))
    text.trained({**report.as_json(), "catch": learnt_json(learnt)}, as_json)
    if not text.wants_json(as_json):
        say_effects(learnt)


def _is_trained(book: Book) -> bool:
    return (book.models_dir(book.current()) / "quote" / "manifest.json").is_file()


def watch(name: str, path: Path, at: str | None, as_json: bool | None) -> None:
    """Print what the catch of one job says at a moment."""
    from models.catch.records.serialization import as_json as watch_json
    from models.catch.stopping.storage import load_catch
    from models.catch.warnings.quote_expectation import with_expected
    from models.catch.watch import watch as watch_job
    from models.quote.model.storage import load_quote
    from models.refusals import Refusal

    book = _book(path)
    job = job_catch(book.current(), name, book.firm())
    moment = None if at is None else _moment(at, job.started_at)
    folder = book.fitted_models(book.current())
    learnt = load_catch(folder)
    if folder is not None:
        job = with_expected([job], load_quote(folder))[0]
    try:
        seen = watch_job(job, moment, learnt)
    except Refusal as refusal:
        raise BadInput(str(refusal)) from refusal
    text.watched(seen, watch_json(seen), as_json)


def job_catch(build: Path, name: str, firm: Firm) -> JobCatch:
    """One job of a build as the catch model takes it, an hour of its crew priced by the firm's rate."""
    from models.catch.records.job_frames import CatchFrames, job_catch
    from pipeline.store.job_reads import find_job, rows_of_job

    firm_id, job_id = find_job(build, name)
    tables = (
        "jobs",
        "ftr_job_day",
        "ftr_catch_curve",
        "ftr_emitter_curve",
        "ftr_emitter",
        "ftr_quote",
        "readings",
        "ftr_volume",
    )
    frames = CatchFrames(*(rows_of_job(build, table, firm_id, job_id) for table in tables))
    crew = frames.jobs["crew_size"].fillna(firm.crew_size).iloc[0]
    return job_catch(frames, firm_id, job_id, hourly_cost=firm.hourly_rate * float(crew), currency=firm.currency)


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
    from dashboard.cli import kept_quotes
    from pipeline.store.export import export_table

    book = _book(path)
    is_kept = table in kept_quotes.TABLES
    rows = kept_quotes.export(table, out, book) if is_kept else export_table(book, table, out)
    text.exported(table, out, rows, as_json)
