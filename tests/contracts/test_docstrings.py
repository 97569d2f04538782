"""Everything public says what it is and what it returns."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.contracts.parsed_source import tree_of

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipeline", "models", "synthetic_data", "dashboard")
PAGES = ROOT / "dashboard" / "app_pages"  # a page is a script: its title says what it is
WORKING_STATE = {"synthetic_data/flush/flush_state.py: State", "synthetic_data/flush/flush_state.py: Events"}
"""Changed minute by minute inside one function of the simulator and never handed out."""
Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def module_files() -> list[Path]:
    files = [file for package in PACKAGES for file in sorted((ROOT / package).rglob("*.py"))]
    return [file for file in files if PAGES not in file.parents]


def public_definitions(tree: ast.Module | ast.ClassDef, inside: str = "") -> Iterator[tuple[str, Definition]]:
    """Public classes, functions and methods, with their dotted name; nested functions are private."""
    for node in tree.body:
        if isinstance(node, Definition) and not node.name.startswith("_"):
            yield f"{inside}{node.name}", node
            if isinstance(node, ast.ClassDef):
                yield from public_definitions(node, f"{node.name}.")


def parsed() -> Iterator[tuple[str, ast.Module]]:
    for file in module_files():
        yield str(file.relative_to(ROOT)), tree_of(file)


def test_every_public_module_class_and_function_has_a_docstring() -> None:
    trees = dict(parsed())
    bare = [name for name, tree in trees.items() if tree.body and not ast.get_docstring(tree)]
    bare += [
        f"{file}: {name}"
        for file, tree in trees.items()
        for name, node in public_definitions(tree)
        if not ast.get_docstring(node)
    ]

    assert bare == []


def test_every_public_function_says_what_it_returns() -> None:
    untyped = [
        f"{file}: {name}"
        for file, tree in parsed()
        for name, node in public_definitions(tree)
        if not isinstance(node, ast.ClassDef) and node.returns is None
    ]

    assert untyped == []


def test_dataclasses_are_frozen_unless_they_are_named_as_working_state() -> None:
    loose = {
        f"{file}: {node.name}"
        for file, tree in parsed()
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef)
        for decorator in node.decorator_list
        if "dataclass" in ast.unparse(decorator) and "frozen=True" not in ast.unparse(decorator)
    }

    assert loose == WORKING_STATE
