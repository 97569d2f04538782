"""SQL files: what stands on their first lines is true, and they keep to what a cluster can run too."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline import build
from pipeline.contract import BUILT, JOB_LOG
from tests.contracts.parsed_source import nodes_of

ROOT = Path(__file__).parents[2]
SQL_DIR = ROOT / "pipeline" / "sql"
FILES = {str(p.relative_to(SQL_DIR).with_suffix("")): p for p in sorted(SQL_DIR.rglob("*.sql"))}
TABLE_FILES = [name for name in FILES if not name.startswith("reads/")]

HEADINGS = ("grain", "key", "reads", "why")
CREATE = re.compile(r"^create (?:or replace )?(?:temp )?(?:table|view) (\w+) as$", re.MULTILINE)

# Checked rows and reference tables are there before the first file runs.
GIVEN = {
    "book_settings",
    "kept_wet_dry_pair",
    *(f"checked_{name}" for name in (*JOB_LOG, *build.ACCOUNTS)),
    *(f"ref_{name}" for name in build.REFERENCES),
}

# Run on DuckDB, but not unchanged on a Spark cluster (tried on the same rows).
ONLY_HERE = {
    "quantile_cont": r"\bquantile_(cont|disc)\b",
    "asof join": r"\basof\b",
    "pivot": r"\b(un)?pivot\b",
    "time_bucket": r"\btime_bucket\b",
    "columns(*)": r"\bcolumns\s*\(",
    "filter of a window": r"\bfilter\s*\([^()]*(?:\([^()]*\)[^()]*)*\)\s+over\b",
}


def heading(name: str) -> dict[str, str]:
    """The first lines, `-- word : text`, by word."""
    lines = FILES[name].read_text(encoding="utf-8").splitlines()[: len(HEADINGS)]
    pairs = [re.fullmatch(r"-- (\w+) *: (.+)", line) for line in lines]
    return {pair[1]: pair[2] for pair in pairs if pair}


def query(name: str) -> str:
    """The select of a file, without its heading, its `create table … as` and the closing semicolon."""
    text = FILES[name].read_text(encoding="utf-8")
    created = CREATE.search(text)
    return text[created.end() if created else 0 :].strip().rstrip(";")


def tree(sql: str) -> dict[str, object]:
    """DuckDB's parse of one select: nothing is bound or run."""
    with duckdb.connect() as connection:
        found = connection.execute("select json_serialize_sql($q)", {"q": sql}).fetchone()
    parsed: dict[str, object] = json.loads(found[0]) if found else {"error": True}
    assert not parsed["error"], parsed
    return parsed


def walk(node: object) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for value in node.values():
            yield from walk(value)
    elif isinstance(node, list):
        for value in node:
            yield from walk(value)


def tables_read(sql: str) -> set[str]:
    """Names a select reads, its own CTEs left out."""
    read, own = set(), set()
    for node in walk(tree(sql)):
        if node.get("type") == "BASE_TABLE":
            read.add(str(node["table_name"]))
        ctes = node.get("cte_map")
        own |= {cte["key"] for cte in ctes["map"]} if isinstance(ctes, dict) else set()
    return read - own


def last_select(sql: str) -> list[dict[str, object]]:
    """The output columns of the outermost select."""
    statements = tree(sql)["statements"]
    assert isinstance(statements, list)
    node = statements[0]["node"]
    while "select_list" not in node:
        node = node.get("left") or node["children"][0]
    columns: list[dict[str, object]] = node["select_list"]
    return columns


def created(name: str) -> str:
    found = CREATE.findall(FILES[name].read_text(encoding="utf-8"))
    assert len(found) == 1, f"{name} must create one table, not {found}"
    return str(found[0])


@pytest.mark.parametrize("name", FILES)
def test_first_lines_say_grain_key_reads_and_why(name: str) -> None:
    assert tuple(heading(name)) == HEADINGS


@pytest.mark.parametrize("name", TABLE_FILES)
def test_a_file_makes_the_table_of_its_name(name: str) -> None:
    assert created(name) == Path(name).name


