"""Figures of the page "Quoted and done": what was left of the price, group by group, each with its interval."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dashboard.theme import LIGHT, LIMIT, Look, label, new_figure
from dashboard.words import wording
from dashboard.words.literal import in_figure

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.quote.pricing.track_record import GroupRecord


def margin_figure(groups: Sequence[GroupRecord], target: float, look: Look = LIGHT) -> go.Figure:
    """Share of the price left after cost: a mark and a 95 % line for each group, zero and the target drawn."""
    names = [in_figure(f"{group.name} ({group.jobs})") for group in groups]
    figure = new_figure(look, height=120 + 32 * len(names))
    for group, name in zip(groups, names, strict=True):
        colour = look.debris if group.is_underpriced else look.ink
        figure.add_scatter(
            x=[100 * group.kept_low, 100 * group.kept_high],
            y=[name, name],
            mode="lines",
            line={"color": colour, "width": 3},
            hoverinfo="skip",
        )
        figure.add_scatter(
            x=[100 * group.kept_share],
            y=[name],
            mode="markers",
            marker={"color": colour, "size": 11, "symbol": "diamond" if group.is_underpriced else "circle"},
            hovertemplate="%{y}: %{x:.0f} %<extra></extra>",
        )
    for at, words, anchor in ((0.0, "cost", "right"), (100 * target, "target", "center")):  # apart on a phone too
        figure.add_vline(x=at, line={"color": look.muted, "dash": LIMIT, "width": 1.5})
        figure.add_annotation(label(look, look.muted, words, at, 1.0, yref="paper", yanchor="bottom", xanchor=anchor))
    figure.update_layout(showlegend=False)
    ends = [0.0, target, *(end for group in groups for end in (group.kept_low, group.kept_high))]
    room = 0.06 * (max(ends) - min(ends))
    reach = [100 * (min(ends) - room), 100 * (max(ends) + room)]
    figure.update_xaxes(title_text="Left of the price after cost [%]", nticks=7, range=reach)
    figure.update_yaxes(autorange="reversed", title_text="", ticks="", tickfont_color=look.text)
    return figure


def margin_alt(groups: Sequence[GroupRecord]) -> str:
    """Each group's margin in words."""
    told = (f"{g.name}: {100 * g.kept_share:.0f} % ({100 * g.kept_low:.0f} to {100 * g.kept_high:.0f})" for g in groups)
    return f"Share of the price left after cost, {wording.count(len(groups), 'group')}. {'; '.join(told)}."
