"""Traps weighed wet and dry at one moment, in any number: nothing counts twice, and nothing is lost."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from pipeline.intake.load_report import LoadReport
from pipeline.store.book import Book

HEAD = "firm_id,job_id,system_type,visit_date,flush_started_at,flush_ended_at"
CATCHES = "firm_id,job_id,catch_no,caught_at,trap,mass_g,weighed"


WEIGHED = [
    # the dry mass of a moment is that of all its wet ones; the settings' ratio is 2
    ([(300, "wet"), (200, ""), (250, "dry")], 250.0, 1, None),
    ([(500, "wet"), (120, "dry"), (130, "dry")], 250.0, 2, None),
    ([(300, "wet"), (200, "wet"), (150, "dry")], 150.0, 1, "wet / dry mass is 3.33, outside 1.3..2.7"),
    # not dried yet: the wet mass counts, by the ratio
    ([(100, "wet"), (0, "dry")], 50.0, 1, "not a dry mass beside a wet one: the wet mass counts"),
    ([(100, ""), (60, ""), (0, "dry")], 80.0, 2, "not a dry mass beside a wet one: the wet mass counts"),
    # taken back on site, a weighing comes again as 0 g
    ([(0, "wet"), (70, "dry")], 70.0, 1, "heavier than the wet mass of the same trap and time"),
    ([(0, "wet"), (0, "dry")], 0.0, 1, None),
]


@pytest.fixture(scope="module")
def book(one_load: Callable[..., tuple[Book, LoadReport]]) -> Book:
    """Each case is the job `a` of a firm of its own; firms `s…` share the number: two traps, no twins."""
    jobs, rows = [HEAD], [CATCHES]
    for case, (weighed, *_) in enumerate(WEIGHED):
        firms = f"n{case}", f"s{case}"
        jobs += [f"{firm},a,sealed,2025-03-04,2025-03-04T09:00,2025-03-04T15:00" for firm in firms]
        rows += [f"n{case},a,{n},2025-03-04T10:00,magnet,{g},{way}" for n, (g, way) in enumerate(weighed, start=1)]
        rows += [f"s{case},a,1,2025-03-04T10:00,magnet,80,wet", f"s{case},a,2,2025-03-04T10:00,strainer,40,dry"]
    return one_load(jobs=jobs, catches=rows)[0]


@pytest.mark.parametrize("case", range(len(WEIGHED)))
def test_weighings_of_one_moment_count_once(
    case: int, book: Book, frame_of: Callable[[Book, str], pd.DataFrame]
) -> None:
    _, grams, catches, reason = WEIGHED[case]
    n, s = f"n{case}", f"s{case}"
    got = frame_of(book, "ftr_outcome").set_index("firm_id")
    warned = frame_of(book, "job_warnings")
    found = warned[(warned["firm_id"] == n) & (warned["column_name"] == "mass_g")]["reason"].tolist()

    ratio = got["wet_dry_ratio"][n]
    assert (got["magnetite_kg"][n] * 1000, got["magnet_catches"][n], ratio) == (pytest.approx(grams), catches, 2.0)
    assert found == ([] if reason is None else [reason])
    assert (got["magnetite_kg"][s], got["non_magnetic_kg"][s]) == (0.04, 0.04)
