"""What really was there: one row an emitter, kept in a file of its own that no pipeline reads."""

from __future__ import annotations

import numpy as np
import polars as pl

from synthetic_data.aftercare.callbacks import debris_first_risk
from synthetic_data.chunk import RISK_DAYS, Chunk
from synthetic_data.flush.faults import FAULTS, NONE
from synthetic_data.flush.network import ALL, STATION
from synthetic_data.house.house import ONE_PIPE
from synthetic_data.logbook.logbook import clock, firm_ids, job_ids
from synthetic_data.logbook.visit_tables import scale_factor

MIDDLE_BAND = 1
"""Of the temperatures at which flows are solved, the middle one."""


def job_truth(chunk: Chunk) -> dict[str, object]:
    """What is true of each job: pools [kg], hazards and risks of callbacks, fault, care, scale."""
    h, f, end, faults = chunk.houses, chunk.fouling, chunk.flush.end, chunk.setting.faults
    residual = end.loose + end.consolidated + end.carried
    left = RISK_DAYS - chunk.outcome.last_day
    debris = chunk.outcome.course.debris_hazard
    begins = clock(chunk.visit_date, chunk.flush.start_min + faults.from_minute)
    return {
        "job_is_one_pipe": h.layout == ONE_PIPE,
        "job_pumps_over": f.pumps_over,
        "job_has_sand": f.has_sand,
        "job_volume_l": chunk.systems.volume_l,
        "job_looks_bad": chunk.survey.looks_bad,
        "job_topups_per_year": f.topups,
        "job_wet_dry_ratio": chunk.plans.wet_ratio,
        "job_scale_factor": scale_factor(chunk),
        "job_skill": chunk.staff.skill[chunk.plans.engineer],
        "job_diligence": chunk.plans.diligence,
        "job_magnetite_before_kg": f.magnetite_kg,
        "job_caught_kg": end.caught.sum(axis=1),
        "job_residual_kg": residual.sum(axis=1),
        "job_debris_hazard_year": debris[:, 12],
        "job_other_hazard_per_year": chunk.others_per_year.sum(axis=1),
        "job_debris_risk_365": chunk.outcome.risk,
        "job_debris_first_risk_365": debris_first_risk(chunk.outcome.course, chunk.others_per_year, left),
        "job_fault": np.array(FAULTS)[faults.kind],
        "job_fault_from": pl.Series(begins).set(pl.Series(faults.kind == NONE), None),
    }


def truth_rows(chunk: Chunk) -> pl.DataFrame:
    """One row an emitter: pools before, where they went, what is left; and the truth about the job [kg].

    `loose_before_kg + consolidated_before_kg + moved_in_kg` = `caught_kg + strainer_kg + trapped_unweighed_kg +
    rinsed_kg + residual_kg`; what moved in settled here and was lifted elsewhere. Flows are those at some
    40 °C, before a planted fault sets in. Columns beginning with `job_` repeat on every row of a job.
    """
    h, f, end = chunk.houses, chunk.fouling, chunk.flush.end
    flows = chunk.outcome.flows
    row, column = np.nonzero(h.present)
    at = (row, column)
    jobs = pl.DataFrame(job_truth(chunk))
    emitters = pl.DataFrame(
        {
            "firm_id": firm_ids(chunk)[row],
            "job_id": job_ids(chunk)[row],
            "emitter_no": column + 1,
            "loose_before_kg": f.loose_kg[at],
            "consolidated_before_kg": f.consolidated_kg[at],
            "non_magnetic_before_kg": f.sand_kg[at],
            "caught_kg": end.caught[at],
            "strainer_kg": end.strainer_caught[at],
            "trapped_unweighed_kg": (end.magnet + end.strainer)[at],
            "rinsed_kg": end.rinsed[at],
            "moved_in_kg": end.moved[at],
            "residual_kg": (end.loose + end.consolidated + end.carried)[at],
            "non_magnetic_caught_kg": end.sand_caught[at],
            "non_magnetic_unweighed_kg": end.sand_trap[at],
            "non_magnetic_rinsed_kg": end.sand_rinsed[at],
            "non_magnetic_moved_in_kg": end.sand_moved[at],
            "non_magnetic_residual_kg": (end.sand + end.sand_carried)[at],
            "flow_own_turn_l_min": flows.branch[MIDDLE_BAND, STATION][at],
            "flow_all_open_l_min": flows.branch[MIDDLE_BAND, ALL][at],
        }
    )
    return pl.concat([emitters, jobs[row]], how="horizontal")
