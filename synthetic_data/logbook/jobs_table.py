"""Table `jobs`: survey, plan and visit of each job as written down; and all six tables together."""

from __future__ import annotations

import numpy as np
import polars as pl

from pipeline.contract import JOB_LOG, job_log
from synthetic_data.chunk import Chunk
from synthetic_data.flush.faults import BYPASS
from synthetic_data.house.house import DISTRICTS, HEAT_ONLY, ONE_PIPE, TWO_PIPE, Floats, Ints
from synthetic_data.logbook.beside_the_list import counted_columns, surface_columns, total_columns
from synthetic_data.logbook.logbook import (
    clock,
    firm_ids,
    gap,
    job_ids,
    sloppiness,
    write_callbacks,
    write_emitters,
    write_pipe_runs,
)
from synthetic_data.logbook.visit_tables import turbidity_ntu, write_catches, write_readings
from synthetic_data.logbook.written_clocks import visit_clocks

_BOILER_WORDS = np.array(["heat_only", "system", "combi", "heat_pump"])


def _words(choices: tuple[str, ...], index: Ints) -> np.ndarray:
    return np.array(choices)[index]


def _survey_columns(rng: np.random.Generator, c: Chunk) -> dict[str, object]:
    """What the survey found; one-pipe layouts are often missed."""
    h, s, slop = c.houses, c.survey, sloppiness(c)
    year = c.visit_date.astype("datetime64[Y]").astype(np.int64) + 1970
    exact = year - h.age_years
    rounded = np.where(rng.random(c.jobs) < 0.3, np.round(exact / 5) * 5, exact).astype(np.int64)
    missed = (rng.random(c.jobs) < c.parameters.log.one_pipe_missed) | c.setting.faults.has(BYPASS)
    seen = np.where((h.layout == ONE_PIPE) & missed, TWO_PIPE, h.layout)
    sampled = rng.random(c.jobs) < c.parameters.log.water_sample_share
    return {
        "property_kind": gap(rng, _words(job_log.PROPERTY_KINDS, h.property_kind), 0.02 * slop),
        "floor_count": gap(rng, h.floor_count, 0.03 * slop),
        "postcode_district": _words(DISTRICTS, h.district),
        "system_type": np.where(h.vented, "open_vented", "sealed"),
        "pipe_layout": gap(rng, _words(job_log.PIPE_LAYOUTS, seen), 0.06 * slop),
        "main_bore_mm": gap(rng, h.main_bore_mm, 0.1 * slop),
        "boiler_kind": gap(rng, _BOILER_WORDS[h.boiler_kind], 0.02 * slop),
        "boiler_output_kw": gap(rng, h.boiler_kw, 0.15 * slop),
        "install_year": gap(rng, np.clip(rounded, 1930, year), 0.1 * slop),
        "last_cleaned_year": gap(rng, year - c.fouling.years_since_clean, 0.15 * slop, c.fouling.cleaned_before),
        "inhibitor_at_survey": gap(rng, c.fouling.inhibitor, 0.2 * slop),
        "filter_at_survey": gap(rng, c.fouling.filter, 0.02 * slop),
        "known_building_debris": gap(rng, s.suspects_sand, 0.25 * slop),
        "topups_per_year": gap(rng, c.fouling.topups, np.where(h.vented, 0.4, 0.2) * slop),
        "survey_ph": gap(rng, np.round(s.ph, 1), 0.05 * slop, sampled),
        "survey_conductivity_us_cm": gap(rng, np.round(s.conductivity_us_cm, -1), 0.05 * slop, sampled),
        "survey_turbidity_ntu": gap(rng, np.round(s.turbidity_ntu), 0.25 * slop, sampled),
        "survey_iron_mg_l": gap(rng, np.round(s.iron_mg_l, 1), 0.4 * slop, sampled),
        "mains_conductivity_us_cm": gap(rng, np.round(h.mains_us_cm, -1), 0.1 * slop),
    }


