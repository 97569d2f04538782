"""The tables written on site: catches and readings."""

from __future__ import annotations

import numpy as np
import polars as pl

from pipeline.contract.job_log import TRAPS
from pipeline.contract.units import DAYS_PER_YEAR
from synthetic_data.chunk import Chunk
from synthetic_data.flush.flush_state import MAGNET, WHOLE_SYSTEM
from synthetic_data.house.house import Floats, Ints
from synthetic_data.logbook.logbook import clock, firm_ids, gap, job_ids, sloppiness
from synthetic_data.logbook.written_clocks import catch_clock, reading_clock
from synthetic_data.streams import stream

NTU_PER_G_L = 1000.0
"""Of fines of 20 µm (assumption); what is coarser clouds less, gram for gram (`release.clouding`)."""
_NOTES = np.array(["", "sandy", "thick black", "flakes", "magnet full", "fine, like ink", "flow reversed before this"])
_NOTE_SHARES = (0.93, 0.005, 0.02, 0.015, 0.015, 0.01, 0.005)


def _emitter_no(rng: np.random.Generator, focus: Ints, chance: Floats) -> pl.Series:
    """Emitter number from 1, empty for the whole system and where the crew did not say."""
    return gap(rng, focus + 1, chance, focus != WHOLE_SYSTEM)


def _to_step(mass_g: Floats, step_g: Floats) -> Floats:
    return np.asarray((np.round(mass_g / step_g) * step_g).clip(0, 20000))


def scale_factor(chunk: Chunk) -> Floats:
    """What the scale of each job's engineer shows for 1: it drifts from one setting to the next, each its own way."""
    log, rng = chunk.parameters.log, stream(chunk.setting.seed, "scales")
    pace, phase = rng.standard_normal(chunk.setting.diary.engineers), rng.random(chunk.setting.diary.engineers)
    years = (chunk.visit_date - np.datetime64(chunk.parameters.first_visit)).astype(np.float64) / DAYS_PER_YEAR
    engineer = chunk.plans.engineer
    since = (years + phase[engineer] * log.scale_check_years) % log.scale_check_years
    return np.asarray(np.exp(log.scale_drift_per_year * pace[engineer] * since))


