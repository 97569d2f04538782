"""Models in one-sided worlds: do ranges hold, and where they do not, is it said?

    python -m tests.benchmarks.studies.study_one_sided [JOBS] [SEED] [WORLD...]

The quote is learnt from jobs of the world `usual` and asked for jobs of each world. Printed: share of jobs whose dry
magnetite lies within the 80 % range; share whose true volume lies within the stated range, with the middle ratio of
stated to true volume; share of jobs with an answer outside the records; share with a warning while flushing or a
caution of the plan or a remark on the records that names the danger, and the same among jobs that gave less than the
range says. The truth of the contents is not the table that the models use: one make a house, ± 13 %, coils and
buffers besides.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from models.quote.answer import answer
from models.quote.base.quote_result import Quote
from models.quote.model.quote_model import QuoteModel
from models.quote.train import train_quote
from pipeline.contract.firm import Firm
from pipeline.contract.job_cautions import cautions
from synthetic_data.scenarios import SCENARIOS
from tests.benchmarks.bench_warnings import KEY, Frames, cases, warned, world

ONE_SIDED = (
    "aluminium_exchangers",
    "open_tanks",
    "blocked_outright",
    "weak_pipes",
    "heat_pumps",
    "half_open",
    "stuck_pins",
    "antifreeze",
    "underfloor",
    "jelly_and_scale",
    "steel_and_plastic",
    "pump_fails",
)


OF_THE_DANGER = ("stop_aluminium", "aluminium", "open_tank", "antifreeze")
"""Cautions of a plan that name one of these worlds; those that nearly every job has (heater, notice) do not count."""


LOOPS = "underfloor loops"


@dataclass(frozen=True, slots=True)
class Score:
    """Shares of the jobs of a world: magnetite and volume within their ranges, jobs outside the records, jobs told of
    something, and of those that gave less than their range the ones told; middle ratio of stated to true volume."""

    world: str
    jobs: int
    magnetite_held: float
    volume_held: float
    volume_ratio: float
    outside: float
    told: float
    low: int
    told_of_low: float


def learnt(jobs: int, seed: int) -> QuoteModel:
    """The quote learnt from so many jobs of the usual world."""
    frames = world("usual", jobs, seed)
    return train_quote(frames["ftr_quote"], frames["ftr_outcome"])


def score(name: str, model: QuoteModel, jobs: int, seed: int) -> Score:
    """How the usual world's model does in another world."""
    frames = world(name, jobs, seed)
    quotes = answer(model, frames["ftr_quote"], frames["ftr_volume"], Firm())
    caught = frames["ftr_outcome"].set_index(KEY)["magnetite_kg"]
    true_l = frames["truth"]["job_volume_l"]
    kilos = np.array([caught.loc[(q.firm_id, q.job_id)] for q in quotes], dtype=float)
    ranges = np.array(
        [
            (f.p10, f.p50, f.p90, q.volume.low_l, q.volume.mid_l, q.volume.high_l)
            for q in quotes
            for f in (q.forecasts["magnetite_kg"].quantiles,)
        ]
    )
    litres = np.array([true_l.loc[(q.firm_id, q.job_id)] for q in quotes])
    is_told = _told(frames, model)
    told = np.array([is_told[(q.firm_id, q.job_id)] or _names_loops(q) for q in quotes])
    known = np.isfinite(kilos)
    low = known & (kilos < ranges[:, 0])
    return Score(
        name,
        len(quotes),
        float(((kilos >= ranges[:, 0]) & (kilos <= ranges[:, 2]))[known].mean()),
        float(((litres >= ranges[:, 3]) & (litres <= ranges[:, 5])).mean()),
        float(np.median(ranges[:, 4] / litres)),
        float(np.mean([bool(quote.basis.outside) for quote in quotes])),
        float(told.mean()),
        int(low.sum()),
        float(told[low].mean()) if low.any() else float("nan"),
    )


def _names_loops(quote: Quote) -> bool:
    """Whether the quote says that no job of the records has so many underfloor loops."""
    return any(LOOPS in sentence for sentence in quote.basis.outside)


def _told(frames: Frames, model: QuoteModel) -> dict[tuple[str, str], bool]:
    """By job: whether anything was said of its plan, or while it went on."""
    plans = {
        (row["firm_id"], row["job_id"]): any(caution.code in OF_THE_DANGER for caution in cautions(row))
        for row in frames["jobs"].to_dict("records")
    }
    rang = {
        (case.job.firm_id, case.job.job_id): bool(warned(case.job)) for case in cases(frames, frames["jobs"], model)
    }
    return {key: plans[key] or rang.get(key, False) for key in plans}


def main(asked: list[str]) -> None:
    numbers = [int(text) for text in asked if text.isdigit()]
    jobs, seed = (numbers + [150, 91][len(numbers) :])[:2]
    model = learnt(500, seed)
    names = [text for text in asked if text in SCENARIOS] or ["usual", *ONE_SIDED]
    sys.stdout.write(f"{'world':<22} jobs  kg held  L held  L/true  outside  told  low  told of low\n")
    for name in names:
        one = score(name, model, jobs, seed + 1)
        sys.stdout.write(
            f"{name:<22} {one.jobs:4d}  {one.magnetite_held:7.2f}  {one.volume_held:6.2f}  {one.volume_ratio:6.2f}  "
            f"{one.outside:7.2f} "
            f"{one.told:5.2f}  {one.low:3d}  {one.told_of_low:5.2f}\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    np.seterr(all="ignore")
    main(sys.argv[1:])
