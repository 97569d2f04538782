"""What the commands around the catch print: what was learnt from past jobs, and these told again as they were then."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.cli import printing as text
from dashboard.cli.open_book import book_at
from dashboard.words import wording
from pipeline.contract.findings import BadInput

if TYPE_CHECKING:
    from models.catch.replay_clock import ClockScore
    from models.catch.replay_scores import ReplayScore
    from models.catch.stopping.train_stopping import Learnt

TOO_FEW = "There are too few finished jobs to hold forecasts against later ones: it takes 40 before."


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


def replay(path: Path, at: str, every: float | None, as_json: bool | None) -> None:
    """Print every finished job's forecast at shares of its flush, or every so many minutes by the clock, and what
    followed: JSON lines, or scores as text."""
    book = book_at(path)
    from dashboard.services import apart, replaying
    from dashboard.services.build_tables import whole_tables
    from models.catch.replay import checked_shares
    from pipeline.store.simulated import jobs_held

    shares = checked_shares(_shares(at))
    read = whole_tables(book.current())
    jobs = replaying.past_jobs(read, book.firm())
    with apart.commanded(book.path, text.bars, text.say_aside) as bars:
        with bars("Replaying") as show:
            rows = replaying.replay(jobs, shares, show, every=every)
            if text.wants_json(as_json):
                held = jobs_held(book)
                for row in rows:
                    text.json_line(held.beside(row.as_json()))
                return
            told = list(rows)
        if every is not None:
            from models.catch.replay_clock import clock_scores

            return print_clock(clock_scores(told), every)
        found = replaying.scores(told, jobs, read, bars)
    _print_scores(found)


def _shares(at: str) -> list[float]:
    try:
        return [float(part) for part in at.split(",") if part.strip()]
    except ValueError:
        raise BadInput(f"{at!r} are no shares of a flush; write 0.25,0.5,0.75.") from None


def _print_scores(found: list[ReplayScore]) -> None:
    if not found:
        return text.say(TOO_FEW)
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


def print_clock(found: list[ClockScore], every: float) -> None:
    """How often the ranges held by the clock, a row a group of moments."""
    if not found:
        return text.say(TOO_FEW)
    rows = [
        [
            _when(score),
            f"{score.moments:,}",
            f"{score.jobs:,}",
            f"{score.kg_coverage_80:.0%}",
            f"{score.minutes_coverage_80:.0%}",
        ]
        for score in found
    ]
    headings = ["", "forecasts", "jobs", "kilograms", "minutes left"]
    text.table(headings, rows, f"How often the 80 % range held, asked every {every:g} minutes of the flush")
    text.say("By earlier jobs only. The last hour and the last tenth of a flush are known with hindsight alone.")


def _when(score: ClockScore) -> str:
    if score.from_minute is None or score.to_minute is None:
        return score.group
    return f"{score.from_minute:.0f} to {score.to_minute:.0f} min after the start"


def _against(ratio: float | None) -> str:
    return "–" if ratio is None else f"{ratio - 1.0:+.0%}"
