"""How a service says how far it is: a bar for each stage, drawn by whoever asked, by nobody where none is wanted."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

Show = Callable[[int, int], None]
"""Told the steps done and the steps in all."""
Bars = Callable[[str], AbstractContextManager[Show]]
"""Title of a stage → its bar while the stage lasts."""


def no_bars(_: str) -> AbstractContextManager[Show]:
    """Nothing is drawn."""
    return nullcontext(lambda done, of: None)
