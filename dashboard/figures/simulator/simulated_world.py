"""Pictures of one simulated job: pools by emitter, and heat, flow and catch by the minute.

Frames are those of `dashboard.simulator.SimulatedJob`. Everything here is known to the simulator alone: no firm
sees into its emitters.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from dashboard.figures.axes import hours_axis
from dashboard.theme import EXPECTED, LIGHT, MAGNET_MARKER, Look, axis_style, label, new_figure, tint
from dashboard.words import wording

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

BAKED, LOOSE = 0.85, 0.35
"""Opacity of baked-on and of loose debris, the same hue."""
SHOWN_ROWS = 200
"""Rows of minutes in the table beside a picture, at most."""


def pools_figure(emitters: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Magnetite in each emitter before the visit and afterwards, loose and baked on, on one scale."""
    from plotly.subplots import make_subplots

    sums = {"before": "In it before", "left": "Left in it"}
    titles = [f"{words}: {wording.kilograms(_sum(emitters, when))}" for when, words in sums.items()]
    figure = make_subplots(1, 2, shared_yaxes=True, shared_xaxes="all", subplot_titles=titles, horizontal_spacing=0.05)
    dress(figure, look, 110 + 24 * len(emitters))
    names = [str(number) for number in emitters["emitter_no"]]
    first = int((emitters["baked_before_kg"] + emitters["loose_before_kg"]).to_numpy().argmax())
    for place, when in enumerate(sums, start=1):
        for pool, opacity in (("baked", BAKED), ("loose", LOOSE)):
            words = ["baked on" if pool == "baked" else "loose"] if place == 1 else [""]
            figure.add_bar(
                x=emitters[f"{pool}_{when}_kg"],
                y=names,
                orientation="h",
                row=1,
                col=place,
                marker={"color": tint(look.debris, opacity)},
                textposition="inside",
                insidetextanchor="middle",
                text=[words[0] if at == first else "" for at in range(len(names))],
                textangle=0,
                insidetextfont={"color": look.page if pool == "baked" else look.text, "size": 12},
                hovertemplate=f"emitter %{{y}}, {pool}: %{{x:.2f}} kg<extra></extra>",
            )
    figure.update_layout(barmode="stack", bargap=0.25)
    top = float((emitters["baked_before_kg"] + emitters["loose_before_kg"]).max())
    left = float((emitters["baked_left_kg"] + emitters["loose_left_kg"]).max())
    figure.update_xaxes(title_text="Magnetite, dry [kg]", range=[0, max(top, left, 0.01) * 1.08], nticks=4)
    figure.update_yaxes(autorange="reversed", type="category", showgrid=False, ticks="")
    figure.update_yaxes(title_text="Emitter [number]", col=1)
    return figure


def pools_alt(emitters: pd.DataFrame) -> str:
    """Magnetite before and afterwards, and where most is left, in words."""
    left = emitters["baked_left_kg"] + emitters["loose_left_kg"]
    worst = emitters["emitter_no"].to_numpy()[int(left.to_numpy().argmax())]
    return (
        f"Magnetite by emitter: {wording.kilograms(_sum(emitters, 'before'))} in {len(emitters)} emitters before the "
        f"visit, {wording.kilograms(_sum(emitters, 'left'))} afterwards, of which "
        f"{wording.kilograms(float(emitters['baked_left_kg'].sum()))} baked on. Most is left in emitter "
        f"{worst}: {wording.kilograms(float(left.max()))}."
    )


def pools_rows(emitters: pd.DataFrame) -> pd.DataFrame:
    """The numbers behind the pools, one row an emitter."""
    names = {
        "emitter_no": "Emitter",
        "kind": "Kind",
        "loose_before_kg": "Loose before [kg]",
        "baked_before_kg": "Baked on before [kg]",
        "out_kg": "Taken out [kg]",
        "rinsed_kg": "Rinsed away [kg]",
        "moved_in_kg": "Moved in from others [kg]",
        "loose_left_kg": "Loose, left [kg]",
        "baked_left_kg": "Baked on, left [kg]",
        "other_before_kg": "Other debris before [kg]",
        "other_left_kg": "Other debris left [kg]",
    }
    words = emitters.assign(kind=[wording.plain(kind) for kind in emitters["kind"]])
    return words.rename(columns=names)[list(names.values())].round(3)