def _plan_columns(rng: np.random.Generator, c: Chunk) -> dict[str, object]:
    """What was decided before the flush."""
    p, staff, slop = c.plans, c.staff, sloppiness(c)
    times = visit_clocks(c)
    has_dosed = p.predose_days > 0
    dosed_on = c.visit_date - p.predose_days.astype("timedelta64[D]")
    return {
        "predosed_on": gap(rng, dosed_on, 0.02 * slop, has_dosed),
        "predose_label_ratio": gap(rng, p.dose_ratio, 0.12 * slop, has_dosed),
        "label_max_days": gap(rng, staff.label_days[p.engineer], 0.1 * slop, has_dosed),
        "visit_date": c.visit_date,
        "flush_started_at": clock(c.visit_date, times.started),
        "flush_ended_at": clock(c.visit_date, times.ended),
        "arrived_at": gap(rng, clock(c.visit_date, times.arrived), 0.03 * slop),
        "left_at": gap(rng, clock(c.visit_date, times.left), 0.04 * slop),
        "heat_source": _words(job_log.HEAT_SOURCES, p.heat_source),
        "heater_kw": gap(rng, p.heater_kw, 0.02 * slop, p.heater_kw > 0),
        "connection": gap(rng, _words(job_log.CONNECTIONS, p.connection), 0.03 * slop),
        "machine_max_flow_l_min": gap(rng, staff.machine_l_min[p.engineer], 0.03 * slop),
        "hose_length_m": gap(rng, staff.hose_m[p.engineer], 0.1 * slop),
        "hose_bore_mm": gap(rng, staff.hose_bore_mm[p.engineer], 0.1 * slop),
        "isolation": gap(rng, _words(job_log.ISOLATIONS, p.isolation), 0.02 * slop),
        "agitation": gap(rng, _words(job_log.AGITATIONS, p.agitation), 0.03 * slop),
    }


def _beside_columns(c: Chunk) -> dict[str, object]:
    """What hangs on the source and the chemical; asked by name in half of the surveys or fewer."""
    rng, h, slop = c.setting.random("beside"), c.houses, sloppiness(c)
    asked, jobs = rng.random((4, c.jobs)), c.jobs
    share = c.parameters.log
    suits = (c.plans.predose_days > 0) & h.aluminium & (asked[0] < share.exchanger_share)
    tested = c.plans.inhibitor_dosed & (asked[3] < 0.4)
    dosed = c.houses.mains_us_cm * 1.03 + 1100.0 * np.exp(0.15 * rng.standard_normal(jobs))
    return {
        "aluminium_exchanger": gap(rng, h.aluminium, 0.02 * slop, asked[0] < share.exchanger_share),
        "buffer_l": gap(rng, np.round(h.buffer_l + h.coil_l), 0.02 * slop, asked[1] < share.buffer_share),
        "antifreeze_at_survey": gap(rng, h.antifreeze, 0.02 * slop, asked[2] < share.exchanger_share),
        "cleaner_suits_aluminium": gap(rng, suits, 0.05 * slop, suits),
        "machine_open_tank": gap(rng, c.staff.open_tank[c.plans.engineer], 0.03 * slop),
        "dosed_conductivity_us_cm": gap(rng, np.round(dosed, -1), 0.2 * slop, tested),
    }


