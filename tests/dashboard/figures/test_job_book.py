"""Many curves, the band of similar jobs, and one job's readings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from dashboard.figures import job_book as figures
from dashboard.figures.curves import catch_band, held_at, similar_mask
from dashboard.theme import LIGHT
from models.refusals import NotEnoughData


def curve(job: str, kg: float) -> pd.DataFrame:
    """Three weighings at 60, 120 and 180 min: half, three quarters and all of `kg`."""
    return pd.DataFrame(
        {"firm_id": "own", "job_id": job, "minutes_since_start": [60.0, 120.0, 180.0],
         "cumulative_magnetite_kg": [kg / 2, 0.75 * kg, kg]}
    )  # fmt: skip


@pytest.fixture
def many() -> pd.DataFrame:
    """Eleven jobs that end at 1, 2, …, 11 kg."""
    return pd.concat([curve(f"J{kg}", float(kg)) for kg in range(1, 12)], ignore_index=True)


def test_a_job_holds_its_last_weighing_until_the_next() -> None:
    held = held_at(curve("J", 4.0), np.array([0.0, 59.9, 60.0, 100.0, 500.0]))

    assert held.tolist() == [0.0, 0.0, 2.0, 2.0, 4.0]


def test_the_band_is_the_quantiles_over_jobs(many: pd.DataFrame) -> None:
    band = catch_band(many)

    # eleven equally spaced ends: quantiles 0.1, 0.5, 0.9 are the 2nd, 6th and 10th of them
    assert (band.low_kg[-1], band.middle_kg[-1], band.high_kg[-1]) == pytest.approx((2.0, 6.0, 10.0))
    assert band.jobs == 11


def test_too_few_similar_jobs_give_a_sentence_and_no_band(many: pd.DataFrame) -> None:
    with pytest.raises(NotEnoughData, match="at least 8 similar jobs with weighings; there are 2"):
        catch_band(many[many["job_id"].isin(["J1", "J2"])])


def test_similar_means_same_system_and_nearly_as_many_emitters() -> None:
    jobs = pd.DataFrame(
        {"firm_id": "own", "job_id": ["a", "b", "c", "d"], "system_type": ["sealed", "sealed", "open_vented", "sealed"],
         "emitter_count": [10, 13, 10, 14]}
    )  # fmt: skip

    assert similar_mask(jobs, jobs.iloc[0]).tolist() == [False, True, False, False]


def test_all_curves_are_one_line_with_gaps_and_the_chosen_one_is_strong(many: pd.DataFrame) -> None:
    figure = figures.curves_figure(many, catch_band(many), ("own", "J3"))

    thin, chosen = figure.data[0], figure.data[-1]
    assert np.isnan(np.asarray(thin.x, dtype=float)).sum() == 11
    assert list(chosen.y) == pytest.approx([0.0, 1.5, 2.25, 3.0])
    assert figure.layout.yaxis.range[0] == 0


def test_the_words_carry_the_band_and_the_job(many: pd.DataFrame) -> None:
    alt = figures.curves_alt(11, catch_band(many), "J3", 3.0)

    assert "the middle one ends at 6.0 kg, 8 in 10 between 2.0 kg and 10 kg" in alt
    assert "Job J3 ends at 3.0 kg." in alt


def test_heat_is_plum_and_return_is_dashed() -> None:
    readings = pd.DataFrame(
        {"read_at": pd.to_datetime(["2031-03-04T09:00", "2031-03-04T09:15"]), "flow_temp_c": [20.0, 45.0],
         "return_temp_c": [18.0, 35.0]}
    )  # fmt: skip

    figure = figures.heat_figure(readings)

    assert [(t.name, t.line.color, t.line.dash) for t in figure.data] == [
        ("flow", LIGHT.heat, "solid"), ("return", LIGHT.heat, "dash"),
    ]  # fmt: skip
    assert figures.readings_alt(readings, "flow_temp_c", "Flow temperature", "°C").endswith("20 and 45 °C, last 45 °C.")