def minutes_figure(minutes: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Water temperature, flow, load of the magnet and catch, one above the other over the same hours."""
    from plotly.subplots import make_subplots

    titles = ["Water temperature", "Flow through the machine", "On the magnet", "Taken out of the water"]
    figure = make_subplots(4, 1, shared_xaxes=True, subplot_titles=titles, vertical_spacing=0.075)
    dress(figure, look, 620)
    _line(figure, minutes, "water_c", look.heat, 1, "%{y:.0f} °C")
    _line(figure, minutes, "return_c", look.heat, 1, "return %{y:.0f} °C", dash=EXPECTED, width=1.2)
    _line(figure, minutes, "flow_l_min", look.flow, 2, "%{y:.1f} L/min", shape="hv")
    _line(figure, minutes, "magnet_kg", look.debris, 3, "%{y:.2f} kg", fill="tozeroy", width=1.2)
    _line(figure, minutes, "out_kg", tint(look.debris, 0.7), 4, "out of the water %{y:.2f} kg", width=1.5)
    _weighed(figure, minutes, look)
    for row, unit in enumerate(("[°C]", "[L/min]", "[kg]", "[kg]"), start=1):
        figure.update_yaxes(title_text=unit, rangemode="tozero", nticks=4, row=row, col=1)
    longest = float(minutes["minute"].iloc[-1])
    hours = hours_axis(longest, "Flushing hours")
    title = hours.pop("title")
    figure.update_xaxes(**hours)
    figure.update_xaxes(title=title, row=4, col=1)
    return figure


def minutes_alt(minutes: pd.DataFrame) -> str:
    """Temperatures, flow and catch of the job, in words."""
    running = minutes.iloc[1:-1] if len(minutes) > 2 else minutes
    hottest = running["water_c"].max()
    return (
        f"Over {wording.duration(float(minutes['minute'].iloc[-1]))} of flushing the water went from "
        f"{minutes['water_c'].iloc[0]:.0f} °C to {hottest:.0f} °C at most, with {running['flow_l_min'].median():.0f} "
        f"L/min in the middle; {wording.kilograms(float(minutes['out_kg'].iloc[-1]))} of magnetite left the water, "
        f"{wording.kilograms(float(minutes['weighed_kg'].iloc[-1]))} of it weighed in "
        f"{wording.count(int(minutes['is_weighing'].sum()), 'cleaning')} of the traps."
    )


def minutes_rows(minutes: pd.DataFrame) -> pd.DataFrame:
    """The numbers behind the minutes: evenly spaced rows, at most some two hundred, and the last."""
    names = {
        "minute": "Flush time [min]",
        "clock": "Time of day",
        "focus": "Flow on emitter (0: all or several)",
        "water_c": "Water [°C]",
        "return_c": "Return [°C]",
        "flow_l_min": "Flow [L/min]",
        "pressure_bar": "Pressure [bar]",
        "magnet_kg": "On the magnet [kg]",
        "out_kg": "Taken out [kg]",
        "weighed_kg": "Weighed so far [kg]",
    }
    step = max(1, math.ceil(len(minutes) / SHOWN_ROWS))
    kept = minutes.iloc[[*range(0, len(minutes) - 1, step), len(minutes) - 1]]
    return kept.rename(columns=names)[list(names.values())].round(3)


def emitters_figure(pools: pd.DataFrame, look: Look = LIGHT, *, columns: int = 2) -> go.Figure:
    """What lies in each emitter minute by minute, one scale for all; shaded while it alone has the flow."""
    from plotly.subplots import make_subplots

    by_emitter = {number: pools[pools["emitter_no"] == number] for number in pools["emitter_no"].unique().tolist()}
    rows = math.ceil(len(by_emitter) / columns)
    figure = make_subplots(
        rows,
        columns,
        shared_xaxes="all",
        shared_yaxes="all",
        horizontal_spacing=0.06,
        subplot_titles=[f"Emitter {number}" for number in by_emitter],
        vertical_spacing=min(0.2, 0.3 / rows),
    )
    dress(figure, look, 90 + 110 * rows)
    top = float((pools["baked_kg"] + pools["loose_kg"]).max())
    for place, own in enumerate(by_emitter.values()):
        where = {"row": place // columns + 1, "col": place % columns + 1}
        _shade(figure, own, top, look, where)
        for pool, opacity in (("baked", BAKED), ("loose", LOOSE)):
            figure.add_scatter(
                x=own["minute"],
                y=own[f"{pool}_kg"],
                mode="lines",
                stackgroup="pools",
                line_width=0,
                fillcolor=tint(look.debris, opacity),
                name=pool,
                **where,
                hovertemplate=f"{pool} %{{y:.2f}} kg<extra></extra>",
            )
    longest = float(pools["minute"].max())
    hours = hours_axis(longest, "Flush time")
    title = hours.pop("title")
    figure.update_xaxes(**hours)
    figure.update_xaxes(title=title, row=rows)
    figure.update_yaxes(range=[0, max(top, 0.01) * 1.05], nticks=3)
    figure.update_yaxes(title_text="Dry [kg]", col=1)
    return figure


def emitters_alt(pools: pd.DataFrame) -> str:
    """How far the debris of each emitter fell, in words."""
    ends = pools[pools["minute"].isin([0, pools["minute"].max()])]
    total = (ends["baked_kg"] + ends["loose_kg"]).groupby([ends["emitter_no"], ends["minute"]]).sum().unstack()
    lines = [
        f"{int(number)} from {wording.kilograms(float(first))} to {wording.kilograms(float(last))}"
        for number, (first, last) in zip(total.index, total.to_numpy(), strict=True)
    ]
    return "Magnetite in each emitter from the first minute of the flow to the last: " + "; ".join(lines) + "."


def emitters_rows(pools: pd.DataFrame) -> pd.DataFrame:
    """The numbers behind the small pictures, every quarter of an hour."""
    kept = pools.loc[(pools["minute"] % 15 == 0) | (pools["minute"] == pools["minute"].max())]
    names = {
        "minute": "Flush time [min]",
        "emitter_no": "Emitter",
        "baked_kg": "Baked on [kg]",
        "loose_kg": "Loose [kg]",
    }
    shown: pd.DataFrame = kept.rename(columns=names)[list(names.values())].round(3)
    return shown


def dress(figure: go.Figure, look: Look, height: int) -> None:
    """The common look on a figure of several panels."""
    plain = new_figure(look, height=height).layout
    figure.update_layout({key: plain[key] for key in plain if key not in ("xaxis", "yaxis")})
    figure.update_xaxes(**axis_style(look))
    figure.update_yaxes(**axis_style(look))
    figure.update_annotations(font={"size": 13, "color": look.text})


def _sum(emitters: pd.DataFrame, when: str) -> float:
    return float(emitters[f"baked_{when}_kg"].sum() + emitters[f"loose_{when}_kg"].sum())


def _line(
    figure: go.Figure,
    minutes: pd.DataFrame,
    column: str,
    colour: str,
    row: int,
    says: str,
    *,
    width: float = 2.0,
    **how: Any,
) -> None:
    line: dict[str, Any] = {"color": colour, "width": width}
    line |= {key: how.pop(key) for key in ("dash", "shape") if key in how}
    figure.add_scatter(
        x=minutes["minute"],
        y=minutes[column],
        mode="lines",
        line=line,
        row=row,
        col=1,
        hovertemplate=f"%{{x:.0f}} min: {says}<extra></extra>",
        **how,
    )


def _weighed(figure: go.Figure, minutes: pd.DataFrame, look: Look) -> None:
    """The cumulative weighings, marked, and both curves of the last panel named."""
    at = minutes[minutes["is_weighing"]]
    figure.add_scatter(
        x=at["minute"],
        y=at["weighed_kg"],
        mode="markers",
        row=4,
        col=1,
        marker={"size": 6, "symbol": MAGNET_MARKER, "color": look.debris},
        hovertemplate="%{x:.0f} min: weighed %{y:.2f} kg<extra></extra>",
    )
    longest, top = float(minutes["minute"].iloc[-1]), float(minutes["out_kg"].iloc[-1])
    where = {"xanchor": "right", "yanchor": "bottom"}
    figure.add_annotation(label(look, look.debris, "marks: weighed", longest, 0.1 * top, **where), row=4, col=1)
    figure.add_annotation(label(look, look.heat, "dashed: return", longest, 4.0, **where), row=1, col=1)


def _shade(figure: go.Figure, own: pd.DataFrame, top: float, look: Look, where: dict[str, int]) -> None:
    """One filled shape that is there while the emitter has the flow to itself."""
    height = own["has_flow"].astype(float) * max(top, 0.01) * 1.05
    figure.add_scatter(
        x=own["minute"],
        y=height,
        mode="lines",
        line={"width": 0, "shape": "hv"},
        fill="tozeroy",
        fillcolor=tint(look.flow, 0.18),
        hoverinfo="skip",
        **where,
    )