def _final_columns(rng: np.random.Generator, c: Chunk) -> dict[str, object]:
    """What was left behind, and with what protection."""
    p, end, slop = c.plans, c.flush.end, sloppiness(c)
    z = rng.standard_normal((3, c.jobs))
    mains = c.houses.mains_us_cm
    start = c.survey.conductivity_us_cm + 600.0 * p.dose_ratio
    final = (mains + (start - mains) * end.chemical) * (1 + 0.015 * z[0])
    # what settled when the flow stopped was in the water of the last reading; a clear rinse shows little
    solids = end.chemical * 0.075 * np.exp(0.4 * z[1])
    strainer = np.where(rng.random(c.jobs) < 0.3, 0, np.where(p.strainer_checked, 1 + (p.engineer % 2), 3))
    strainer = np.where(c.houses.boiler_kind == HEAT_ONLY, 0, strainer)
    return {
        "half_drained_emitters": gap(rng, p.half_drained, 0.1 * slop),
        "flow_reversed": gap(rng, p.reversed, 0.08 * slop),
        "boiler_strainer": gap(rng, _words(job_log.STRAINERS, strainer), 0.12 * slop),
        "strainer_checked": gap(rng, p.strainer_checked, 0.03 * slop),
        "final_ph": gap(rng, np.round(7.4 + 0.15 * z[2], 1), 0.3 * slop),
        "final_conductivity_us_cm": gap(rng, np.round(final, -1), 0.1 * slop),
        "final_turbidity_ntu": gap(rng, turbidity_ntu(rng, solids), 0.3 * slop),
        "final_iron_mg_l": gap(rng, np.round(0.4 + 16 * solids, 1), 0.6 * slop),
        "filter_fitted": gap(rng, _words(job_log.FILTERS, p.filter_fitted), 0.01 * slop),
        "inhibitor_dosed": gap(rng, p.inhibitor_dosed, 0.02 * slop),
    }


def _quote_columns(rng: np.random.Generator, c: Chunk) -> dict[str, object]:
    """What the firm quoted: by emitters, a little by looks, never knowing what is inside."""
    looks = c.survey.looks_bad - 0.5
    minutes = (150.0 + 24.0 * c.houses.emitter_count) * (1 + 0.3 * looks) * np.exp(0.1 * rng.standard_normal(c.jobs))
    quoted: Floats = np.round(minutes / 30) * 30
    price: Floats = 140.0 + 0.85 * quoted + 6.0 * c.houses.emitter_count
    weighed = c.flush.weighings
    caught_g = np.asarray(np.bincount(weighed.row, weighed.wet_kg * 1000.0, c.jobs), dtype=np.float64)
    followed = c.visit_date + c.followed_days.astype("timedelta64[D]")
    return {
        "quoted_minutes": gap(rng, quoted, 0.05 * sloppiness(c)),
        "quoted_price": gap(rng, np.round(price / 5) * 5, 0.05 * sloppiness(c)),
        "followed_until": followed,
        **total_columns(c, price, caught_g),
    }


def engineer_ids(chunk: Chunk) -> np.ndarray:
    """Ids of the engineers, counted within each firm."""
    number = chunk.setting.diary.number_of_engineer[chunk.plans.engineer]
    return np.asarray(np.char.add("E", np.char.zfill(number.astype(str), 2)))


def write_jobs(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `jobs` of a chunk, columns in the order of the contract."""
    columns = {
        "firm_id": firm_ids(chunk),
        "job_id": job_ids(chunk),
        "engineer_id": engineer_ids(chunk),
        "crew_size": gap(rng, chunk.plans.crew_size, 0.03 * sloppiness(chunk)),
        **_survey_columns(rng, chunk),
        **_plan_columns(rng, chunk),
        **_beside_columns(chunk),
        **counted_columns(chunk),
        **_final_columns(rng, chunk),
        **_quote_columns(rng, chunk),
    }
    return pl.DataFrame(columns).select(JOB_LOG["jobs"].names)


def write_tables(rng: np.random.Generator, readings_rng: np.random.Generator, chunk: Chunk) -> dict[str, pl.DataFrame]:
    """The six tables of a chunk, by name, columns in the order of the contract."""
    return {
        "jobs": write_jobs(rng, chunk),
        "emitters": _emitters(rng, chunk),
        "pipe_runs": write_pipe_runs(rng, chunk),
        "catches": write_catches(rng, chunk),
        "readings": write_readings(readings_rng, chunk),
        "callbacks": write_callbacks(rng, chunk),
    }


def _emitters(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `emitters` with the surfaces that were felt."""
    surfaces = surface_columns(chunk, *np.nonzero(chunk.houses.present))
    return write_emitters(rng, chunk).with_columns(**surfaces).select(JOB_LOG["emitters"].names)