@pytest.mark.parametrize("name", FILES)
def test_a_file_reads_what_its_heading_says(name: str) -> None:
    assert tables_read(query(name)) == set(heading(name)["reads"].split(", "))


def test_every_file_is_in_the_build_list_and_reads_only_what_was_made_before_it() -> None:
    there, too_early = set(GIVEN), {}
    for name in build.STEPS:
        missing = tables_read(query(name)) - there
        if missing:
            too_early[name] = missing
        there.add(created(name))

    assert too_early == {}
    assert set(build.STEPS) == set(TABLE_FILES)


def test_a_quote_request_runs_the_same_feature_files_on_its_own_tables() -> None:
    there = {"jobs", "emitters", "pipe_runs", "book_settings", *(f"ref_{name}" for name in build.REFERENCES)}
    missing = {}
    for name in build.REQUEST_STEPS:
        missing[name] = tables_read(query(name)) - there
        there.add(created(name))

    assert {name: tables for name, tables in missing.items() if tables} == {}
    assert set(build.REQUEST_STEPS) <= set(build.STEPS)


def test_reading_queries_read_tables_of_a_build_only() -> None:
    strange = {name: tables_read(query(name)) - set(BUILT) for name in FILES if name not in TABLE_FILES}

    assert {name: tables for name, tables in strange.items() if tables} == {}


@pytest.mark.parametrize("layer", ["core", "features"])
def test_later_layers_never_read_rows_as_received(layer: str) -> None:
    received = {f"checked_{table}" for table in JOB_LOG}
    staged = {created(name) for name in FILES if name.startswith("staging/")}
    read = {name: tables_read(query(name)) for name in FILES if name.startswith(f"{layer}/")}

    # core may take rows as received only where staging says in the same file which of them count
    bad = {
        name: tables & (received | staged)
        for name, tables in read.items()
        if tables & (received | staged) and (layer == "features" or not tables & staged)
    }
    assert bad == {}


@pytest.mark.parametrize("name", FILES)
def test_the_last_select_names_its_columns(name: str) -> None:
    stars = [column for column in last_select(query(name)) if column["class"] == "STAR"]

    assert stars == []


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("what", ONLY_HERE)
def test_no_file_uses_what_a_cluster_cannot_run(name: str, what: str) -> None:
    code = re.sub(r"--.*", "", FILES[name].read_text(encoding="utf-8"))

    assert re.findall(ONLY_HERE[what], code, re.IGNORECASE) == []


@pytest.mark.parametrize("name", FILES)
def test_days_are_counted_between_dates_only(name: str) -> None:
    """Between times, `date_diff('day', …)` counts midnights, and not everywhere the same."""
    tables = (*JOB_LOG.values(), *BUILT.values())
    dates = {column.name for table in tables for column in table.columns if column.kind == "date"}
    calls = [node for node in walk(tree(query(name))) if node.get("function_name") == "date_diff"]
    in_days = [call for call in calls if any(node.get("text") == "day" for node in walk(call))]
    names = {str(ref["column_names"][-1]) for call in in_days for ref in walk(call) if "column_names" in ref}

    assert {each for each in names if each not in dates and not each.endswith("_on")} == set()


@pytest.mark.parametrize("name", TABLE_FILES)
def test_the_heading_names_the_key_of_the_contract(name: str) -> None:
    table = BUILT.get(created(name))

    assert table is None or tuple(heading(name)["key"].split(", ")) == table.key


def test_no_sql_stands_in_a_formatted_string() -> None:
    words = r"\b(select\b.+\bfrom|insert\s+into|create\s+(or|table|view|temp)|delete\s+from)\b"
    sql = re.compile(words, re.IGNORECASE | re.DOTALL)
    bad = []
    for package in ("pipeline", "models", "synthetic_data", "dashboard"):
        for file in (ROOT / package).rglob("*.py"):
            for node in nodes_of(file):
                if isinstance(node, ast.JoinedStr) and sql.search(ast.unparse(node)):
                    bad.append(f"{file.relative_to(ROOT)}:{node.lineno}")

    assert bad == []
