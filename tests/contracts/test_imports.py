"""Imports point one way. Edit the tables here only together with the import picture in DEVELOPERS.md."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.contracts.parsed_source import nodes_of

if TYPE_CHECKING:
    from pipeline.store.book import Book

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipeline", "models", "synthetic_data", "dashboard")

_FACE = ("BUILT", "CONTRACT_VERSION", "DEFAULT_FIRM_ID", "JOB_LOG", "SIMULATED_PREFIX", "Column", "Table")
_CONTRACT = tuple(
    f"pipeline.contract.{name}"
    for name in (
        *_FACE,
        "built_tables",
        "columns",
        "job_log",
        "nights",
        "units",
        "findings",
        "controls",
        "whole_files",
        "photographs",
    )
)
_REFERENCE = "pipeline.contract.reference_tables"
_FIRM = "pipeline.contract.firm"
_WORDS = tuple(f"dashboard.words.{name}" for name in ("wording", "audit_words", "forecast_words", "literal"))

ALLOWED: dict[str, tuple[str, ...]] = {
    # module or package -> first-party prefixes it may import; the longest matching key decides
    "pipeline": ("pipeline",),
    "pipeline.contract": ("pipeline.contract",),
    "models": ("models", *_CONTRACT, _FIRM, _REFERENCE),
    "dashboard.notebook": ("dashboard.services", "models", *_CONTRACT, _FIRM, "pipeline.store.book"),
    "models.physics": ("models.physics", "pipeline.contract.units", _REFERENCE),
    "synthetic_data": ("synthetic_data", "models.physics", *_CONTRACT, _REFERENCE),
    "dashboard": (
        "dashboard",
        "models",
        *_CONTRACT,
        _FIRM,
        "pipeline.contract.glossary",
        "pipeline.intake.load_report.LoadReport",
    ),
    "dashboard.services": (
        "dashboard.services",
        "dashboard.papers",
        "dashboard.figures",
        "dashboard.words",
        "models",
        "pipeline",
    ),
    "dashboard.words": ("dashboard.words", "models", *_CONTRACT, _FIRM),
    "dashboard.figures": ("dashboard.figures", "dashboard.theme", *_WORDS, "models", *_CONTRACT),
    "dashboard.data": ("dashboard", "models", "pipeline"),
    "dashboard.simulator": ("dashboard", "models", *_CONTRACT, "synthetic_data"),
    "dashboard.cli": ("dashboard", "models", "pipeline", "synthetic_data"),
}

PLACES: dict[str, tuple[str, ...]] = {
    # library -> where it may be imported
    "streamlit": ("dashboard",),
    "duckdb": ("pipeline",),
    "sklearn": ("models", "dashboard.notebook"),
    "skops": ("models",),
    "plotly": ("dashboard",),
    "typer": ("dashboard.cli",),
    "pyspark": ("pipeline.pool",),
    "sqlglot": ("pipeline.pool",),
}

SERVERS = {"dashboard.cli.serve"}
"""Runs the library's own server."""

PRINTS_HELP = {"typer", "annotated_doc", "shellingham"}
READS_ARGUMENTS = {"pydantic", "pydantic_core", "annotated_types", "typing_extensions", "typing_inspection"}
"""The library of commands with what it stands on: its help, and its reading of arguments."""

ANSWERS_A_QUOTE = {"models", "numpy", "polars", "duckdb", "threadpoolctl"}
"""What a cold quote takes besides: no pandas, no pyarrow, no reader of workbooks, nothing that trains or draws."""

LOADED = """
import atexit, sys
started = set(sys.modules)
def tell():
    names = {name.partition(".")[0] for name in set(sys.modules) - started} - set(sys.stdlib_module_names)
    print(*sorted(n for n in names if n[0] != "_" and n != "cython_runtime"), file=sys.stderr)
atexit.register(tell)
from dashboard.cli.main import main
main()
"""
"""Runs a command and tells in the last line of standard error what it loaded; parts of compiled libraries left out."""

FORBIDDEN_STEMS = {"utils", "helpers", "common"}
SHADOWS = {f"dashboard/{name}.py" for name in ("models", "pipeline", "synthetic_data", "tests")}


def modules() -> dict[str, Path]:
    """Dotted name -> file, for every module of the four packages."""
    files = [file for package in PACKAGES for file in sorted((ROOT / package).rglob("*.py"))]
    return {".".join(file.relative_to(ROOT).with_suffix("").parts): file for file in files}


