"""What a back-test says, in sentences: the answer, coverage, evenness, bias, drift, periods."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.words import wording
from models.quote.coverage_tests import BAND_GROUP, PROMISED, evenness, held, judged
from models.quote.outturn import NAMES

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from models.drift_scan import Drift
    from models.quote.backtest import BackTest, FoldScores, TargetScores
    from models.quote.base.quote_result import Target
    from models.quote.coverage_tests import Held

SHORT: Mapping[Target, str] = {
    "magnetite_kg": "magnetite",
    "non_magnetic_kg": "other debris",
    "flush_minutes": "flush time",
    "site_minutes": "time on site",
}
PEER_NAMES = {
    "per_emitter": "kilograms an emitter",
    "group_median": "usual job of the size",
    "linear": "straight-line model",
}
LED_BY: tuple[Target, ...] = ("magnetite_kg", "site_minutes")
VERDICTS = {
    "holds": "that is within {band} points of the promise, and chance cannot turn it",
    "holds so far": "that is within {band} points of the promise, though {jobs} jobs cannot prove it",
    "perhaps too narrow": "that is more than {band} points below the promise, which chance could still do",
    "perhaps too wide": "that is more than {band} points above the promise, which chance could still do",
    "too narrow": "the ranges are too narrow: chance does not explain it",
    "too wide": "the ranges are wider than they need be: chance does not explain it",
}
SHAPES = {
    "even": "Outcomes fall evenly over their forecasts, as far as {jobs} jobs can tell (p = {p:.2g}).",
    "forecasts too low": "Outcomes lie high in their forecasts: the forecasts are too low (p = {p:.2g}).",
    "forecasts too high": "Outcomes lie low in their forecasts: the forecasts are too high (p = {p:.2g}).",
    "ranges too narrow": "Outcomes lie too often at the ends: the ranges are too narrow (p = {p:.2g}).",
    "ranges too wide": "Outcomes crowd in the middle: the ranges are too wide (p = {p:.2g}).",
}


def answer(test: BackTest) -> str:
    """Of ten jobs, how many landed in the range that said eight."""
    led = [test.targets[name] for name in LED_BY if name in test.targets] or list(test.targets.values())[:1]
    told = wording.listed([f"{in_ten(s.coverage.share_80)} for {SHORT[s.target]}" for s in led])
    return f"Of 10 past jobs, this many landed in the range that said 8: {told}."


def acted_on(test: BackTest) -> str:
    """Which of the figures that an owner acts on came as told, and which chance does not explain."""
    off = [each for each in test.acted_on if not each.is_as_told]
    if not off:
        return "Second days, costs and losses came as often as told, as far as chance can tell."
    told = [
        f"{NAMES[each.name].lower()}: told for {wording.share(each.told)}, came in {wording.share(each.came)} of "
        f"{wording.count(each.jobs, 'job')}"
        for each in off
    ]
    return f"Not as told, and not by chance: {'; '.join(told)}."


def in_ten(share: float) -> str:
    """A share as jobs of ten: `8`, `7.8`."""
    return f"{10 * share:.1f}".removesuffix(".0")


def coverage(scores: TargetScores) -> str:
    """How often the 8-in-10 range held over all jobs, with the limits of chance, and the groups that fall out."""
    whole, *groups = judged(scores, "share_80")
    out = [line for line in groups if line.verdict in ("too narrow", "too wide")]
    perhaps = [line for line in groups if line.verdict in ("perhaps too narrow", "perhaps too wide")]
    sentence = (
        f"Of {wording.count(whole.jobs, 'job')} tested, {wording.share(whole.share)} fell in the 80 % range (limits of "
        f"chance {wording.share(whole.low)} to {wording.share(whole.high)}): "
        f"{VERDICTS[whole.verdict].format(band=round(100 * whole.band), jobs=whole.jobs)}."
    )
    if out:
        sentence += f" By group beyond chance: {_named(out)}."
    if perhaps:
        sentence += f" More than 6 points off, perhaps by chance: {_named(perhaps)}."
    return sentence if out or perhaps else f"{sentence} Every group keeps within 6 points."


def _named(lines: list[Held]) -> str:
    return wording.listed([f"{line.name} ({wording.share(line.share)} of {line.jobs})" for line in lines])


def even(scores: TargetScores) -> str:
    """Whether outcomes fall evenly, and if not, what is wrong."""
    found = evenness(scores.pit)
    return SHAPES[found.shape].format(jobs=sum(scores.pit), p=found.p)


def beside_peers(scores: TargetScores) -> str:
    """Whether the forecast beats its best simple peer, and by how much."""
    peer = PEER_NAMES.get(scores.best_peer, scores.best_peer)
    if scores.better_share > 0:
        return f"Its error is {wording.share(scores.better_share)} lower than that of the best simple rule ({peer})."
    return f"Its error is {wording.share(-scores.better_share)} higher than that of the best simple rule ({peer})."


def bias(scores: TargetScores) -> str:
    """How far the newest outcomes lie from the middle of their forecasts, with the interval of that."""
    newest = f"The newest {wording.count(min(scores.jobs, 50), 'tested job')}"
    if scores.bias_interval is None:
        return f"{newest} are too few to tell whether the forecast leans to one side."
    low, high = scores.bias_interval
    way = "less" if scores.median_bias < 0 else "more"
    verb = "took" if scores.unit == "min" else "gave"
    told = f"{newest} {verb} {_amount(abs(scores.median_bias), scores.unit)} {way} than the middle of their forecasts"
    within = f"(between {_signed(low, scores.unit)} and {_signed(high, scores.unit)}, 95 %)"
    leans = f"so the forecast has been {'too low' if low > 0 else 'too high'} of late"
    verdict = "which chance alone could do" if low <= 0 <= high else leans
    return f"{told} {within}, {verdict}."


def _amount(value: float, unit: str) -> str:
    return wording.kilograms(value) if unit == "kg" else wording.duration(value)


def _signed(value: float, unit: str) -> str:
    return wording.signed_kilograms(value) if unit == "kg" else wording.signed_duration(value)


def drift(target: Target, found: Drift | None) -> str:
    """Whether the newest jobs behave as those before them, and what was done about it."""
    if found is None:
        return (
            "Too few jobs set the ranges to tell whether the newest differ from those before: 50 are the least, or "
            "the forecasts were learnt by an earlier version."
        )
    if not found.recalibrated:
        return (
            f"No drift: of the {found.jobs} jobs that set the ranges the newest {found.window} differ most from those "
            f"before, no more than happens by chance in {wording.share(found.p)} of such checks."
        )
    verb = "taken" if target.endswith("minutes") else "given"
    return (
        f"Drift: since {wording.day(found.since)} jobs have {verb} {found.level_factor:.2g} times what earlier jobs "
        f"led to expect, scattered {found.spread_factor:.2g} times as widely (by chance in {wording.share(found.p)} of "
        f"such checks). The ranges rest on these newest {found.window} jobs alone."
    )


def middle(fold: FoldScores) -> date:
    """The day half-way through a period."""
    return fold.tested_from + (fold.tested_to - fold.tested_from) / 2


def coverage_of(fold: FoldScores) -> Held:
    """The period's coverage of the 8-in-10 range, with its limits."""
    return held(str(middle(fold)), fold.jobs, fold.coverage_80, PROMISED["share_80"], BAND_GROUP)


def periods(scores: TargetScores) -> str:
    """In how many periods the forecast beat every simple rule."""
    folds = scores.folds_scores
    better = sum(fold.pinball < min(fold.peers.values()) for fold in folds)
    reset = sum(fold.recalibrated for fold in folds)
    told = f"Better than every simple rule in {better} of {wording.count(len(folds), 'period')}."
    return told + (f" Before {reset} of them the ranges were reset after a drift (open marks)." if reset else "")
