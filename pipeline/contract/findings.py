"""What a person should know: findings (data, shown as sentences) and the errors that stop a command."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing worth knowing: a stable code, one plain sentence, and the figures behind it.

    `by_command` says what to type; a page has a way of its own and shows the sentence alone.
    """

    code: str
    sentence: str
    facts: Mapping[str, object] = field(default_factory=dict)
    by_command: str = ""

    @property
    def in_full(self) -> str:
        """The sentence, and what to type."""
        return f"{self.sentence} {self.by_command}".rstrip()

    def as_dict(self) -> dict[str, object]:
        """The finding as plain data, for JSON."""
        return {"code": self.code, "sentence": self.in_full, "facts": dict(self.facts)}


class SludgebookError(Exception):
    """Something cannot be done. `str()` is one sentence with the remedy; the command ends with status 2.

    `by_command` is the part of the remedy that is typed at a command line; a page shows `sentence` alone.
    """

    def __init__(self, sentence: str = "", by_command: str = "") -> None:
        super().__init__(f"{sentence} {by_command}".rstrip())
        self.sentence, self.by_command = sentence, by_command

    def __reduce__(self) -> tuple[type[SludgebookError], tuple[str, str]]:
        return type(self), (self.sentence, self.by_command)


class BadInput(SludgebookError):
    """What was handed in cannot be used at all."""


class BookError(SludgebookError):
    """The book is missing, locked, damaged, or made by another version."""


class SettingsError(SludgebookError):
    """`firm.toml` cannot be used; the sentence names every fault at once."""
