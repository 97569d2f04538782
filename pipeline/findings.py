"""What a person should know: findings (data, shown as sentences) and the errors that stop a command."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing worth knowing: a stable code, one plain sentence, and the figures behind it."""

    code: str
    sentence: str
    facts: Mapping[str, object] = field(default_factory=dict)

    def as_dict(self) -> dict[str, object]:
        """The finding as plain data, for JSON."""
        return {"code": self.code, "sentence": self.sentence, "facts": dict(self.facts)}


class SludgebookError(Exception):
    """Something cannot be done. `str()` is one sentence with the remedy; the command ends with status 2."""


class BadInput(SludgebookError):
    """What was handed in cannot be used at all."""


class BookError(SludgebookError):
    """The book is missing, locked, damaged, or made by another version."""


class SettingsError(SludgebookError):
    """`firm.toml` cannot be used; the sentence names every fault at once."""
