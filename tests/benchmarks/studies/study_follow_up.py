"""Does the callback rate depend on how a firm hands in its records? The same made-up jobs, handed in two ways.

    python -m tests.benchmarks.studies.study_follow_up

3,000 jobs over four years, all called back for debris at one rate of 5.4 % in 365 days, no end of follow-up stated: all
of them handed in on one day; and each a week after its visit, each callback a day after it. Prints the rate of either
way (Kaplan-Meier, as a price counts it) beside the true one.
"""

from __future__ import annotations

import sys
from datetime import date, timedelta

import numpy as np
import pandas as pd

from models.quote.base.callback_cost import callback_rate
from tests.pipeline.sql.on_rows import rows_of

JOBS, RISK, SEED = 3000, 0.054, 3
FIRST, LAST = date(2021, 1, 1), date(2025, 12, 31)
COLUMNS = ("followed_days", "first_debris_day", "first_other_day", "first_unknown_day", "has_later_callback_365")


def rate(*, one_by_one: bool) -> float | None:
    """The rate that a price counts, of jobs handed in one by one or together."""
    rng = np.random.default_rng(SEED)
    visits = [FIRST + timedelta(days=int(day)) for day in rng.integers(0, 1500, JOBS)]
    days = np.ceil(rng.exponential(-365 / np.log1p(-RISK), JOBS)).astype(int).tolist()
    called = [visit + timedelta(days=day) for visit, day in zip(visits, days, strict=True)]
    known_to = max(day for day in called if day <= LAST) + timedelta(days=1) if one_by_one else LAST
    rows = [f"n | {at} | {v} | {v + timedelta(days=7) if one_by_one else LAST} | -" for at, v in enumerate(visits)]
    calls = [f"n | {at} | {day} | blockage" for at, day in enumerate(called) if day <= LAST]
    made = rows_of(
        "features/ftr_callback",
        COLUMNS,
        jobs="\n".join(["firm_id | job_id | visit_date | loaded_on | followed_until", *rows]),
        callbacks="\n".join(["firm_id | job_id | called_back_on | cause", *calls]),
        follow_up_end=f"firm_id | callbacks_known_to\nn | {known_to}",
    )
    frame = pd.DataFrame(made, columns=list(COLUMNS)).replace("-", np.nan)
    numbers = frame[list(COLUMNS[:-1])].astype(float)
    return callback_rate(numbers.assign(has_later_callback_365=frame[COLUMNS[-1]] == "true")).risk


if __name__ == "__main__":
    for one_by_one, words in ((False, "all on one day"), (True, "job by job")):
        sys.stdout.write(f"{words}: {rate(one_by_one=one_by_one)} (true {RISK})\n")