def write_catches(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `catches`: wet weighings rounded to the scale; careful crews dry a few and weigh them again."""
    w, jobs = chunk.flush.weighings, chunk.jobs
    engineer = chunk.plans.engineer[w.row]
    careful_job = chunk.staff.careful[chunk.plans.engineer] & (rng.random(jobs) < 0.5)
    dried = careful_job[w.row] & (w.trap == MAGNET) & (w.dry_kg > 0.03) & (rng.random(len(w.row)) < 0.15)
    kept = rng.random(len(w.row)) >= chunk.parameters.log.lost_catch_share
    again = np.flatnonzero(dried & kept)
    index = np.concatenate([np.flatnonzero(kept), again])
    is_dry = np.arange(len(index)) >= len(index) - len(again)
    drift = scale_factor(chunk)[w.row]
    dry_g = w.dry_kg * drift * 1000.0 * np.exp(0.02 * rng.standard_normal(len(w.row)))
    grams = np.where(
        is_dry,
        _to_step(dry_g, 1.0 + 0.0 * dry_g)[index],
        _to_step(w.wet_kg * drift * 1000.0, chunk.staff.scale_step_g[engineer])[index],
    )
    order = np.lexsort((is_dry, w.trap[index], w.wall_min[index], w.row[index]))
    index, is_dry, grams = index[order], is_dry[order], grams[order]
    row = w.row[index]
    starts = np.flatnonzero(np.r_[True, row[1:] != row[:-1]]) if len(row) else np.array([], dtype=np.int64)
    number = np.arange(len(row)) - np.repeat(starts, np.diff(np.r_[starts, len(row)])) + 1
    said = rng.random(len(row)) < np.where(dried[index], 2.0, 0.25)
    weighed = np.where(is_dry, "dry", "wet")
    note = _NOTES[rng.choice(len(_NOTES), len(row), p=_NOTE_SHARES)]
    slop = sloppiness(chunk)[row]
    return pl.DataFrame(
        {
            "firm_id": firm_ids(chunk)[row],
            "job_id": job_ids(chunk)[row],
            "catch_no": number,
            "caught_at": clock(chunk.visit_date[row], catch_clock(chunk)[index]),
            "focus_emitter_no": _emitter_no(rng, w.focus[index], 0.02 * slop),
            "trap": np.array(TRAPS)[w.trap[index]],
            "mass_g": grams,
            "weighed": gap(rng, weighed, 0.0, said | is_dry),
            "sticks_to_magnet": _stuck(chunk, index, slop),
            "note": gap(rng, note, 0.0, note != ""),
        }
    )


def _stuck(chunk: Chunk, index: Ints, slop: Floats) -> pl.Series:
    """Magnet test of what strainer and base held: half of the crews make it; a catch half and half reads either way."""
    w, rng = chunk.flush.weighings, chunk.setting.random("magnet_test")
    seen = w.magnetic_share + 0.1 * rng.standard_normal(len(w.row)) > 0.5
    tried = (w.trap != MAGNET) & (rng.random(len(w.row)) < 0.5)
    return gap(rng, seen[index], 0.05 * slop, tried[index])


def write_readings(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `readings`: instrument error, rounding, readings not taken and cells left empty."""
    r = chunk.flush.readings
    kept = rng.random(len(r.row)) >= chunk.parameters.log.reading_skip_share
    order = np.lexsort((r.wall_min, r.row))
    order = order[kept[order]]
    row = r.row[order]
    z = rng.standard_normal((6, len(row)))
    slop = sloppiness(chunk)[row]
    mains = chunk.houses.mains_us_cm[row]
    start = chunk.survey.conductivity_us_cm[row] + 600.0 * chunk.plans.dose_ratio[row]
    conductivity = (mains + (start - mains) * r.chemical[order]) * (1 + 0.02 * z[3])
    ph = 7.4 + (chunk.survey.ph[row] - 7.4) * 0.5 * r.chemical[order] + 0.08 * z[4]
    pressure = r.pressure_bar[order] + 0.06 * z[5]
    return pl.DataFrame(
        {
            "firm_id": firm_ids(chunk)[row],
            "job_id": job_ids(chunk)[row],
            "read_at": clock(chunk.visit_date[row], reading_clock(chunk)[order]),
            "focus_emitter_no": _emitter_no(rng, r.focus[order], 0.02 * slop),
            "flow_l_min": gap(rng, np.round(2 * r.flow_l_min[order] * (1 + 0.03 * z[0])) / 2, 0.04 * slop),
            "flow_temp_c": gap(rng, np.round(r.flow_c[order] + 0.5 * z[1]).clip(5, 90), 0.03 * slop),
            "return_temp_c": gap(rng, np.round(r.return_c[order] + 0.5 * z[2]).clip(5, 90), 0.05 * slop),
            "turbidity_ntu": gap(rng, turbidity_ntu(rng, r.solids_g_l[order]), 0.25 * slop),
            "conductivity_us_cm": gap(rng, np.round(conductivity, -1), 0.3 * slop),
            "ph": gap(rng, np.round(ph, 1), 0.5 * slop),
            "pressure_bar": gap(rng, np.round(pressure.clip(0.1, 9), 1), 0.35 * slop),
        }
    )


def turbidity_ntu(rng: np.random.Generator, solids_g_l: Floats) -> Floats:
    """Turbidity of water with debris that clouds as so much of fines does: two figures."""
    ntu = 3.0 + NTU_PER_G_L * solids_g_l * np.exp(0.12 * rng.standard_normal(len(solids_g_l)))
    power = 10.0 ** np.maximum(np.floor(np.log10(ntu)) - 1, 0)
    return np.asarray((np.round(ntu / power) * power).clip(0, 10000))
