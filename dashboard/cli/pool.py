"""The commands `sludgebook pool …`: a lake of many firms, built here or on a Spark Connect server."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.cli import printing as text
from pipeline.contract.plain_names import as_typed

if TYPE_CHECKING:
    from pipeline.pool.engines import Engine

app = typer.Typer(
    name="pool",
    help="Many firms' jobs in one lake of Parquet files, for audits and forecasts over all of them.",
    no_args_is_help=True,
    add_completion=False,
)

IN_PROCESS = "duckdb"
LakeArgument = Annotated[Path, typer.Argument(help="Folder of the pool.")]
JsonOption = Annotated[
    bool | None,
    typer.Option("--json/--text", help="JSON or plain text; JSON by itself where the output is not a terminal."),
]


@app.command()
def add(
    book: Annotated[Path, typer.Argument(help="Folder of a firm's book.")],
    lake: Annotated[Path, typer.Argument(help="Folder of the pool; made when it is not there.")],
    json: JsonOption = None,
) -> None:
    """Put a book's checked rows into the pool, ids hidden, no notes, rooms or districts; twice adds nothing."""
    from pipeline.pool.add import add as add_book
    from pipeline.pool.lake import Lake
    from pipeline.store.book import Book

    added = add_book(Book(book), Lake(lake))
    if text.wants_json(json):
        text.json_out([{"firm": e.firm, "jobs": e.jobs, "rows": e.rows, "is_new": e.is_new} for e in added])
        return
    for each in added:
        what = "added" if each.is_new else "there already"
        text.say(f"{each.firm}: {each.jobs:,} jobs, {each.rows:,} rows, {what}.")
    text.say(f"`sludgebook pool build {as_typed(lake)}` works them out.")


@app.command()
def build(
    lake: LakeArgument,
    engine: Annotated[
        str, typer.Option(help="`duckdb`, in this process, or the Spark Connect server sc://HOST:PORT.")
    ] = IN_PROCESS,
    anew: Annotated[bool, typer.Option("--anew", help="Work out every firm, not only those that changed.")] = False,
    json: JsonOption = None,
) -> None:
    """Work out the tables of the firms whose rows changed; afterwards `--book LAKE` reads the pool like a book."""
    from pipeline.pool.build_pool import build_pool
    from pipeline.pool.lake import Lake

    with text.progress("Building the pool") as show:
        built = build_pool(Lake(lake), _engine(engine), show, anew=anew)
    if text.wants_json(json):
        facts = {"build": built.build, "firms": built.firms, "jobs": built.jobs, "worked_out": built.worked_out}
        text.json_out({**facts, "findings": [finding.as_dict() for finding in built.findings]})
        return
    for finding in built.findings:
        text.say(finding.in_full)
    text.say(
        f"{built.firms:,} firms, {built.jobs:,} jobs; {built.worked_out:,} worked out now. "
        f"`sludgebook train --book {as_typed(lake)}` learns from all of them."
    )


def _engine(name: str) -> Engine:
    if name == IN_PROCESS:
        from pipeline.pool.engines import InProcess

        return InProcess()
    from pipeline.pool.connect import OnServer

    return OnServer(name)


@app.command()
def withdraw(
    lake: LakeArgument,
    firm: Annotated[str, typer.Argument(help="The firm's id in the pool, as `pool add` and `pool list` tell it.")],
    json: JsonOption = None,
) -> None:
    """Take a firm out of the pool: its rows, its tables, its place in the build."""
    from pipeline.pool.lake import Lake
    from pipeline.pool.withdraw import withdraw as withdraw_firm

    withdraw_firm(Lake(lake), firm)
    if text.wants_json(json):
        text.json_out({"withdrawn": firm})
    else:
        text.say(f"{firm} is withdrawn. Forecasts learnt before still hold what it taught; learn again without it.")


@app.command(name="list")
def list_firms(lake: LakeArgument, json: JsonOption = None) -> None:
    """List the firms of the pool with their jobs."""
    from pipeline.pool.lake import Lake

    pool = Lake(lake)
    pool.check()
    parts, faults = pool.newest_parts()
    if text.wants_json(json):
        text.json_out({"firms": [{"firm": p.firm, "jobs": p.jobs} for p in parts], "left_out": list(faults)})
        return
    for part in parts:
        text.say(f"{part.firm}: {part.jobs:,} jobs")
    for fault in faults:
        text.say(fault)
    if not parts and not faults:
        text.say(f"The pool {lake} holds no firm yet. `sludgebook pool add BOOK {as_typed(lake)}` adds one.")
