"""The page "Job book" on books of growing size: seconds of its parts and of a whole run of the page. Run by hand.

    python -m tests.benchmarks.bench_job_book [JOBS | BOOK …]

Simulates, loads and opens a book of each size (2000 and 20000 unless told), or opens a book that is there. Cold: the
first time in a process; warm: every later run of the page, whatever was clicked.
"""

from __future__ import annotations

import logging
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.intake.load import load
from pipeline.store.book import Book
from synthetic_data.simulate import simulate_to_folder

APP = Path(__file__).parents[2] / "dashboard" / "app.py"


def seconds(work: Callable[[], object]) -> tuple[float, float]:
    """Time of one run, wall clock and processor [s]."""
    began, worked = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - began, time.process_time() - worked


def measured(build: str) -> dict[str, tuple[float, float]]:
    """Seconds of the page's parts on one build, wall clock and processor."""
    from streamlit.testing.v1 import AppTest

    from dashboard import data

    times = {"list of jobs, cold": seconds(lambda: data.job_list(build))}
    jobs = data.job_list(build)
    times["curves, cold"] = seconds(lambda: data.curves_of(build, jobs, most=200))
    times["band"] = seconds(lambda: data.catch_band(build, jobs))
    app = AppTest.from_file(str(APP), default_timeout=600).run()
    times["page, first run"] = seconds(lambda: app.switch_page("app_pages/job_book.py").run())
    times["page, warm"] = seconds(app.run)
    app.button_group(key="book_by").set_value("Size")
    times["page by size"] = seconds(app.run)
    app.button_group(key="book_view").set_value("Share of total")
    times["page by size, shares"] = seconds(app.run)
    if app.exception:
        raise RuntimeError(str(app.exception))
    return times


def say(book: Book, what: str) -> None:
    """A line for each part of the page."""
    os.environ["SLUDGEBOOK_BOOK"] = str(book.path)
    for part, (wall, processor) in measured(str(book.current())).items():
        sys.stdout.write(f"{what}  {part:<22} {wall:6.2f} s, processor {processor:6.2f} s\n")


def main(asked: list[str]) -> None:
    """Each size or book in turn."""
    logging.disable(logging.CRITICAL)
    for text in asked:
        if not text.isdigit():
            say(Book(Path(text)), Path(text).name)
            continue
        with TemporaryDirectory() as name:
            folder = Path(name)
            simulate_to_folder(folder / "logs", jobs=int(text), seed=77, format="parquet", progress=None)
            load([folder / "logs"], Book(folder / "book"))
            say(Book(folder / "book"), f"{int(text):>7,} jobs")


if __name__ == "__main__":
    main(sys.argv[1:] or ["2000", "20000"])
