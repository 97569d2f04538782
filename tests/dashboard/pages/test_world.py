"""The section on the simulated world: nothing runs unasked, then the numbers of the simulator itself are shown."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

from dashboard import simulator
from dashboard.app_parts.about.world_parts import ASSUMED, ONE_JOB, WHOLE_FIRM
from dashboard.figures.simulator import simulated_firm, simulated_world
from dashboard.theme import DARK
from pipeline.store.book import Book
from synthetic_data.illustrations.distributions import firm_distributions
from synthetic_data.illustrations.trace import trace_job

if TYPE_CHECKING:
    from streamlit.testing.v1 import AppTest

Open = Callable[..., "AppTest"]
Words = Callable[["AppTest"], str]
Charts = Callable[["AppTest"], dict[str, dict[str, Any]]]


def first_number(text: str, before: str) -> float:
    found = re.search(rf"([0-9.]+) {before}", text)
    assert found
    return float(found[1])


def test_the_page_says_that_numbers_are_assumed_and_runs_nothing(
    open_page: Open, page_book: Book, words: Words, charts: Charts
) -> None:
    app = open_page("about_the_data", page_book.path)

    assert ASSUMED in words(app)
    assert len(charts(app)) == 1
    assert not [s for s in app.subheader if "taken out" in s.value]


def test_one_job_is_shown_with_what_its_trace_says(
    open_page: Open, page_book: Book, words: Words, charts: Charts
) -> None:
    app = open_page("about_the_data", page_book.path, world_show=ONE_JOB, world_scenario="new_firm", world_job=7)

    trace = trace_job("new_firm", simulator.SEED, 7)
    out, left = trace.magnetite.out_kg[-1].sum(), trace.magnetite.left_kg[-1].sum()
    said = app.subheader[0].value
    assert not app.exception
    assert first_number(said, r"kg of [0-9.]+ kg taken out") == pytest.approx(out, rel=0.06)  # two figures
    assert first_number(said, "kg left") == pytest.approx(left, rel=0.06)
    assert f"every {trace.plans.weigh_minutes[0]:.0f} min" in words(app)
    assert len(charts(app)) == 4


def test_another_job_is_another_answer(open_page: Open, page_book: Book) -> None:
    app = open_page("about_the_data", page_book.path, world_show=ONE_JOB, world_scenario="new_firm", world_job=7)
    before = app.subheader[0].value

    app.number_input(key="world_job").set_value(8).run()

    assert not app.exception
    assert app.subheader[0].value != before


def test_a_firm_is_shown_with_the_median_of_its_jobs(open_page: Open, page_book: Book, charts: Charts) -> None:
    app = open_page("about_the_data", page_book.path, world_show=WHOLE_FIRM, world_scenario="new_firm")

    jobs = firm_distributions("new_firm", simulator.SEED, 25).jobs
    said = app.subheader[0].value
    assert not app.exception
    assert "25 jobs" in said
    assert first_number(said, "kg caught") == pytest.approx(jobs["caught_kg"].median(), rel=0.06)
    assert len(charts(app)) >= 3


@pytest.mark.parametrize("shown", [ONE_JOB, WHOLE_FIRM])
def test_every_picture_has_words_units_and_a_table(
    open_page: Open, page_book: Book, charts: Charts, shown: str
) -> None:
    app = open_page("about_the_data", page_book.path, world_show=shown, world_scenario="new_firm")

    for alt, spec in charts(app).items():
        titles = [axis["title"].get("text", "") for name, axis in spec["layout"].items() if name[1:5] == "axis"]
        assert re.search(r"\d", alt)
        assert any("[" in title for title in titles)
    # ledger, filled, glossary; and one for each chart
    assert len(app.dataframe) >= 3 + len(charts(app))


@pytest.fixture(scope="module")
def job() -> simulator.SimulatedJob:
    return simulator.job.__wrapped__("new_firm", 3)  # type: ignore[attr-defined, no-any-return]


def test_the_pools_add_up_to_what_the_job_says(job: simulator.SimulatedJob) -> None:
    e = job.emitters
    before = e[["loose_before_kg", "baked_before_kg"]].sum().sum()
    left = e[["loose_left_kg", "baked_left_kg"]].sum().sum()
    bars = simulated_world.pools_figure(e).data

    assert before == pytest.approx(job.before_kg)
    assert before == pytest.approx(left + job.out_kg + job.rinsed_kg)
    assert sum(sum(bar.x) for bar in bars) == pytest.approx(before + left)
    assert e["moved_in_kg"].sum() == pytest.approx(0, abs=1e-9)


def test_the_small_pictures_end_at_what_is_left(job: simulator.SimulatedJob) -> None:
    figure = simulated_world.emitters_figure(job.pools, DARK)
    ends = [trace.y[-1] for trace in figure.data if trace.stackgroup == "pools"]

    assert sum(ends) == pytest.approx(job.left_kg)
    assert "Magnetite in each emitter" in simulated_world.emitters_alt(job.pools)
    assert simulated_world.emitters_rows(job.pools)["Flush time [min]"].max() == job.flush_minutes


def test_the_catch_curve_ends_at_what_was_taken_out(job: simulator.SimulatedJob) -> None:
    rows = simulated_world.minutes_rows(job.minutes)

    assert rows["Taken out [kg]"].iloc[-1] == pytest.approx(job.out_kg, abs=1e-3)
    assert len(rows) <= simulated_world.SHOWN_ROWS + 1
    assert f"{job.minutes['is_weighing'].sum()} cleaning" in simulated_world.minutes_alt(job.minutes)


def test_callbacks_are_named_by_cause_and_whether_debris_was_behind_them() -> None:
    firm = simulator.firm.__wrapped__("usual")  # type: ignore[attr-defined]
    figure = simulated_firm.callbacks_figure(firm.callbacks)

    assert len(figure.data[0].y) == len(firm.callbacks)
    assert f"Of {firm.callbacks['followed'].iloc[0]} jobs" in simulated_firm.callbacks_alt(firm.callbacks)
    assert simulated_firm.callbacks_alt(firm.callbacks.iloc[:0]).startswith("0 jobs")
    assert len(simulated_firm.practices_rows(firm.practices)) == len(firm.practices)


@pytest.mark.parametrize(("minutes", "words"), [(545, "09:05"), (1440 + 520, "day 2, 08:40"), (0, "00:00")])
def test_the_wall_clock_in_words(minutes: int, words: str) -> None:
    assert simulator.clock_words(minutes) == words
