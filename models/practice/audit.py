"""The whole practice audit, from the tables of a build to frozen results. START HERE in this package."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from models.practice.cohort.audited_jobs import HORIZON_DAYS, PracticeFrames, Records, Scope, gather
from models.practice.cohort.causal_graph import causal_graph
from models.practice.cohort.confounders import CONFOUNDERS
from models.practice.cohort.contrasts import CONTRASTS
from models.practice.cohort.follow_up import CUT_SHORT, LEFT_OUT, UNDATED, cut_short, partly, refusal, undated
from models.practice.effects.cost_effectiveness import worth
from models.practice.effects.dose_response import predose_response
from models.practice.effects.effect import judge, practice_effect
from models.practice.effects.risk_per_kg import risk_per_kg
from models.practice.effects.verdicts import FALSE_SHARE, LEVEL
from models.practice.effects.weighted_curves import practice_curves
from models.practice.engineers.casemix import expected_callbacks
from models.practice.engineers.funnel import funnel
from models.practice.pool.pooled_effects import pooled_effect
from models.practice.results.audit_result import Audit, PracticeEffect
from models.practice.results.curve_results import PracticeCurves
from models.practice.results.pool_results import PooledEffect
from models.practice.survival import kaplan_meier, value_at
from models.refusals import NotEnoughData, Refusal
from models.threads import threads_for
from pipeline.contract.findings import Finding
from pipeline.contract.firm import Firm

Progress = Callable[[int, int], None]
FEWEST_JOBS = 20

ASSUMPTIONS = (
    "Nothing that is not in the list of what was known moved both the choice of the practice and the callbacks; "
    "the E-value says how strong such a thing would have to be.",
    "A practice decided later did not lead to this one; each is adjusted for what was decided by its time alone.",
    "Where callbacks are few, a part of what should be adjusted for stays in; in simulated jobs up to a quarter of a "
    "standard error.",
    "Jobs of the same kind were done either way; those without a match are left out and counted.",
    "Whether a job was lost to follow-up had nothing to do with its callbacks, among jobs alike in practice and in "
    "flat or not.",
    "Where callbacks after the first year count too, a practice works by the same factor early and late; where the "
    "first year says something else, it stands alone.",
    "What is done in one job does not change the callbacks of another.",
    "Risk per kilogram: the ways of flushing act on callbacks by the debris they take out and by nothing else, and "
    "were not chosen by dirt that no survey shows. In simulated jobs they are, in part; the figure is shrunk towards "
    "none.",
    "A debris callback is what the log calls one, else a blockage, a cold emitter, noise or a pump; a boiler fault of "
    "unknown kind counts as another cause. Other callbacks do not end the watch for debris.",
)


def audit(frames: PracticeFrames, firm: Firm, scope: Scope | None = None, progress: Progress | None = None) -> Audit:
    """Weigh up every practice, and compare engineers. NotEnoughData below 20 jobs with any follow-up; Refusal where
    no firm has handed in callbacks."""
    with threads_for(len(frames.jobs)):
        return _audit(gather(frames, scope), firm, progress)


def _audit(records: Records, firm: Firm, progress: Progress | None) -> Audit:
    if not len(records.days) and UNDATED in records.left_out:
        raise Refusal(undated(records.left_out[UNDATED], records.undated_came_back))
    if not len(records.days) and records.silent_firms:
        raise Refusal(refusal(records.left_out[LEFT_OUT]))
    if not len(records.days) and CUT_SHORT in records.left_out:
        raise Refusal(cut_short(records.left_out[CUT_SHORT]))
    if len(records.days) < FEWEST_JOBS:
        raise NotEnoughData(what="jobs with follow-up after the visit", needed=FEWEST_JOBS, found=len(records.days))
    effects, curves, pool = _weighed(records, firm, progress)
    overall = overall_risk(records)
    compared = funnel(records, expected_callbacks(records), overall)
    if progress is not None:
        progress(len(CONTRASTS) + 1, len(CONTRASTS) + 1)
    visits = pd.to_datetime(records.frame["visit_date"])
    simulated = records.frame["is_simulated"].fillna(False).astype(bool)
    return Audit(
        jobs=len(records.days),
        callbacks=records.callbacks,
        horizon_days=HORIZON_DAYS,
        level=LEVEL,
        first_visit=visits.min().date(),
        last_visit=visits.max().date(),
        is_simulated=bool(simulated.all()),
        practices=judge(effects, overall),
        doses=(predose_response(records),),
        curves=curves,
        funnel=compared,
        pool=pool,
        risk_per_kg=risk_per_kg(records),
        confounders=CONFOUNDERS,
        graphs={each.column: causal_graph(each.column) for each in CONTRASTS},
        assumptions=ASSUMPTIONS,
        left_out=records.left_out,
        findings=_findings(records, effects),
    )


def _weighed(
    records: Records, firm: Firm, progress: Progress | None
) -> tuple[list[PracticeEffect], dict[str, PracticeCurves], tuple[PooledEffect, ...]]:
    """Every practice by itself: its effect with what it is worth, its curves by name, its effect over firms."""
    effects: list[PracticeEffect] = []
    curves: dict[str, PracticeCurves] = {}
    pool: list[PooledEffect] = []
    for number, contrast in enumerate(CONTRASTS):
        effect, adjusted = practice_effect(records, contrast)
        drawn = practice_curves(records, adjusted)
        if drawn is not None:
            curves[contrast.name] = drawn
        effects.append(replace(effect, worth=worth(records, adjusted, firm)))
        pooled = pooled_effect(records, adjusted)
        if pooled is not None:
            pool.append(pooled)
        if progress is not None:
            progress(number + 1, len(CONTRASTS) + 1)
    return effects, curves, tuple(pool)


def overall_risk(records: Records) -> float:
    """Kaplan-Meier risk of a debris callback within the horizon, all jobs."""
    return 1.0 - value_at(kaplan_meier(records.days, records.is_event), HORIZON_DAYS)[0]


def _findings(records: Records, effects: list[PracticeEffect]) -> tuple[Finding, ...]:
    """What to know of the audit as a whole."""
    return (*_of_the_records(records), *_of_the_verdicts(effects), *_of_the_callbacks(records))


def _of_the_records(records: Records) -> Iterator[Finding]:
    simulated = records.frame["is_simulated"].fillna(False).astype(bool)
    if simulated.any():
        yield Finding(
            "simulated_jobs",
            "All of these jobs were made by the simulator; nothing here says anything of real practice."
            if simulated.all()
            else f"{int(simulated.sum()):,} of these jobs were made by the simulator.",
            {"jobs": int(simulated.sum())},
        )


def _of_the_verdicts(effects: list[PracticeEffect]) -> Iterator[Finding]:
    tested = sum(each.p_value is not None for each in effects)
    yield Finding(
        "chance_findings",
        f"{tested} of {len(effects)} practices could be tested; the verdicts hold chance findings to "
        f"{100 * FALSE_SHARE:.0f} % of those given.",
        {"tested": tested, "practices": len(effects)},
    )


def _of_the_callbacks(records: Records) -> Iterator[Finding]:
    if records.silent_firms:
        silent = records.left_out[LEFT_OUT]
        sentence = partly(records.silent_firms, silent)
        yield Finding("no_callbacks_handed_in", sentence, {"firms": records.silent_firms, "jobs": silent})
    if CUT_SHORT in records.left_out:
        cut = records.left_out[CUT_SHORT]
        yield Finding("callbacks_after_follow_up", cut_short(cut), {"jobs": cut})
    if records.unknown_cause:
        yield Finding(
            "unknown_cause",
            f"{records.unknown_cause} {'job' if records.unknown_cause == 1 else 'jobs'} had a callback that may or may "
            "not have been debris, counted as other causes. Say which in the log, and the audit gets sharper.",
            {"jobs": records.unknown_cause},
        )
    followed = float(np.mean(records.days >= HORIZON_DAYS) + np.mean(records.is_event & (records.days < HORIZON_DAYS)))
    if followed < 0.5:
        yield Finding(
            "short_follow_up",
            f"Only {100 * followed:.0f} % of the jobs have been followed for {HORIZON_DAYS} days or to a callback.",
            {"share": followed},
        )
    if UNDATED in records.left_out:
        jobs, came_back = records.left_out[UNDATED], records.undated_came_back
        yield Finding("came_back_undated", undated(jobs, came_back), {"jobs": jobs, "came_back": came_back})
