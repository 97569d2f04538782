"""What a photograph of a job is, wherever it is read: what it shows, of which emitter, when, and its picture."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

SHOWN = ("sample_before", "sample_after", "trap", "emitter", "filter", "other")
"""What a photograph shows, in the order in which a report prints them."""


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph that counts: what it shows (one of `SHOWN`), of which emitter, when it was entered, its JPEG."""

    shows: str
    emitter_no: int | None
    at: datetime
    jpeg: bytes
