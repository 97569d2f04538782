"""What gets written down: the six tables of the job log, rounded, and with the gaps that crews leave."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.contract.job_log import CAUSES, EMITTER_KINDS, VALVE_KINDS
from synthetic_data.chunk import Chunk
from synthetic_data.house.house import Flags, Floats, Ints


def firm_ids(chunk: Chunk) -> NDArray[np.str_]:
    """Firm of each job of the chunk."""
    firm = chunk.setting.diary.firm[chunk.rows]
    return np.asarray(np.array(chunk.setting.scenario.firm_ids)[firm])


def job_ids(chunk: Chunk) -> NDArray[np.str_]:
    """Ids of the jobs, counted within each firm in the order of its diary."""
    return np.char.add("J", np.char.zfill(chunk.setting.diary.number[chunk.rows].astype(str), 5))


def sloppiness(chunk: Chunk) -> Floats:
    """How ready each job's engineer is to leave a cell empty, about 1."""
    return np.asarray(chunk.parameters.log.gap_factor * np.exp(-0.5 * chunk.staff.tidy[chunk.plans.engineer]))


DOWNSTAIRS = ("hall", "lounge", "kitchen", "dining room", "study", "utility room")
UPSTAIRS = ("landing", "bedroom 1", "bedroom 2", "bathroom", "bedroom 3", "box room")


def keys(chunk: Chunk, row: Ints) -> dict[str, object]:
    """Firm and job of each row."""
    return {"firm_id": firm_ids(chunk)[row], "job_id": job_ids(chunk)[row]}


def clock(dates: NDArray[np.datetime64], minutes: Ints) -> NDArray[np.datetime64]:
    """Wall-clock time of `minutes` after midnight of those dates."""
    return np.asarray((dates.astype("datetime64[m]") + minutes.astype("timedelta64[m]")).astype("datetime64[us]"))


def gap(
    rng: np.random.Generator, values: NDArray[Any], chance: Floats | float, known: Flags | None = None
) -> pl.Series:
    """The values with some cells emptied, each with its chance (95 % at most); never one that is not `known`."""
    empty = rng.random(len(values)) < np.minimum(chance, 0.95)
    if known is not None:
        empty |= ~known
    return pl.select(pl.when(~pl.Series(empty)).then(pl.Series(values))).to_series()


def write_emitters(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `emitters`; some surveys have no cold spots noted, some cells are empty."""
    houses = chunk.houses
    row, column = np.nonzero(houses.present)
    slop = sloppiness(chunk)[row]
    unseen = rng.random(chunk.jobs) < 0.08 * sloppiness(chunk)
    return pl.DataFrame(
        {
            **keys(chunk, row),
            "emitter_no": column + 1,
            "emitter_kind": gap(rng, np.array(EMITTER_KINDS)[houses.kind[row, column]], 0.02 * slop),
            "room": _rooms(chunk, row, column, slop),
            "height_mm": gap(rng, houses.height_mm[row, column], 0.03 * slop),
            "length_mm": gap(rng, houses.length_mm[row, column], 0.03 * slop),
            "floor_level": gap(rng, houses.floor[row, column], 0.02 * slop),
            "tail_bore_mm": gap(rng, houses.tail_mm[row, column], 0.12 * slop),
            "valve_kind": _valve_kinds(chunk, row, column, slop),
            "cold_at_survey": gap(rng, chunk.survey.cold[row, column], 0.02 * slop, ~unseen[row]),
        }
    )


def _rooms(chunk: Chunk, row: Ints, column: Ints, slop: Floats) -> pl.Series:
    """Room of each emitter, by its floor and turn, in the surveys that write it down: two in three."""
    rng = chunk.setting.random("rooms")
    noted = rng.random(chunk.jobs) < 2 / 3
    below, above = (np.array(names)[column % len(names)] for names in (DOWNSTAIRS, UPSTAIRS))
    names = np.where(chunk.houses.floor[row, column] > 0, above, below)
    return gap(rng, names, 0.05 * slop, noted[row])


def _valve_kinds(chunk: Chunk, row: Ints, column: Ints, slop: Floats) -> pl.Series:
    """Kind of each valve, in the surveys that write it down: half of them."""
    rng = chunk.setting.random("valves")
    noted = rng.random(chunk.jobs) < 0.5
    kind = np.array(VALVE_KINDS)[chunk.houses.thermostatic[row, column].astype(np.int64)]
    return gap(rng, kind, 0.03 * slop, noted[row])


def write_pipe_runs(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `pipe_runs`: mains and branches of the surveys that measured them, within some 10 %."""
    measured = rng.random(chunk.jobs) < chunk.parameters.log.pipe_run_share
    row = np.repeat(np.flatnonzero(measured), 2)
    run = np.tile([1, 2], int(measured.sum()))
    length = np.where(run == 1, chunk.systems.main_length_m[row], chunk.systems.branch_length_m[row])
    outside = np.where(run == 1, chunk.houses.main_bore_mm[row], chunk.houses.tail_mm[row, 0])
    plastic = (run == 2) & (chunk.systems.plastic_share[row] > 0)
    steel = (run == 1) & chunk.houses.is_steel[row]
    return pl.DataFrame(
        {
            **keys(chunk, row),
            "run_no": run,
            "material": np.where(plastic, "plastic", np.where(steel, "steel", "copper")),
            "outside_mm": np.where(steel, 26.9, outside),
            "length_m": np.round(length * np.exp(0.1 * rng.standard_normal(len(row)))).clip(1, 490),
        }
    )


def write_callbacks(rng: np.random.Generator, chunk: Chunk) -> pl.DataFrame:
    """Table `callbacks`: cause as found; whether debris was behind it is often left empty."""
    visits = chunk.callbacks
    is_fault = visits.cause == CAUSES.index("boiler_fault")
    return pl.DataFrame(
        {
            **keys(chunk, visits.row),
            "called_back_on": chunk.visit_date[visits.row] + visits.days.astype("timedelta64[D]"),
            "cause": np.array(CAUSES)[visits.cause],
            "debris_related": gap(rng, visits.is_debris, np.where(is_fault, 0.35, 0.4)),
            "emitter_no": _called_about(chunk, visits.row, visits.cause),
        }
    )


def _called_about(chunk: Chunk, row: Ints, cause: Ints) -> pl.Series:
    """Emitter that a return visit was about: half of cold ones and blockages, one cold at survey if there was."""
    rng = chunk.setting.random("called_about")
    likely = np.where(chunk.survey.cold[row], 10.0, 1.0) * chunk.houses.present[row]
    number = np.argmax(likely * rng.random(likely.shape), axis=1) + 1
    about_one = np.isin(cause, [CAUSES.index("cold_emitter"), CAUSES.index("blockage")])
    return gap(rng, number, 0.5, about_one)
