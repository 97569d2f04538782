"""What a model says instead of an answer."""

from __future__ import annotations


class Refusal(ValueError):
    """The model declines. `str()` is a plain sentence that stands where the number would stand."""


class NotEnoughData(Refusal):
    """Too few records. Carries `what`, `needed` and `found` as numbers."""

    def __init__(self, *, what: str, needed: int, found: int) -> None:
        super().__init__(f"This needs at least {needed} {what}; there are {found}.")
        self.what = what
        self.needed = needed
        self.found = found


class FitRejected(Refusal):
    """A fit failed its own check. Carries the reason."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason
