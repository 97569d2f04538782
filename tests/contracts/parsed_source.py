"""Python files of the project, each parsed once for all the rules that look at them."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path


@cache
def tree_of(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes_of(path: Path) -> tuple[ast.AST, ...]:
    """Every node of a file's syntax tree, in the order of `ast.walk`."""
    return tuple(ast.walk(tree_of(path)))
