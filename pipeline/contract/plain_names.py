"""Names of files that every system takes: what Linux allows and Windows refuses is replaced."""

from __future__ import annotations

import re
from pathlib import Path

_DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))})
"""Names that Windows keeps for devices, whatever the ending (from memory)."""

_REFUSED = re.compile(r'[<>:"|?*\x00-\x1f]')


def is_reserved(name: str) -> bool:
    """Whether Windows keeps the name for a device.

    >>> [is_reserved(name) for name in ("CON", "con.csv", "lpt9", "console", "com10")]
    [True, True, True, False, False]
    """
    return name.partition(".")[0].rstrip(" ").casefold() in _DEVICES


def plain_name(name: str) -> str:
    """The name with `_` for what Windows refuses, and without spaces and dots at its end.

    >>> [plain_name(name) for name in ("a:b?.csv", "nul.csv", "jobs.csv. ", "Büro 3.csv")]
    ['a_b_.csv', '_nul.csv', 'jobs.csv', 'Büro 3.csv']
    """
    plain = _REFUSED.sub("_", name).rstrip(" .")
    return f"_{plain}" if is_reserved(plain) else plain


def as_typed(path: Path) -> str:
    """The path as it is typed at a command line, between quotation marks where it holds a space.

    >>> as_typed(Path("our book")), as_typed(Path("book"))
    ('"our book"', 'book')
    """
    return f'"{path}"' if " " in str(path) else str(path)
