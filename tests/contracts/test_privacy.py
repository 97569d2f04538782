"""What the README promises of privacy: nothing is sent anywhere, nothing foreign is executed, no names are kept."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.contract import JOB_LOG
from tests.contracts.parsed_source import nodes_of

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipeline", "models", "synthetic_data", "dashboard")

SENDS = {"urllib", "http", "requests", "httpx", "aiohttp", "socket", "ftplib", "smtplib", "websockets", "urllib3"}
LISTENS = {"dashboard/cli/address.py": {"socket"}, "dashboard/doors.py": {"socket", "urllib.parse"}}
"""Modules that see whether an address is this computer's, and take addresses apart; they connect to nobody."""
CONNECTS = {"connect", "connect_ex", "create_connection", "sendto", "sendall", "urlopen"}
EXECUTES = {"pickle", "dill", "cloudpickle", "joblib", "shelve", "marshal"}

ASKED = {"pipeline/pool/connect.py": ("socket",)}
"""Looks for the server that a person names on the command line, and then only."""


def names() -> Iterator[tuple[str, str]]:
    """(file, dotted name) of every import and of every called plain name in the packages."""
    for package in PACKAGES:
        for file in sorted((ROOT / package).rglob("*.py")):
            place = file.relative_to(ROOT)
            for node in nodes_of(file):
                where = f"{place}:{getattr(node, 'lineno', 0)}"
                if isinstance(node, ast.Import):
                    yield from ((where, alias.name) for alias in node.names)
                elif isinstance(node, ast.ImportFrom) and node.module:
                    yield where, node.module
                elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                    yield where, f"call:{node.func.id}"


@pytest.mark.parametrize("banned", [SENDS, EXECUTES, {"call:eval", "call:exec"}], ids=["sends", "pickles", "evals"])
def test_no_module_reaches_for_what_could_send_or_execute(banned: set[str]) -> None:
    found = [(where, name) for where, name in names() if name.split(".")[0] in banned]

    assert [pair for pair in found if pair[1] not in {**LISTENS, **ASKED}.get(pair[0].partition(":")[0], ())] == []


def test_what_asks_a_server_is_called_by_the_command_that_names_it_alone() -> None:
    callers = {where.partition(":")[0] for where, name in names() if name in {m[:-3].replace("/", ".") for m in ASKED}}

    assert callers == {"dashboard/cli/pool.py"}


@pytest.mark.parametrize("module", LISTENS)
def test_a_module_that_listens_connects_to_nobody(module: str) -> None:
    calls = [node.func for node in nodes_of(ROOT / module) if isinstance(node, ast.Call)]
    called = {func.attr if isinstance(func, ast.Attribute) else getattr(func, "id", "") for func in calls}

    assert called & CONNECTS == set()


def test_no_page_injects_markup() -> None:
    files = [file for file in (ROOT / "dashboard").rglob("*.py") if "unsafe_allow" in file.read_text(encoding="utf-8")]

    assert files == []


def test_the_dashboard_listens_on_this_machine_and_reports_nothing() -> None:
    settings = tomllib.loads((ROOT / "dashboard/.streamlit/config.toml").read_text(encoding="utf-8"))

    assert settings["server"]["address"] == "127.0.0.1"
    assert settings["browser"]["gatherUsageStats"] is False


def test_no_column_of_the_format_asks_for_a_person() -> None:
    personal = {"name", "surname", "phone", "mobile", "email", "mail", "address", "street", "customer", "client"}
    columns = {column.name for table in JOB_LOG.values() for column in table.columns}

    assert {column for column in columns if personal & set(column.split("_"))} == set()
    assert JOB_LOG["jobs"].column("postcode_district").meaning.startswith("Outward part")
