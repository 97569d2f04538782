"""What the command prints: plain text for people, JSON for programs, progress on standard error."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from dashboard.words import wording
from pipeline.contract.controls import shown, shown_in_json

if TYPE_CHECKING:
    from models.catch.records.watch_result import Watch
    from pipeline.intake.load_report import LoadReport

Json = dict[str, Any]
Show = Callable[[int, int, str], None]
REJECTS_SHOWN = 20


def say(line: str) -> None:
    """One line to the person at the terminal."""
    typer.echo(shown(line))


def say_aside(line: str) -> None:
    """One line on standard error, beside what a program reads."""
    typer.echo(shown(line), err=True)


def say_error(sentence: str) -> None:
    """One sentence on standard error."""
    typer.echo(f"sludgebook: {shown(sentence)}", err=True)


def wants_json(as_json: bool | None) -> bool:
    """What was asked for, else JSON where the output is not a terminal."""
    return not sys.stdout.isatty() if as_json is None else as_json


def json_out(data: object) -> None:
    """Data as indented JSON; NaN and infinity never appear."""
    typer.echo(shown_in_json(json.dumps(_clean(data), indent=1, ensure_ascii=False, default=str, allow_nan=False)))


def json_line(data: object) -> None:
    """Data as one line of JSON."""
    try:
        line = json.dumps(data, ensure_ascii=False, default=str, allow_nan=False)
    except ValueError:  # a figure that is not finite: rare, and going through every line for it is slow
        line = json.dumps(_clean(data), ensure_ascii=False, default=str, allow_nan=False)
    typer.echo(shown_in_json(line))


def _clean(data: object) -> object:
    if isinstance(data, dict):
        return {str(key): _clean(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_clean(value) for value in data]
    return None if isinstance(data, float) and not math.isfinite(data) else data


@contextmanager
def progress(title: str) -> Iterator[Show]:
    """A bar on standard error; nothing is drawn where that is not a terminal, but a line says what runs."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    if not console.is_terminal:
        typer.echo(f"{shown(title)} …", err=True)
    words = (TextColumn(f"{{task.{field}}}", markup=False) for field in ("description", "fields[step]"))
    columns = (next(words), BarColumn(), next(words), TimeElapsedColumn())
    with Progress(*columns, console=console, disable=not console.is_terminal) as bar:
        task = bar.add_task(title, total=None, step="")

        def show(done: int, total: int, step: str) -> None:
            bar.update(task, completed=done, total=total, step=shown(step))

        yield show


@contextmanager
def bars(title: str) -> Iterator[Callable[[int, int], None]]:
    """The bar of one stage of a service."""
    with progress(title) as show:
        yield lambda done, of: show(done, of, f"{done:,} of {of:,}")


def table(headings: list[str], rows: list[list[str]], title: str = "") -> None:
    """A plain table; all columns but the first are set to the right."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    drawn = Table(title=title or None, title_justify="left", box=None, pad_edge=False)
    for index, heading in enumerate(headings):
        drawn.add_column(heading, justify="right" if index else "left", overflow="fold")
    for row in rows:
        drawn.add_row(*(Text(shown(cell)) for cell in row))  # text: cells are no markup
    Console().print(drawn)


def scenarios(described: dict[str, str], as_json: bool | None) -> None:
    """The simulator's worlds, a line each."""
    if wants_json(as_json):
        return json_out(described)
    for name, sentence in described.items():
        say(f"{name:<20} {sentence}")


def simulated(written: Any, as_json: bool | None) -> None:
    """What the simulator wrote."""
    if wants_json(as_json):
        return json_out(written.as_dict())
    say(f"{written.jobs} simulated jobs in {written.out}; the truth about them is in {written.truth}.")
    if written.later:
        say(f"Some rows are wrong on purpose ({written.slips}); {written.later} brings them right: load it afterwards.")
    if written.effects:
        say(f"The true effects of practices are in {written.effects}, both risks of each job in {written.risks}.")


def written(paths: tuple[Path, ...], as_json: bool | None) -> None:
    """Files that were written."""
    if as_json:
        return json_out([str(path) for path in paths])
    say("\n".join(f"Wrote {path}" for path in paths))


def loaded(report: LoadReport, as_json: bool | None) -> None:
    """The account of a load."""
    from dataclasses import asdict

    if wants_json(as_json):
        counts = {name: asdict(count) for name, count in report.tables.items()}
        notes = [finding.as_dict() for finding in report.findings]
        files = [{"file": each.file, "table": each.table, **asdict(each.counts)} for each in report.files]
        head = {"batch": report.batch, "build": report.build, "is_new": report.is_new, "tables": counts}
        return json_out({**head, "files": files, "findings": notes, "seconds": report.seconds})
    say("Received, checked and built." if report.is_new else "These files are in the book already; nothing changed.")
    states = ("rows", "accepted", "rejected", "duplicates", "waiting", "superseded")
    rows = [[name, *(f"{getattr(count, state):,}" for state in states)] for name, count in report.tables.items()]
    table(["table", *states], rows)
    for reject in report.rejects[:REJECTS_SHOWN]:
        value = f" {reject.value!r}" if reject.value is not None else ""
        say(f"  {reject.file} line {reject.line}: {reject.column}{value}: {reject.reason}")
    if len(report.rejects) > REJECTS_SHOWN:
        say(f"  and {len(report.rejects) - REJECTS_SHOWN} more: `sludgebook rejects` lists them all.")
    for finding in report.findings:
        say(finding.in_full)
    say(f"Took {report.seconds:.1f} s.")