def imported(file: Path) -> Iterator[str]:
    """Dotted names that a file imports, wherever in the file the import stands."""
    for node in nodes_of(file):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = "." * node.level + (node.module or "")
            yield from (f"{base}.{alias.name}" for alias in node.names)


def within(name: str, prefix: str) -> bool:
    """Whether a dotted name is the prefix or lies under it."""
    return name == prefix or name.startswith(prefix + ".")


def allowed_for(module: str) -> tuple[str, ...]:
    """The entry of ALLOWED that decides for a module."""
    return ALLOWED[max((key for key in ALLOWED if within(module, key)), key=len)]


def test_first_party_imports_point_one_way() -> None:
    bad = [
        f"{module} imports {name}"
        for module, file in modules().items()
        for name in imported(file)
        if name.split(".")[0] in PACKAGES and not any(within(name, prefix) for prefix in allowed_for(module))
    ]

    assert bad == []


def test_imports_are_absolute() -> None:
    bad = [f"{module} imports {n}" for module, file in modules().items() for n in imported(file) if n[0] == "."]

    assert bad == []


@pytest.mark.parametrize("library", PLACES)
def test_each_library_stays_in_its_place(library: str) -> None:
    bad = [
        module
        for module, file in modules().items()
        if any(within(name, library) for name in imported(file)) and not module.startswith(PLACES[library])
    ]

    assert bad == []


@pytest.mark.parametrize("folder", ["figures", "services", "papers", "words", "cli"])
def test_what_is_no_page_knows_nothing_of_streamlit(folder: str) -> None:
    found = {m: file for m, file in modules().items() if within(m, f"dashboard.{folder}") and m not in SERVERS}

    assert found
    assert [m for m, file in found.items() if any(within(n, "streamlit") for n in imported(file))] == []


def loaded_by(*arguments: str) -> set[str]:
    """Packages outside the standard library that a command loads beyond what the interpreter starts with."""
    done = subprocess.run([sys.executable, "-c", LOADED, *arguments], capture_output=True, text=True, cwd=ROOT)

    return set(done.stderr.splitlines()[-1].split()) - {"dashboard", "pipeline"}


@pytest.mark.parametrize("words", ["--help", "quote --help", "demo --help", "serve --help", "audit --help"])
def test_help_is_printed_by_the_library_of_commands_alone(words: str) -> None:
    assert loaded_by(*words.split()) - READS_ARGUMENTS == PRINTS_HELP


@pytest.mark.parametrize("words", ["quote", "quote x.json --jobs 3", "train --no-such", "nothing", "serve --port x"])
def test_a_wrong_call_is_refused_by_the_library_of_commands_alone(words: str) -> None:
    assert loaded_by(*words.split()) - READS_ARGUMENTS == PRINTS_HELP


@pytest.mark.parametrize(
    "words",
    [
        *("quote x.json", "quotes", "train", "verify", "rejects", "history J", "watch J", "audit", "replay"),
        *("export jobs x.csv", "report audit --pdf x.pdf", "report x.json --pdf x.pdf"),
    ],
)
def test_that_there_is_no_book_is_found_by_the_library_of_commands_alone(words: str, tmp_path: Path) -> None:
    assert loaded_by(*words.split(), "--book", str(tmp_path / "none")) == PRINTS_HELP | READS_ARGUMENTS


def test_a_cold_quote_loads_what_it_answers_with_and_no_more(trained_book: Book, tmp_path: Path) -> None:
    request = tmp_path / "request.json"
    request.write_text('{"system_type": "sealed", "emitters": [{"emitter_kind": "panel_11"}]}', encoding="utf-8")

    loaded = loaded_by("quote", str(request), "--book", str(trained_book.path))

    assert loaded == PRINTS_HELP | READS_ARGUMENTS | ANSWERS_A_QUOTE


def test_the_door_for_notebooks_is_the_outermost_room() -> None:
    inside = [file for module, file in modules().items() if not within(module, "dashboard.notebook")]

    assert len(inside) < len(modules())
    assert [file for file in inside if any(within(name, "sludgebook") for name in imported(file))] == []


def test_no_module_is_a_junk_drawer_or_shadows_a_package() -> None:
    files = [str(file.relative_to(ROOT)) for file in modules().values()]

    assert [file for file in files if Path(file).stem in FORBIDDEN_STEMS] == []
    assert [file for file in files if file in SHADOWS] == []
