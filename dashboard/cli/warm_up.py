"""What makes the first page slow, done while nobody waits: slow libraries are imported, the open book is read once.

Every page works without it. It runs in a thread beside the server, which answers meanwhile.
"""

from __future__ import annotations

import gc
import threading
from importlib import import_module
from pkgutil import walk_packages

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


AGAIN_SECONDS = (60.0, 600.0)
"""What the first visitors had read stays too: set aside once more, and then no more, since what is in use at such a
moment is set aside with it."""


def begin() -> None:
    """Start at it in the background after a pause. It ends by itself and holds nobody up who stops the server."""
    for pause, work in ((PAUSE_SECONDS, warm), *((pause, set_aside) for pause in AGAIN_SECONDS)):
        timer = threading.Timer(pause, work)
        timer.daemon = True
        timer.start()


def warm() -> None:
    """Import what the pages need, then read what they share of the open book into their cache, and set it all aside."""
    for name in (*SLOW, *_parts_of_pages()):
        import_module(name)
    from dashboard import data, theme

    data.read_ahead()
    figure = theme.new_figure(theme.LIGHT)  # the library of figures imports its parts when they are first used
    figure.add_scatter(x=[0.0], y=[0.0]).add_annotation(theme.label(theme.LIGHT, theme.LIGHT.text, "", 0.0, 0.0))
    figure.update_xaxes(title_text="").to_json()
    set_aside()


def _parts_of_pages() -> list[str]:
    """Every module that draws a part of a page."""
    from dashboard import app_parts, figures

    return [found.name for each in (app_parts, figures) for found in walk_packages(each.__path__, f"{each.__name__}.")]


def set_aside() -> None:
    """Have what is there now, which stays to the end, looked through for unused objects no more.

    The library looks through everything after each run of a page, with all other pages waiting: a third of a second.
    """
    gc.collect()
    gc.freeze()
