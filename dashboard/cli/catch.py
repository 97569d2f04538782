"""What the commands around the catch do: learn from past jobs, and tell them again as they were told then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.cli import printing as text
from dashboard.words import wording
from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    from models.catch.records.job import JobCatch
    from models.catch.records.job_frames import CatchFrames
    from models.catch.replay import Replayed
    from models.catch.replay_scores import ReplayScore
    from models.catch.stopping.train_stopping import Learnt
    from pipeline.store.book import Book

TABLES = ("jobs", "ftr_job_day", "ftr_catch_curve", "ftr_emitter_curve", "ftr_emitter", "ftr_quote")


def catch_frames(build: Path) -> CatchFrames:
    """The tables of a build that a watch reads, of all jobs."""
    from models.catch.records.job_frames import CatchFrames
    from pipeline.store.book import read_table

    return CatchFrames(*(read_table(build, name) for name in TABLES))


def learn_catch(book: Book, build: Path, progress: Callable[[int, int], None]) -> Learnt | None:
    """Learn how crews work and what emitters hold from the jobs of a build, and keep it with its models."""
    from models.catch.records.job_frames import job_catches
    from models.catch.stopping.storage import effects_of, learn_and_store
    from pipeline.store.book import read_table

    frames = catch_frames(build)
    effects = effects_of(frames.catch_curve, read_table(build, "readings"))
    return learn_and_store(list(job_catches(frames)), book.models_dir(build), effects=effects, progress=progress)


def learnt_json(learnt: Learnt | None) -> dict[str, Any]:
    """What was learnt of the catch, as plain data: jobs, and effects of heat and flow where they could be told."""
    if learnt is None:
        return {"jobs": 0, "kinds": {}, "changes": {}, "release_effects": None}
    effects = None if learnt.effects is None else asdict(learnt.effects)
    kinds = {kind: crew.jobs for kind, crew in learnt.crews.items()}
    changes = {target: check.as_json() for target, check in learnt.changes.items()}
    return {"jobs": learnt.jobs, "kinds": kinds, "changes": changes, "release_effects": effects}


def say_effects(learnt: Learnt | None) -> None:
    """How crews have changed of late, and the effects of heat and flow within jobs, a line each."""
    from models.catch.stopping.stopping_wording import changed

    for finding in () if learnt is None else changed(learnt.changes):
        text.say(finding.sentence)
    if learnt is None or learnt.effects is None:
        return
    for effect in learnt.effects.effects:
        text.say(
            f"Within jobs, {effect.per}: debris comes {effect.ratio:.2f} times as fast "
            f"({effect.low:.2f} to {effect.high:.2f}), from {learnt.effects.jobs:,} jobs."
        )
    text.say(learnt.effects.not_told)


def past_jobs(book: Book, build: Path) -> list[JobCatch]:
    """Every job of a build, an hour of its crew priced by the firm's rate."""
    from models.catch.records.job_frames import job_catches

    firm, frames = book.firm(), catch_frames(build)
    crews = frames.jobs["crew_size"].fillna(firm.crew_size).astype(float)
    jobs = job_catches(frames, currency=firm.currency)
    return [replace(job, hourly_cost=firm.hourly_rate * crew) for job, crew in zip(jobs, crews, strict=True)]


def replay(path: Path, at: str, as_json: bool | None) -> None:
    """Print every finished job's forecast at shares of its flush and what followed: JSON lines, or scores as text."""
    from models.catch.replay import checked_shares
    from models.catch.replay import replay as replay_jobs
    from pipeline.store.book import Book

    book = Book(path)
    shares = checked_shares(_shares(at))
    build = book.current()
    jobs = past_jobs(book, build)
    with text.progress("Replaying") as show:
        rows = replay_jobs(jobs, shares, lambda done, of: show(done, of, f"{done:,} of {of:,}"))
        if text.wants_json(as_json):
            for row in rows:
                text.json_line(row.as_json())
            return
        told = list(rows)
    _print_scores(_scores(told, jobs, build))


def _scores(told: list[Replayed], jobs: list[JobCatch], build: Path) -> list[ReplayScore]:
    from models.catch.replay_scores import quote_quantiles, scores
    from pipeline.store.book import read_table

    with text.progress("Learning the quotes of the time") as show:
        steps = iter(range(1, 100))
        quotes = quote_quantiles(
            jobs, read_table(build, "ftr_quote"), read_table(build, "ftr_outcome"), lambda: show(next(steps), 5, "")
        )
    return scores(told, jobs, quotes)


def _shares(at: str) -> list[float]:
    try:
        return [float(part) for part in at.split(",") if part.strip()]
    except ValueError:
        raise BadInput(f"{at!r} are no shares of a flush; write 0.25,0.5,0.75.") from None


def _print_scores(found: list[ReplayScore]) -> None:
    if not found:
        return text.say("There are too few finished jobs to hold forecasts against later ones: it takes 40 before.")
    rows = [
        [
            wording.plain(score.group),
            f"{score.at:.0%}",
            f"{score.jobs:,}",
            f"{score.error_kg:.3f}",
            _against(score.against_naive),
            _against(score.against_quote),
            f"{score.coverage_80:.0%}",
            f"{score.coverage_90:.0%}",
        ]
        for score in sorted(found, key=lambda score: (score.group != "all jobs", score.group, score.at))
    ]
    headings = ["", "at", "jobs", "error, kg", "curve", "quote", "80 %", "90 %"]
    text.table(headings, rows, "Kilograms still to come, told by earlier jobs only")
    text.say(
        "Error: mean absolute error; curve, quote: less or more than by the naive curve where it gives a figure, and "
        "than by the quote alone; 80 %, 90 %: how often what came lay in that range."
    )


def _against(ratio: float | None) -> str:
    return "–" if ratio is None else f"{ratio - 1.0:+.0%}"
