"""Pictures of a simulated firm's jobs as a whole: kilograms, hours, practices by looks, callbacks.

Frames are those of `dashboard.simulator.SimulatedFirm`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dashboard.figures.simulator.simulated_world import dress
from dashboard.theme import LIGHT, LIMIT, Look, label, new_figure, tint
from dashboard.words import wording
from dashboard.words.wording import MINUTES_PER_HOUR

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

DRAWN_SHARE = 0.99
"""Axes end at this quantile, so that one rare job does not press the rest together; the text names the most."""
BINS = 24
PANELS = (("caught_kg", "Caught, dry"), ("left_kg", "Left behind, dry"), ("flush_minutes", "Flush time"))
LOOKS = ("good", "middling", "bad")
SYMBOLS = {"good": "circle-open", "middling": "diamond", "bad": "circle"}


def jobs_figure(jobs: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Jobs by kilograms caught, kilograms left, and hours of flushing; the middle job marked."""
    from plotly.subplots import make_subplots

    figure = make_subplots(3, 1, subplot_titles=[title for _, title in PANELS], vertical_spacing=0.17)
    dress(figure, look, 560)
    widest = float(jobs[["caught_kg", "left_kg"]].quantile(DRAWN_SHARE).max())
    for row, (column, _) in enumerate(PANELS, start=1):
        in_hours = column == "flush_minutes"
        values = jobs[column] / MINUTES_PER_HOUR if in_hours else jobs[column]
        end = float(values.quantile(DRAWN_SHARE)) if in_hours else widest
        colour, unit = (look.ink, "h") if in_hours else (look.debris, "kg")
        counts, edges = np.histogram(values[values <= end], bins=BINS, range=(0.0, end))
        figure.add_bar(
            x=0.5 * (edges[1:] + edges[:-1]),
            y=counts,
            width=np.diff(edges) * 0.92,
            row=row,
            col=1,
            marker={"color": tint(colour, 0.55 if column == "left_kg" else 0.85)},
            hovertemplate=f"%{{x:.1f}} {unit}: %{{y}} jobs<extra></extra>",
        )
        middle = float(values.median())
        figure.add_vline(x=middle, line={"color": look.text, "dash": LIMIT, "width": 1.5}, row=row, col=1)
        said = wording.duration(middle * MINUTES_PER_HOUR) if in_hours else wording.kilograms(middle)
        where = {"xanchor": "left", "xshift": 4, "yanchor": "top"}
        plate = label(look, look.text, f"middle job {said}", middle, float(counts.max()), **where)
        figure.add_annotation(plate, row=row, col=1)
        figure.update_xaxes(title_text=f"[{unit}]", range=[0, end], nticks=7, row=row, col=1)
    figure.update_yaxes(title_text="Jobs [count]", rangemode="tozero", nticks=4)
    return figure


def jobs_alt(jobs: pd.DataFrame) -> str:
    """Middle, 8 in 10 and largest of each distribution, in words."""
    parts = []
    for column, title in PANELS:
        low, middle, high, most = (float(jobs[column].quantile(q)) for q in (0.1, 0.5, 0.9, 1.0))
        say = wording.duration if column == "flush_minutes" else wording.kilograms
        spread = f"8 in 10 between {say(low)} and {say(high)}, most {say(most)}"
        parts.append(f"{title}: middle job {say(middle)}, {spread}.")
    return f"{wording.count(len(jobs), 'simulated job')}. " + " ".join(parts)


def jobs_rows(jobs: pd.DataFrame) -> pd.DataFrame:
    """The numbers behind the distributions, one row a job."""
    names = {
        "firm_id": "Firm",
        "job_id": "Job",
        "looks": "Looks at survey",
        "emitters": "Emitters",
        "before_kg": "In it before [kg]",
        "caught_kg": "Caught [kg]",
        "left_kg": "Left [kg]",
        "flush_minutes": "Flush time [min]",
        "days_on_site": "Days on site",
        "debris_risk_365": "True chance of a debris callback in a year",
    }
    return jobs.rename(columns=names)[list(names.values())].round(3)


