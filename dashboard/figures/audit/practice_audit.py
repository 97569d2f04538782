"""The main picture of "Practice audit": every practice with its effect, and one practice among some of the jobs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dashboard.figures.audit.forest import ForestRow, forest
from dashboard.theme import LIGHT, Look
from dashboard.words import wording
from dashboard.words.audit_words import ORDER, avoided, in_order

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.practice.results.audit_result import PracticeEffect, SubgroupEffect
    from models.practice.results.pool_results import AgainstOthers, FirmEffect, PooledEffect

    Told = PracticeEffect | SubgroupEffect | PooledEffect | FirmEffect | AgainstOthers

TITLE = "Callbacks avoided [per 100 jobs]"
SIDES = ("\u2190 more callbacks", "fewer callbacks \u2192")


def forest_figure(effects: Sequence[PracticeEffect], look: Look = LIGHT) -> go.Figure:
    """Every practice: adjusted effect with its 95 % interval, verdict, jobs, and the bare difference faint below."""
    colours = dict(zip(ORDER, (look.accent, look.debris, look.muted, look.ink), strict=True))
    rows = []
    for effect in in_order(effects):
        raw = effect.raw
        rows.append(
            ForestRow(
                effect.label,
                effect.verdict_words,
                f"{effect.jobs_with:,} | {effect.jobs_without:,}",
                _effect(effect),
                colours[effect.verdict],
                effect.verdict != "cannot be told yet",
                None if raw is None or effect.difference is None else avoided(raw.difference, raw.low, raw.high),
            )
        )
    return forest(rows, TITLE, SIDES, look)


def _effect(effect: Told) -> tuple[float, float, float] | None:
    if effect.difference is None or effect.low is None or effect.high is None:
        return None
    return avoided(effect.difference, effect.low, effect.high)


def forest_alt(effects: Sequence[PracticeEffect]) -> str:
    """Each effect in words."""
    told = [f"{each.label}: {_span(each)}, {each.verdict_words}" for each in in_order(effects)]
    return f"Callbacks avoided per 100 jobs, {wording.count(len(effects), 'practice')}. {'; '.join(told)}."


def _span(effect: Told) -> str:
    found = _effect(effect)
    return "no figure" if found is None else f"{found[0]:.1f} ({found[1]:.1f} to {found[2]:.1f})"


def subgroups_figure(groups: Sequence[SubgroupEffect], look: Look = LIGHT) -> go.Figure:
    """One practice among some of the jobs only; a refused one keeps its place."""
    rows = [
        ForestRow(
            each.label,
            "too few for a figure of its own" if each.refused else _span(each).replace("-", "\u2212"),
            f"{each.jobs_with:,} | {each.jobs_without:,}",
            _effect(each),
            look.ink,
        )
        for each in groups
    ]
    return forest(rows, TITLE, SIDES, look)


def subgroups_alt(groups: Sequence[SubgroupEffect]) -> str:
    """Each subgroup in words."""
    return f"Callbacks avoided per 100 jobs. {'; '.join(f'{each.label}: {_span(each)}' for each in groups)}."


def pool_figure(pool: Sequence[PooledEffect], look: Look = LIGHT) -> go.Figure:
    """Each practice over several firms; the faint line is where one more firm would lie."""
    rows = []
    for each in pool:
        further = (
            None
            if each.difference is None or each.prediction_low is None or each.prediction_high is None
            else (avoided(each.difference, each.prediction_low, each.prediction_high))
        )
        said = each.refused or f"{_span(each).replace('-', chr(0x2212))}, firms differ by {100 * (each.tau or 0):.1f}"
        behind = wording.count(each.firms_used, "firm")
        rows.append(ForestRow(each.label, said, behind, _effect(each), look.ink, bare=further))
    return forest(rows, TITLE, SIDES, look)


def pool_alt(pool: Sequence[PooledEffect]) -> str:
    """Each pooled effect in words."""
    told = (f"{each.label}: {_span(each)} from {wording.count(each.firms_used, 'firm')}" for each in pool)
    return f"Callbacks avoided per 100 jobs over all firms. {'; '.join(told)}."


def own_firm_figure(practices: Sequence[AgainstOthers], look: Look = LIGHT) -> go.Figure:
    """One firm's own effects; faint below each: where one more firm would lie, marked at the others' mean."""
    colours = {"does more here": look.accent, "does less here": look.debris}
    rows = []
    for each in practices:
        further = (
            None
            if each.difference is None or each.prediction_low is None or each.prediction_high is None
            else (avoided(each.difference, each.prediction_low, each.prediction_high))
        )
        is_apart = each.place in colours
        said = f"{each.place}; others {_signed(each)}" if each.difference is not None else "the others are not shown"
        behind = "no figure of your own" if each.own.difference is None else _signed(each.own)
        rows.append(
            ForestRow(each.label, said, behind, _effect(each.own), colours.get(each.place, look.ink), is_apart, further)
        )
    return forest(rows, TITLE, SIDES, look)


def own_firm_alt(practices: Sequence[AgainstOthers]) -> str:
    """Each practice in words, the firm's own and the others'."""
    told = (f"{each.label}: {_span(each.own)}, the others {_span(each)}, {each.place}" for each in practices)
    return f"Callbacks avoided per 100 jobs in your firm and in the others. {'; '.join(told)}."


def _signed(effect: Told) -> str:
    return _span(effect).replace("-", "\u2212")
