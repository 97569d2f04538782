"""The causal picture behind the adjustment, drawn from its circles and arrows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.figures.axes import without_scale
from dashboard.theme import EXPECTED, LIGHT, Look, new_figure

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from models.practice.results.audit_result import CausalGraph

WRAP = 13


def wrapped(text: str, most: int = WRAP) -> str:
    """The words in lines of about `most` letters.

    >>> wrapped("What nobody wrote down")
    'What nobody<br>wrote down'
    """
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > most:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return "<br>".join(lines)


def causal_figure(graph: CausalGraph, practice: str, look: Look = LIGHT) -> go.Figure:
    """From top to bottom in time, which fits a phone too. Arrows from what is not on record are dashed: nothing is done
    about them."""
    colours = {
        "confounder": look.flow,
        "practice": look.accent,
        "mediator": look.debris,
        "outcome": look.ink,
        "hidden": look.muted,
    }
    at = {node.code: (1.0 - node.y, 1.0 - node.x) for node in graph.nodes}
    hidden = {node.code for node in graph.nodes if node.kind == "hidden"}
    figure = new_figure(look, height=480)
    for start, end in graph.edges:
        _arrow(figure, at[start], at[end], look, is_hidden=start in hidden)
    for node in graph.nodes:
        text = practice if node.kind == "practice" else node.label
        figure.add_annotation(
            x=at[node.code][0],
            y=at[node.code][1],
            text=wrapped(text),
            showarrow=False,
            bgcolor=look.page,
            borderpad=3,
            bordercolor=colours[node.kind],
            borderwidth=1.5,
            font={"size": 11, "color": colours[node.kind]},
        )
    figure.update_layout(margin={"l": 4, "r": 4, "t": 8, "b": 8})
    figure.update_xaxes(range=[0.0, 1.12], visible=False)
    figure.update_yaxes(range=[-0.06, 1.04], showline=False, **without_scale("Time, downwards [order only]"))
    return figure


def _arrow(
    figure: go.Figure, start: tuple[float, float], end: tuple[float, float], look: Look, *, is_hidden: bool
) -> None:
    """A line, and its head where the label of the end does not hide it."""
    colour = look.muted
    figure.add_scatter(
        x=[start[0], end[0]],
        y=[start[1], end[1]],
        mode="lines",
        hoverinfo="skip",
        line={"color": colour, "width": 1.2, "dash": EXPECTED if is_hidden else "solid"},
    )
    near, far = 0.52, 0.62
    points = [tuple(s + share * (e - s) for s, e in zip(start, end, strict=True)) for share in (near, far)]
    figure.add_annotation(
        ax=points[0][0],
        ay=points[0][1],
        x=points[1][0],
        y=points[1][1],
        axref="x",
        ayref="y",
        text="",
        showarrow=True,
        arrowhead=2,
        arrowsize=1.3,
        arrowwidth=1.2,
        arrowcolor=colour,
    )


def causal_alt(graph: CausalGraph) -> str:
    """Every arrow in words."""
    names = {node.code: node.label for node in graph.nodes}
    told = "; ".join(f"{names[a]} → {names[b]}" for a, b in graph.edges)
    return f"What moves what, {len(graph.edges)} arrows: {told}."