def practices_figure(practices: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """How often each thing was done, by how bad the system looked: three marks a line."""
    figure = new_figure(look, height=90 + 44 * practices["practice"].nunique())
    for looks in LOOKS:
        own = practices[practices["looks"] == looks]
        figure.add_scatter(
            x=100 * own["share"],
            y=own["practice"],
            mode="markers",
            name=looks,
            marker={"size": 11, "symbol": SYMBOLS[looks], "color": look.ink, "line": {"color": look.ink, "width": 1.5}},
            hovertemplate=f"%{{y}}, looks {looks}: %{{x:.0f}} %<extra></extra>",
        )
    figure.update_xaxes(title_text="Done in [% of jobs]", range=[-3, 103], nticks=6)
    figure.update_yaxes(autorange="reversed", ticks="", tickfont_color=look.text)
    return figure


def practices_alt(practices: pd.DataFrame) -> str:
    """Share of jobs in which each thing was done where it looked good and where it looked bad, in words."""
    wide = practices.pivot_table(index="practice", columns="looks", values="share", sort=False)
    lines = [
        f"{name} {wording.share(float(row['good']))} and {wording.share(float(row['bad']))}"
        for name, row in wide.iterrows()
    ]
    return "Done where the system looked good, and where it looked bad: " + "; ".join(lines) + "."


def practices_rows(practices: pd.DataFrame) -> pd.DataFrame:
    """The numbers behind the practices."""
    shares = practices.assign(share=(100 * practices["share"]).round(1))
    return shares.rename(
        columns={"practice": "What was done", "looks": "Looks at survey", "jobs": "Jobs", "share": "Done in [%]"}
    )


def callbacks_figure(callbacks: pd.DataFrame, look: Look = LIGHT) -> go.Figure:
    """Jobs called back within a year, by cause of the first callback; debris orange, other causes grey."""
    names = _causes(callbacks)
    figure = new_figure(look, height=90 + 30 * max(1, len(names)), margin_right=40)
    colours = [tint(look.debris, 0.85) if debris else tint(look.ink, 0.5) for debris in callbacks["is_debris"]]
    shares = 100 * callbacks["share"]
    figure.add_bar(
        x=shares,
        y=names,
        orientation="h",
        marker={"color": colours},
        cliponaxis=False,
        text=[str(number) for number in callbacks["jobs"]],
        textposition="outside",
        hovertemplate="%{y}: %{x:.1f} %<extra></extra>",
    )
    figure.update_xaxes(title_text="Called back [% of jobs]", rangemode="tozero")
    figure.update_yaxes(autorange="reversed", ticks="", showgrid=False, tickfont_color=look.text)
    return figure


def callbacks_alt(callbacks: pd.DataFrame) -> str:
    """Callbacks by cause, in words."""
    if not len(callbacks):
        return "0 jobs were called back within a year."
    followed = int(callbacks["followed"].iloc[0])
    debris = int(callbacks.loc[callbacks["is_debris"], "jobs"].sum())
    other = int(callbacks["jobs"].sum()) - debris
    lines = [f"{name} {number}" for name, number in zip(_causes(callbacks), callbacks["jobs"], strict=True)]
    return (
        f"Of {wording.count(followed, 'job')} followed for a year, {debris} were called back first for debris and "
        f"{other} for something else: {'; '.join(lines)}."
    )


def callbacks_rows(callbacks: pd.DataFrame) -> pd.DataFrame:
    """The numbers behind the callbacks."""
    shares = callbacks.assign(cause=_causes(callbacks), share=(100 * callbacks["share"]).round(1))
    names = {"cause": "First callback", "jobs": "Jobs", "followed": "Followed for a year", "share": "Share [%]"}
    return shares.rename(columns=names)[list(names.values())]


def _causes(callbacks: pd.DataFrame) -> list[str]:
    pairs = zip(callbacks["cause"], callbacks["is_debris"], strict=True)
    return [f"{wording.plain(cause)}{', debris' if debris else ''}" for cause, debris in pairs]
