"""How many of a book's jobs the simulator made: said with every answer for as long as there is one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pipeline.contract.findings import BookError
from pipeline.store.book import Book, open_build, sql_text


@dataclass(frozen=True, slots=True)
class JobsHeld:
    """Jobs in a book, and how many of them are simulated."""

    jobs: int
    simulated_jobs: int

    def as_json(self) -> dict[str, int]:
        """Both counts, as they stand in every JSON answer under `book`."""
        return {"jobs": self.jobs, "simulated_jobs": self.simulated_jobs}

    def beside(self, answer: dict[str, Any]) -> dict[str, Any]:
        """A JSON answer with the counts of the book that it rests on."""
        return {**answer, "book": self.as_json()}


def jobs_held(book: Book) -> JobsHeld:
    """The counts of the current build; none for a book without one."""
    try:
        build = book.current()
    except BookError:
        return JobsHeld(0, 0)
    with open_build(build) as connection:
        found = connection.execute(sql_text("reads/jobs_held")).fetchone()
    return JobsHeld(*(int(each) for each in found or (0, 0)))
