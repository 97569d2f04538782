"""What makes the first page slow, done while nobody waits: slow libraries are imported, the open book is read once.

Every page works without it. It runs in a thread beside the server, which answers meanwhile.
"""

from __future__ import annotations

import threading
from importlib import import_module

SLOW = (
    "pandas",
    "polars",
    "duckdb",
    "plotly.graph_objects",
    "scipy.stats",
    "scipy.optimize",
    "models.catch.watch",
    "models.catch.records.job_frames",
    "models.catch.stopping.storage",
    "models.quote.model.quote_model",
    "pipeline.on_site.job_features",
    "pipeline.on_site.instrument_files",
    "dashboard.figures.debris_curves",
    "dashboard.figures.watch_the_catch",
)
"""Imported late elsewhere, so that a command starts at once."""


PAUSE_SECONDS = 5.0
"""The page that a browser opens at once comes first: both at a time would slow it down."""


def begin() -> threading.Timer:
    """Start at it in the background after a pause. It ends by itself and holds nobody up who stops the server."""
    timer = threading.Timer(PAUSE_SECONDS, warm)
    timer.daemon = True
    timer.start()
    return timer


def warm() -> None:
    """Import what the pages need, then read what they share of the open book into their cache."""
    for name in SLOW:
        import_module(name)
    from dashboard import data, theme

    data.read_ahead()
    figure = theme.new_figure(theme.LIGHT)  # the library of figures imports its parts when they are first used
    figure.add_scatter(x=[0.0], y=[0.0]).add_annotation(theme.label(theme.LIGHT, theme.LIGHT.text, "", 0.0, 0.0))
    figure.update_xaxes(title_text="").to_json()
