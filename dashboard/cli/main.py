"""The `sludgebook` command: argument parsing only. What each command does is in `commands` and beside it.

Each command imports what it does when it is called: help and a wrong call are answered at once.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Literal

import typer

from dashboard.cli import pool
from dashboard.cli.door import STOPPED, STOPPED_SENTENCE, forget, remember, sentence_and_status
from dashboard.cli.printing import say_error

app = typer.Typer(
    name="sludgebook",
    help="Keeps the job records of contractors who clean fouled wet heating systems, and works them.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


app.add_typer(pool.app)

BookOption = Annotated[Path, typer.Option("--book", help="Folder of the book.", show_default=True, callback=remember)]
JsonOption = Annotated[
    bool | None,
    typer.Option("--json/--text", help="JSON or plain text; JSON by itself where the output is not a terminal."),
]
FirmOption = Annotated[
    str | None, typer.Option(help="Of the audit: this firm's jobs, and its effects against the unnamed others.")
]
DEFAULT_BOOK = Path("sludgebook-book")


@app.command()
def demo(
    jobs: Annotated[int, typer.Option(min=1, max=200_000, help="Simulated jobs.")] = 1000,
    book: BookOption = Path("sludgebook-demo"),
    serve: Annotated[bool, typer.Option("--serve/--no-serve", help="Open the dashboard at the end.")] = True,
) -> None:
    """Simulate a firm, load its logs, train the models, open the dashboard: the first thing to run."""
    from dashboard.cli import commands

    commands.demo(book, jobs)
    if serve:
        from dashboard.cli.serve import serve as serve_dashboard

        serve_dashboard(book)


@app.command()
def simulate(
    out: Annotated[Path, typer.Argument(help="New folder for the job logs; the truth is written beside it.")],
    jobs: Annotated[int | None, typer.Option(min=1, max=1_000_000, help="Jobs; the scenario's own by default.")] = None,
    seed: Annotated[int, typer.Option(min=0, help="Same seed, same bytes.")] = 1,
    scenario: Annotated[str, typer.Option(help="Name of the world; `list` prints them.")] = "usual",
    format: Annotated[Literal["csv", "parquet", "xlsx"], typer.Option(help="Kind of file.")] = "csv",
    effects: Annotated[
        bool, typer.Option("--effects", help="Run every job with and without each practice too: the true effects.")
    ] = False,
    json: JsonOption = None,
) -> None:
    """Write simulated job logs: a documented, invented world, never evidence about real houses."""
    from dashboard.cli import commands

    commands.simulate(out, jobs, seed, scenario, format, json, effects=effects)


@app.command(name="format")
def format_(
    out: Annotated[Path | None, typer.Argument(help="Folder for empty CSV files and one workbook.")] = None,
    table: Annotated[str | None, typer.Option(help="Print this table only.")] = None,
    json: JsonOption = False,
) -> None:
    """Print the job log format, or write empty files that a firm can fill in."""
    from dashboard.cli import commands

    commands.print_format(out, table, json)


@app.command()
def load(
    paths: Annotated[list[Path], typer.Argument(help="Folders or files (CSV, XLSX, ODS, Parquet, JSON lines, ZIP).")],
    book: BookOption = DEFAULT_BOOK,
    mapping: Annotated[
        Path | None, typer.Option(help="How a firm's own headings become the job log; kept in the book.")
    ] = None,
    strict: Annotated[
        bool, typer.Option(help="End with status 1 when a row was rejected or waits, or a file is set aside.")
    ] = False,
    json: JsonOption = None,
) -> None:
    """Receive, check and build: every row is accounted for, the same files twice change nothing.

    Files that a later load replaced rows of are a correction when handed in again: they count as they stand.
    """
    from dashboard.cli import commands

    raise typer.Exit(commands.load(paths, book, strict, json, mapping))


@app.command(name="map")
def map_(
    paths: Annotated[list[Path], typer.Argument(help="Folders or files with a firm's own headings.")],
    out: Annotated[Path | None, typer.Option(help="New TOML file; printed where none is named.")] = None,
    heading_line: Annotated[
        int, typer.Option(min=0, help="Line that the headings stand on; 0 finds it. For sheets with two rows of them.")
    ] = 0,
    json: JsonOption = False,
) -> None:
    """Propose how a firm's own headings become the job log; edit the file, then load with it."""
    from dashboard.cli.map import map_command

    map_command(paths, out, as_json=bool(json), heading_line=heading_line)


