"""House numbers: how long a module, a function, a page, a SQL file and a test may be."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.contracts.parsed_source import nodes_of

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipeline", "models", "synthetic_data", "dashboard")
Function = ast.FunctionDef | ast.AsyncFunctionDef


def files(folder: str, pattern: str) -> list[Path]:
    return sorted((ROOT / folder).rglob(pattern))


def too_long(paths: list[Path], limit: int) -> list[str]:
    """`path: lines` of each file over the limit."""
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in paths}
    return [f"{path.relative_to(ROOT)}: {lines}" for path, lines in lengths.items() if lines > limit]


def body_lines(function: Function) -> int:
    """Lines from the first statement after the docstring to the last line of the function."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def functions(path: Path) -> Iterator[Function]:
    for node in nodes_of(path):
        if isinstance(node, Function):
            yield node


def long_bodies(paths: list[Path], limit: int) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{function.lineno} {function.name}: {body_lines(function)}"
        for path in paths
        for function in functions(path)
        if body_lines(function) > limit
    ]


def package_files() -> list[Path]:
    return [path for package in PACKAGES for path in files(package, "*.py")]


def test_modules_have_at_most_400_lines() -> None:
    assert too_long(package_files(), 400) == []


def test_function_bodies_have_at_most_40_lines() -> None:
    assert long_bodies(package_files(), 40) == []


def test_pages_have_at_most_80_lines() -> None:
    pages = files("dashboard/app_pages", "*.py")

    assert pages
    assert too_long(pages, 80) == []


def test_sql_files_have_at_most_80_lines() -> None:
    queries = files("pipeline/sql", "*.sql")

    assert queries
    assert too_long(queries, 80) == []


def test_test_files_have_at_most_400_lines() -> None:
    assert too_long(files("tests", "*.py"), 400) == []


def rows_typed_in(function: Function) -> int:
    """Lines of tables that a test types in as text: data, not something to follow."""
    texts = [node for node in ast.walk(function) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    return sum((node.end_lineno or 0) - node.lineno for node in texts if " | " in str(node.value))


def test_tests_have_at_most_25_lines_besides_the_tables_they_type_in() -> None:
    long = [
        f"{path.relative_to(ROOT)}:{function.lineno} {function.name}"
        for path in files("tests", "test_*.py")
        for function in functions(path)
        if function.name.startswith("test_") and body_lines(function) - rows_typed_in(function) > 25
    ]

    assert long == []
