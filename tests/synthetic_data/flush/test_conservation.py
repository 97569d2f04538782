"""What goes in comes out: mass by emitter, heat by minute."""

from dataclasses import fields

import numpy as np
import pytest

from synthetic_data.flush import moves
from synthetic_data.logbook.truth import truth_rows
from synthetic_data.scenarios import SCENARIOS


def magnetite_after(end):
    """Where the magnetite of each emitter is, by the emitter it was last lifted from."""
    kept = end.consolidated + end.loose + end.carried + end.magnet + end.strainer
    return kept + end.caught + end.strainer_caught + end.rinsed - end.moved


def other_after(end):
    kept = end.sand + end.sand_carried + end.sand_trap + end.sand_caught
    return kept + end.sand_rinsed - end.sand_moved


def test_magnetite_is_conserved_emitter_by_emitter(chunk):
    before = chunk.fouling.loose_kg + chunk.fouling.consolidated_kg

    assert np.abs(before - magnetite_after(chunk.flush.end)).max() < 1e-9


def test_other_debris_is_conserved_emitter_by_emitter(chunk):
    assert np.abs(chunk.fouling.sand_kg - other_after(chunk.flush.end)).max() < 1e-9


def test_mass_is_conserved_after_every_minute_with_every_defect(still_world):
    wrong = {
        "from_min": 30,
        "connection_kv_m3_h": 0.5,
        "strainer_fill_per_h": 2.0,
        "trap_filled_share": 0.5,
        "bypass_kv_m3_h": 1.0,
        "weep_l_h": 0.5,
    }
    world, state = still_world(emitters=8, isolation=1, agitation=3, heat_source=1, defects=wrong, sand_kg=0.2)
    before, other, seen = 8 * 1.0, 8 * 0.2, []

    def look(minute, s):
        mass = magnetite_after(s).sum() - before, other_after(s).sum() - other
        seen.append((max(abs(m) for m in mass), s.bed.min(), s.water.min(), s.consolidated.min(), s.magnet.min()))

    moves.run_flush(world, state, look)
    left, *pools = (np.array(column) for column in zip(*seen, strict=True))
    assert len(seen) > 60
    assert left.max() < 1e-9
    assert min(pool.min() for pool in pools) >= 0.0


def test_what_settles_elsewhere_is_missed_where_it_was_lifted(chunk):
    # nothing is made by moving: over a house it adds up to nothing
    assert np.abs(chunk.flush.end.moved.sum(axis=1)).max() < 1e-9
    assert np.abs(chunk.flush.end.sand_moved.sum(axis=1)).max() < 1e-9
    assert np.abs(chunk.flush.end.moved).max() > 1e-3


@pytest.mark.parametrize("scenario", sorted(SCENARIOS))
def test_the_truth_file_adds_up_in_every_scenario(scenario, drawn):
    truth = truth_rows(drawn(scenario, 100, 8)[0]).to_pandas()
    before = truth.loose_before_kg + truth.consolidated_before_kg + truth.moved_in_kg
    after = truth[["caught_kg", "strainer_kg", "trapped_unweighed_kg", "rinsed_kg", "residual_kg"]].sum(axis=1)

    assert (before - after).abs().max() < 1e-9


def test_the_weighings_of_a_job_add_up_to_what_the_magnet_caught(chunk):
    w = chunk.flush.weighings
    magnet = w.trap == 0
    weighed = np.bincount(w.row[magnet], weights=w.dry_kg[magnet], minlength=chunk.jobs)

    assert weighed == pytest.approx(chunk.flush.end.caught.sum(axis=1), abs=1e-9)


def test_nothing_is_ever_negative(chunk):
    end = chunk.flush.end
    pools = ("loose", "consolidated", "carried", "magnet", "strainer", "caught", "rinsed", "sand", "sand_carried")

    assert min(getattr(end, name).min() for name in pools) >= 0.0


@pytest.mark.parametrize("scenario", sorted(SCENARIOS))
def test_every_number_of_every_scenario_is_finite(scenario, drawn):
    chunk = drawn(scenario, 100, 8)[0]
    readings, end = chunk.flush.readings, chunk.flush.end

    for part in (end, readings, chunk.fouling, chunk.survey, chunk.systems, chunk.flush.weighings):
        for item in fields(part):
            values = getattr(part, item.name)
            assert not isinstance(values, np.ndarray) or np.isfinite(values).all(), item.name
    # water stays between the mains and boiling; pressure under the safety valve; flow within the machine's
    assert readings.flow_c.min() > 5.0
    assert readings.flow_c.max() < 90.0
    assert 0.0 <= readings.pressure_bar.min() <= readings.pressure_bar.max() <= 3.0
    most = chunk.staff.machine_l_min[chunk.plans.engineer][readings.row]
    assert (readings.flow_l_min <= most * (1 + 1e-6)).all()