@app.command()
def rejects(
    book: BookOption = DEFAULT_BOOK,
    xlsx: Annotated[Path | None, typer.Option(help="Write them to this new workbook, to be mended and loaded.")] = None,
    batch: Annotated[str | None, typer.Option(help="Of this batch only.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Also those that a later load brought again.")] = False,
    json: JsonOption = None,
) -> None:
    """List the files set aside whole, and the rejected rows with file, line, column, value and reason."""
    from dashboard.cli import book as commands

    commands.rejects(book, json, xlsx, batch, every=every)


@app.command()
def history(
    job: Annotated[str, typer.Argument(help="JOB or FIRM/JOB.")],
    book: BookOption = DEFAULT_BOOK,
    json: JsonOption = None,
) -> None:
    """Show each version of each row of a job: from which file, when, what became of it."""
    from dashboard.cli import book as commands

    commands.history(job, book, json)


@app.command()
def verify(book: BookOption = DEFAULT_BOOK, json: JsonOption = None) -> None:
    """Derive every hash, count and build again and compare; status 1 when something differs."""
    from dashboard.cli import book as commands

    raise typer.Exit(commands.verify(book, json))


@app.command()
def rebuild(book: BookOption = DEFAULT_BOOK, json: JsonOption = None) -> None:
    """Make checked rows and build again from the received files, where something broke them."""
    from dashboard.cli import keeping

    keeping.rebuild(book, json)


@app.command()
def backup(
    book: Annotated[Path, typer.Argument(help="Folder of the book.", callback=remember)],
    out: Annotated[Path, typer.Argument(help="New ZIP file outside the book, best on another disk.")],
    json: JsonOption = None,
) -> None:
    """Write the whole book to one ZIP file and read it back; status 1 when the book has lost something already."""
    from dashboard.cli import keeping

    raise typer.Exit(keeping.back_up(book, out, json))


@app.command()
def restore(
    backup: Annotated[Path, typer.Argument(help="ZIP file that `backup` wrote.")],
    book: Annotated[Path, typer.Argument(help="New folder for the book; nothing is overwritten.")],
    json: JsonOption = None,
) -> None:
    """Bring a book back from its backup, each file compared with what was backed up."""
    from dashboard.cli import keeping

    keeping.restore(backup, book, json)


@app.command()
def train(book: BookOption = DEFAULT_BOOK, json: JsonOption = None) -> None:
    """Fit the quote models and hold them against simple peers on later jobs."""
    from dashboard.cli import commands

    commands.train(book, json)


