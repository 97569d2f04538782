"""What pages and papers say while a simulated job is in the book."""

from __future__ import annotations

ALL = "Every job in this book is simulated. The figures show how the tool works, not what your jobs will do."


def simulated_part(simulated: int, jobs: int) -> str:
    """How many of how many jobs are simulated, and what that means for the figures; empty where none is.

    >>> simulated_part(1, 3)
    '1 of 3 jobs in this book is simulated. Figures that rest on it say nothing about your jobs.'
    """
    if not simulated:
        return ""
    if simulated == jobs:
        return ALL
    are, them = ("is", "it") if simulated == 1 else ("are", "them")
    return (
        f"{simulated:,} of {jobs:,} jobs in this book {are} simulated. "
        f"Figures that rest on {them} say nothing about your jobs."
    )


def on_paper(simulated: int, jobs: int) -> str:
    """The same for the foot of a paper.

    >>> on_paper(40, 40)
    '40 of 40 jobs in the records are simulated.'
    """
    if not simulated:
        return ""
    return f"{simulated:,} of {jobs:,} jobs in the records {'is' if simulated == 1 else 'are'} simulated."
