"""Today's job on a phone, entry after entry: what each part takes once a thumb has pressed "save". Run by hand.

    python -m tests.benchmarks.bench_on_site BOOK [ENTRIES]

BOOK is copied. The job has 26 emitters and 60 weighings when the clock starts; every entry weighed then changes the
journal, as on site. Milliseconds of wall clock and of processor: on a busy machine only the second says anything.
"""

from __future__ import annotations

import logging
import os
import shutil
import statistics
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.on_site.entries import Sender, record
from pipeline.store.book import Book

APP = Path(__file__).parents[2] / "dashboard" / "app.py"
JOB = "Bench"
EMITTERS = 26
WEIGHED = 60
Times = dict[str, list[tuple[float, float]]]


def weigh(book: Book, number: int, at: datetime) -> None:
    """One weighing and one reading, the flow on one emitter after the other."""
    emitter = 1 + (number // 3) % EMITTERS
    of = {"mass_g": 900.0 / (1 + number % 3), "trap": "magnet", "focus_emitter_no": emitter}
    record(book, JOB, "catch", of, Sender(f"c{number}"), now=at)
    water = {"flow_l_min": 21.0, "flow_temp_c": 52.0, "return_temp_c": 46.0, "turbidity_ntu": 90.0}
    record(book, JOB, "reading", water, Sender(f"r{number}"), now=at)


def begun(book: Book) -> datetime:
    """The job with its first weighings, five minutes apart; the time of the last."""
    began = datetime.now().replace(microsecond=0) - timedelta(minutes=5 * (WEIGHED + 2))
    emitters = [
        {"emitter_no": n, "emitter_kind": "panel_22", "length_mm": 1000.0, "height_mm": 600.0}
        for n in range(1, EMITTERS + 1)
    ]
    facts = {"job": {"system_type": "sealed"}, "emitters": emitters, "flush_started_at": began}
    record(book, JOB, "start", facts, Sender("start"), now=began)
    for number in range(WEIGHED):
        weigh(book, number, began + timedelta(minutes=5 * (number + 1)))
    return began + timedelta(minutes=5 * WEIGHED)


def timed(times: Times, part: str, work: Callable[[], object]) -> object:
    """Run one part and note what it took, wall clock and processor [ms]."""
    wall, processor = time.perf_counter(), time.process_time()
    result = work()
    times.setdefault(part, []).append((1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - processor)))
    return result


def one_entry(book: Book, times: Times, number: int, at: datetime) -> None:
    """Save, work out the tables and the job, watch it."""
    from dashboard import data

    timed(times, "two entries saved", lambda: weigh(book, number, at))
    job = data.site_job(JOB)
    now = at + timedelta(seconds=1)
    view = timed(times, "the job as watch takes it", lambda: data.site_view(str(book.path), JOB, job.lines, now))
    timed(times, "watch", lambda: data.watch(view.job, now))  # type: ignore[attr-defined]


def pages(book: Book, times: Times, entries: int, at: datetime) -> None:
    """Whole runs of the page, each after an entry from another phone."""
    from streamlit.testing.v1 import AppTest

    app = AppTest.from_file(str(APP), default_timeout=600).run()
    timed(times, "page, first run", lambda: app.switch_page("app_pages/watch_the_catch.py").run())
    for number in range(entries):
        weigh(book, WEIGHED + 1000 + number, at + timedelta(seconds=number))
        timed(times, "page after an entry", app.run)
    if app.exception:
        raise RuntimeError(str(app.exception))


def main(folder: Path, entries: int) -> None:
    """Median and largest of each part."""
    logging.disable(logging.CRITICAL)
    times: Times = {}
    with TemporaryDirectory() as name:
        book = Book(Path(name) / "book")
        shutil.copytree(folder, book.path)
        os.environ["SLUDGEBOOK_BOOK"] = str(book.path)
        at = begun(book)
        for number in range(entries):
            one_entry(book, times, WEIGHED + number, at + timedelta(seconds=20 * (number + 1)))
        pages(book, times, entries, at + timedelta(minutes=5))
    for part, took in times.items():
        wall, processor = zip(*took, strict=True)
        sys.stdout.write(
            f"{part:<28} wall {statistics.median(wall):6.0f} ms (most {max(wall):.0f}), "
            f"processor {statistics.median(processor):6.0f} ms (most {max(processor):.0f})\n"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 8)