@app.command()
def quote(
    request: Annotated[Path, typer.Argument(help="One JSON file, or a job-log folder of survey and plan columns.")],
    book: BookOption = DEFAULT_BOOK,
    what_if: Annotated[
        bool | None,
        typer.Option(
            "--what-if/--no-what-if",
            help="Add other plans and the worth of a water sample; by itself for up to 20 jobs.",
        ),
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Keep each quote in the book, to hold against the job.")] = False,
    json: JsonOption = None,
) -> None:
    """Forecast kilograms, hours and price of jobs not done yet: one JSON line a job."""
    from dashboard.cli.quote import quote as quote_command

    quote_command(request, book, json, what_if, keep=keep)


@app.command()
def quotes(
    book: BookOption = DEFAULT_BOOK,
    became: Annotated[
        tuple[str, str] | None, typer.Option(help="Note that a quote was won, lost or withdrawn: Q00001 won.")
    ] = None,
    job: Annotated[str | None, typer.Option(help="With --became: the JOB or FIRM/JOB that it was done as.")] = None,
    json: JsonOption = None,
) -> None:
    """List the quotes kept in the book, or note what became of one."""
    from dashboard.cli.kept_quotes import quotes as quotes_command

    quotes_command(book, became, job, json)


@app.command()
def watch(
    job: Annotated[str, typer.Argument(help="JOB or FIRM/JOB.")],
    book: BookOption = DEFAULT_BOOK,
    at: Annotated[
        str | None, typer.Option(help="As it stood then: 2031-03-04T11:30, or 11:30 on the first day.")
    ] = None,
    json: JsonOption = None,
) -> None:
    """Tell what one job's catch says: is it levelling off, what is left."""
    from dashboard.cli import commands

    commands.watch(job, book, at, json)


@app.command()
def audit(
    book: BookOption = DEFAULT_BOOK,
    curves: Annotated[bool, typer.Option("--curves", help="Add the points of every curve to the JSON.")] = False,
    firm: FirmOption = None,
    json: JsonOption = None,
) -> None:
    """Weigh up which practices cut callbacks, by how much and how sure; compare engineers fairly."""
    from dashboard.cli.audit import audit as audit_command

    audit_command(book, json, curves=curves, firm_id=firm)


@app.command()
def replay(
    book: BookOption = DEFAULT_BOOK,
    at: Annotated[str, typer.Option(help="Shares of the flush.")] = "0.25,0.5,0.75",
    every: Annotated[float | None, typer.Option(help="Minutes between forecasts by the clock, such as 20.")] = None,
    json: JsonOption = None,
) -> None:
    """Tell every finished job again as `watch` would have then, by earlier jobs only: JSON lines, or scores."""
    from dashboard.cli.catch import replay as replay_command

    replay_command(book, at, every, json)


@app.command()
def report(
    what: Annotated[str, typer.Argument(help="JOB of the book, `audit`, or a request file: a quote.")],
    book: BookOption = DEFAULT_BOOK,
    pdf: Annotated[Path | None, typer.Option(help="New PDF file.")] = None,
    text: Annotated[Path | None, typer.Option(help="New text file with the words of the quote.")] = None,
    owner: Annotated[bool, typer.Option("--owner", help="The owner's sheet: cost, chance of loss, reasons.")] = False,
    firm: FirmOption = None,
) -> None:
    """Write a paper: the quote for a client, the sheet behind it for the owner, the report of a finished job."""
    from dashboard.cli.report import report as report_command

    report_command(what, book, pdf, text, owner=owner, firm_id=firm)


@app.command()
def export(
    table: Annotated[str, typer.Argument(help="A table, such as jobs; also quotes and quoted_and_done.")],
    out: Annotated[Path, typer.Argument(help="New file ending in .csv, .parquet or .xlsx.")],
    book: BookOption = DEFAULT_BOOK,
    json: JsonOption = None,
) -> None:
    """Write any table of the book to a file."""
    from dashboard.cli import commands

    commands.export(table, out, book, json)


@app.command()
def serve(
    book: BookOption = DEFAULT_BOOK,
    port: Annotated[int | None, typer.Option(min=1, max=65535, help="Port; the next free from 8501.")] = None,
    address: Annotated[str, typer.Option(help="Address to listen on; this machine only by default.")] = "127.0.0.1",
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open a browser window.")] = True,
) -> None:
    """Open the dashboard, on this machine only unless told otherwise."""
    from dashboard.cli.serve import serve as serve_dashboard

    serve_dashboard(book, port, address, open_browser=browser)


def main() -> None:
    """Run the command; what cannot be done ends with status 2 and one sentence, whatever the reason."""
    forget()
    try:
        app()
    except BrokenPipeError:
        sys.exit(0)
    except SystemExit as end:
        if end.code == STOPPED:  # the library of commands turns Ctrl+C into this and says nothing
            say_error(STOPPED_SENTENCE)
        raise
    except BaseException as error:  # a compiled library that panics raises what is no Exception
        sentence, status = sentence_and_status(error)
        say_error(sentence)
        sys.exit(status)
