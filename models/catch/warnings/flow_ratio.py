"""Each flow reading against what machine, connection and tails let through: the same measure whatever is open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.catch.records.job import JobCatch
from models.catch.records.ragged_arrays import Floats, Ints
from models.catch.records.sensor_readings import WHOLE
from models.catch.warnings.expected_flow import OPEN_IN_A_GROUP, expected_l_min

LEAST_L_MIN = 0.25
"""Half a step of a flow meter: no flow at all reads as this, so that a ratio has a logarithm."""
USUAL_EMITTERS = 10


def log_ratios(job: JobCatch) -> Floats:
    """Natural logarithm of measured over expected flow, shape (readings,); NaN where either is not known.

    With the whole system in focus though emitters are flushed one at a time, the crew rinses or left the emitter
    out: what is open is not known, and neither is the flow to be expected.
    """
    readings, whole, bodies = job.readings, _whole_count(job), _thermostatic(job)
    expected = np.full(readings.minutes.size, np.nan)
    known = list(bodies.values())
    shares = {number: bodies.get(number) for number in set(readings.emitter_no.tolist())}
    shares[WHOLE] = sum(known) / len(known) if known else None
    for number, share in shares.items():
        open_count = whole if number == WHOLE else 1
        setup = replace(job.setup, thermostatic_share=share)
        flow = None if open_count is None else expected_l_min(setup, open_count)
        expected[readings.emitter_no == number] = np.nan if flow is None else flow
    return np.asarray(np.log(np.maximum(readings.flow_l_min, LEAST_L_MIN) / expected))


def _thermostatic(job: JobCatch) -> dict[int, float]:
    """1 for an emitter with a thermostatic body, 0 for one with a manual valve; those not known are left out."""
    return {one.emitter_no: float(one.valve_kind == "thermostatic") for one in job.emitters if one.valve_kind}


def known_ratios(job: JobCatch) -> tuple[Floats, Ints]:
    """Those log ratios that are known, and the emitter of each, shape (readings with one,)."""
    ratios = log_ratios(job)
    known = ~np.isnan(ratios)
    return ratios[known], job.readings.emitter_no[known]


def _whole_count(job: JobCatch) -> int | None:
    if job.setup.isolation == "one_at_a_time":
        return None
    return OPEN_IN_A_GROUP if job.setup.isolation == "groups" else len(job.emitters) or USUAL_EMITTERS