def rejected(rejects: list[Json], as_json: bool | None) -> None:
    """Every reject of the book."""
    if wants_json(as_json):
        return json_out(rejects)
    if not rejects:
        return say("No row was rejected.")
    names = ("file", "table", "line", "column", "value", "reason")
    table(list(names), [["" if row[name] is None else str(row[name]) for name in names] for row in rejects])


def trained(report: Json, as_json: bool | None) -> None:
    """Back-test scores beside the simple peers, and what an owner acts on."""
    from models.quote.outturn import NAMES

    if wants_json(as_json):
        return json_out(report)
    say(f"Fitted on {report['jobs']:,} finished jobs, {report['window_from']} to {report['window_to']}.")
    for finding in report["findings"]:
        say(finding["sentence"])
    rows = []
    for name, scores in report["backtest"]["targets"].items():
        peer = scores["best_peer"] or "none"
        rows.append(
            [
                wording.TARGETS.get(name, name),
                f"{scores['jobs']:,}",
                f"{scores['pinball']:.3g} {scores['unit']}",
                f"{scores['peers'][peer]:.3g} ({peer.replace('_', ' ')})" if peer in scores["peers"] else "–",
                f"{scores['coverage']['share_80']:.0%}",
                f"{scores['coverage']['share_90']:.0%}",
            ]
        )
    if not rows:
        return say("These are too few jobs to hold forecasts against later ones; the scores come with more jobs.")
    headings = ["", "later jobs", "mean error", "best simple rule", "80 % holds", "90 % holds"]
    table(headings, rows, "Held against jobs later than those fitted")
    acted_on = [
        [NAMES[each["name"]], f"{each['jobs']:,}", *(f"{each[part]:.1%}" for part in ("told", "came", "low", "high"))]
        for each in report["backtest"]["acted_on"]
    ]
    if acted_on:
        table(["", "later jobs", "told", "came", "from", "to"], acted_on, "What you act on, told and come")


def quoted(quotes: Iterable[Json], refused: list[Json], as_json: bool | None) -> None:
    """Quotes, one JSON line a job; or a short account of each."""
    if wants_json(as_json):
        for each in chain(quotes, refused):
            json_line(each)
        return
    for each in quotes:
        _quote_text(each)
    for each in refused:
        say(f"{each['firm_id']}/{each['job_id']} cannot be quoted: {each['refused']}")


def _quote_text(quote: Json) -> None:
    def span(name: str, show: Callable[[float], str]) -> str:
        q = quote[name]
        return f"{show(q['p50'])} (could be {show(q['p10'])} to {show(q['p90'])})"

    say(f"{quote['firm_id']}/{quote['job_id']}")
    say(f"  magnetite, dry     {span('magnetite_kg', lambda v: f'{v:.2g} kg')}")
    say(f"  other debris, dry  {span('non_magnetic_kg', lambda v: f'{v:.2g} kg')}")
    say(f"  flush              {span('flush_minutes', wording.duration)}")
    say(f"  time on site       {span('site_minutes', wording.duration)}")
    say(f"  second day         {quote['second_day']:.0%} likely")
    price = quote["price"]
    say(f"  price before tax   {wording.money(price['price'], price['currency'])}")
    counted = price["callbacks"]
    if counted is not None and not counted["why_nought"]:
        say(f"  callbacks counted  {counted['chance']:.1%} of such jobs")
        if counted["why_plain"]:
            say(f"  The way of flushing does not move them. {counted['why_plain']}")
    for finding in quote["findings"]:
        say(f"  {finding['sentence']}")


def watched(seen: Watch, data: Json, as_json: bool | None) -> None:
    """What one job's catch says."""
    if wants_json(as_json):
        return json_out(data)
    say(seen.answer)
    if seen.where_next:
        say(seen.where_next)
    for emitter in seen.emitters:
        say(f"  {emitter.sentence}")
    for finding in seen.findings:
        say(finding.sentence)


def exported(name: str, out: Path, rows: int, as_json: bool | None) -> None:
    """What was exported."""
    if wants_json(as_json):
        return json_out({"table": name, "out": str(out), "rows": rows})
    from pipeline.contract import BUILT, JOB_LOG

    kind = BUILT.get(name) or JOB_LOG.get(name)
    say(f"{rows:,} rows of {name}{f' ({kind.grain})' if kind else ''} in {out}")
