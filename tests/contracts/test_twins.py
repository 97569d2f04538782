"""A formula or figure that stands twice, in SQL and in Python or in a table and in a constant, says the same twice."""

from __future__ import annotations

import numpy as np
import pytest

from models.physics.emitters import PANELS, panel_contents_l
from models.physics.heat import degree_hours
from models.physics.pipes import COPPER_WALL_MM, contents_l_m, copper_bore_mm
from models.physics.water import warming_energy_kwh
from pipeline.contract.reference_tables import reference_rows
from pipeline.store.book import Book, read_table
from synthetic_data.illustrations.distributions import firm_distributions


@pytest.mark.parametrize("outside_mm", COPPER_WALL_MM)
def test_copper_of_the_physics_lies_in_the_range_of_the_tube_table(outside_mm: float) -> None:
    """Equal to the middle from 15 mm on; microbore is the soft tube, whose wall is a size thicker."""
    rows = {float(r["outside_mm"]): r for r in reference_rows("tube_bores") if r["material"] == "copper"}
    low, mid, high = (float(rows[outside_mm][f"bore_{level}_mm"]) for level in ("low", "mid", "high"))

    bore = float(copper_bore_mm(outside_mm))

    assert low <= bore <= high
    assert outside_mm < 15 or bore == pytest.approx(mid)


def test_panels_of_the_physics_lie_in_the_ranges_of_the_table() -> None:
    rows = [row for row in reference_rows("emitter_contents") if row["emitter_kind"] in PANELS]
    outside = [
        row
        for row in rows
        if not float(row["content_low_l_per_m"])
        <= float(panel_contents_l(PANELS[row["emitter_kind"]], float(row["height_mm"]), 1000.0))
        <= float(row["content_high_l_per_m"])
    ]

    assert len(rows) == 40
    assert outside == []


def test_degree_hours_of_the_sql_are_those_of_the_physics(small_book: Book) -> None:
    """On every job of one day whose readings are whole; over nights the SQL leaves out what the plain sum counts."""
    build = small_book.current()
    readings = read_table(build, "readings").sort_values("read_at")
    heat = read_table(build, "ftr_heat").set_index("job_id")["degree_hours_above_20_c"]
    compared = 0
    for job_id, rows in readings.groupby("job_id"):
        temps = rows[["flow_temp_c", "return_temp_c"]]
        if rows["read_at"].dt.date.nunique() > 1 or temps.isna().to_numpy().any():
            continue
        minutes = (rows["read_at"] - rows["read_at"].min()).dt.total_seconds().to_numpy() / 60
        assert heat[job_id] == pytest.approx(degree_hours(minutes, temps.mean(axis=1).to_numpy()), abs=1e-6)
        compared += 1

    assert compared >= 5


def test_warming_energy_of_the_sql_is_that_of_the_steam_tables(small_book: Book) -> None:
    """The SQL takes 1.163 Wh a litre and kelvin at any temperature: 0.5 % high from a cold start, 2 % from 60 °C."""
    build = small_book.current()
    heat = read_table(build, "ftr_heat").merge(read_table(build, "ftr_volume"), on=["firm_id", "job_id"])
    heat = heat[heat["peak_temp_c"] - heat["start_temp_c"] > 5]

    exact = warming_energy_kwh(heat["system_volume_l"], heat["start_temp_c"], heat["peak_temp_c"])

    assert len(heat) >= 10
    assert np.allclose(heat["water_only_energy_kwh"], exact, rtol=0.02, atol=0)


def test_pipe_contents_of_the_sql_are_those_of_the_physics(small_book: Book) -> None:
    """Copper runs of listed sizes: the middle bore of the table through the formula of the physics."""
    build = small_book.current()
    runs = read_table(build, "pipe_runs")
    others = runs.loc[(runs["material"] != "copper") | (runs["outside_mm"] < 15), "job_id"]
    runs = runs[~runs["job_id"].isin(others)]
    litres = (contents_l_m(copper_bore_mm(runs["outside_mm"])) * runs["length_m"]).groupby(runs["job_id"]).sum()
    volume = read_table(build, "ftr_volume").set_index("job_id")["pipe_volume_mid_l"]

    assert len(litres) >= 1
    # each run is rounded to a microlitre, so that the sum is the same however threads share the rows
    assert np.allclose(volume[litres.index], litres, rtol=0, atol=2e-5)


def test_flush_minutes_of_the_book_are_those_that_the_simulator_flushed(small_book: Book) -> None:
    """The simulator counts minutes with the flow on, the book takes nights out of a clock. A crew that looks at the
    clock in steps of five rounds begin and end away from each other; the first reading of a second day, a quarter of
    an hour after the flow, is the first that a log knows of it."""
    told = read_table(small_book.current(), "ftr_outcome").set_index("job_id")
    truth = firm_distributions("usual", 5, 40).jobs.to_pandas().set_index("job_id")
    more = told["flush_minutes"] - truth["flush_minutes"]
    nights = truth["days_on_site"] - 1

    assert (nights > 0).sum() >= 3
    assert (told["is_second_day"] == (nights > 0)).all()
    assert more[nights == 0].between(0, 10).all()
    assert more[nights > 0].between(-15 * nights[nights > 0], 10).all()
