"""What really was there: one row an emitter, kept in a file of its own that no pipeline reads."""

from __future__ import annotations

import numpy as np
import polars as pl

from synthetic_data.house import ONE_PIPE
from synthetic_data.logbook import Chunk


def truth_rows(chunk: Chunk) -> pl.DataFrame:
    """One row an emitter: pools before, where they went, what is left; and the truth about the job [kg].

    `loose_before_kg + consolidated_before_kg` = `caught_kg + strainer_kg + trapped_unweighed_kg + rinsed_kg
    + residual_kg`. Columns beginning with `job_` repeat on every row of a job.
    """
    h, f, end = chunk.houses, chunk.fouling, chunk.flush.end
    row, column = np.nonzero(h.present)
    at = (row, column)
    residual = end.loose + end.consolidated + end.carried
    hazard = chunk.hazards_per_year
    job = {
        "job_is_one_pipe": h.layout == ONE_PIPE,
        "job_pumps_over": f.pumps_over,
        "job_has_sand": f.has_sand,
        "job_volume_l": chunk.systems.volume_l,
        "job_looks_bad": chunk.survey.looks_bad,
        "job_topups_per_year": f.topups,
        "job_wet_dry_ratio": chunk.plans.wet_ratio,
        "job_magnetite_before_kg": f.magnetite_kg,
        "job_caught_kg": end.caught.sum(axis=1),
        "job_residual_kg": residual.sum(axis=1),
        "job_debris_hazard_per_year": hazard[:, 0],
        "job_other_hazard_per_year": hazard[:, 1:].sum(axis=1),
    }
    return pl.DataFrame({
        "firm_id": pl.repeat(chunk.firm_id, len(row), eager=True),
        "job_id": chunk.job_id[row],
        "emitter_no": column + 1,
        "loose_before_kg": f.loose_kg[at],
        "consolidated_before_kg": f.consolidated_kg[at],
        "non_magnetic_before_kg": f.sand_kg[at],
        "caught_kg": end.caught[at],
        "strainer_kg": end.strainer_caught[at],
        "trapped_unweighed_kg": (end.magnet + end.strainer)[at],
        "rinsed_kg": end.rinsed[at],
        "residual_kg": residual[at],
        "non_magnetic_caught_kg": end.sand_caught[at],
        "non_magnetic_unweighed_kg": end.sand_trap[at],
        "non_magnetic_rinsed_kg": end.sand_rinsed[at],
        "non_magnetic_residual_kg": (end.sand + end.sand_carried)[at],
        **{name: values[row] for name, values in job.items()},
    })  # fmt: skip
