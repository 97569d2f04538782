"""The pictures of the document are drawn by the present simulator, small, and in the dashboard's hues.

Where the first test fails after a change of the world, `python -m synthetic_data.illustrations.draw_pictures` draws
them anew.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from dashboard.theme import LIGHT
from synthetic_data.illustrations import draw_pictures, svg
from synthetic_data.illustrations.trace import trace_job

NAMES = ("pools", "minutes", "kilograms", "practices")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
SPACE = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pictures")
    draw_pictures.draw(folder)
    return folder


def numbers(text: str) -> list[float]:
    return [float(found) for found in NUMBER.findall(text)]


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_in_the_document_is_what_the_simulator_draws_now(fresh: Path, name: str) -> None:
    kept, drawn = ((folder / f"{name}.svg").read_text(encoding="utf-8") for folder in (draw_pictures.FOLDER, fresh))

    # other processors round the last digit otherwise: a tenth of a pixel, the last decimal of a label
    assert NUMBER.sub("#", kept) == NUMBER.sub("#", drawn)
    assert numbers(kept) == pytest.approx(numbers(drawn), abs=0.11)


def test_pictures_are_small_and_all_of_them_stand_in_the_document() -> None:
    document = (draw_pictures.FOLDER.parent / "README.md").read_text(encoding="utf-8")
    files = sorted(draw_pictures.FOLDER.iterdir())

    assert [file.name for file in files] == sorted(f"{name}.svg" for name in NAMES)
    assert max(file.stat().st_size for file in files) < 60_000
    assert [name for name in NAMES if f"](pictures/{name}.svg)" not in document] == []


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_is_whole_and_says_what_it_shows(fresh: Path, name: str) -> None:
    root = ET.parse(fresh / f"{name}.svg").getroot()
    texts = [element.text or "" for element in root.iter(f"{SPACE}text")]

    assert root.get("role") == "img"
    assert root.find(f"{SPACE}title") is not None
    assert len(root.findtext(f"{SPACE}desc") or "") > 20
    assert any("[" in text for text in texts)
    width = float(root.get("width", "0"))
    for element in root.iter(f"{SPACE}rect"):
        left = float(element.get("x", "0"))
        assert 0 <= left <= left + float(element.get("width", "0")) <= width


def test_the_bars_of_the_pools_are_as_long_as_the_kilograms(fresh: Path) -> None:
    trace = trace_job(draw_pictures.SCENARIO, draw_pictures.SEED, draw_pictures.JOB)
    root = ET.parse(fresh / "pools.svg").getroot()
    bars = [float(r.get("width", "0")) for r in root.iter(f"{SPACE}rect") if r.get("fill") == svg.DEBRIS]

    before = float((trace.loose_before_kg + trace.consolidated_before_kg).sum())
    scale = sum(bars) / (before + float(trace.magnetite.left_kg[-1].sum()))
    longest = float(np.max(trace.consolidated_before_kg))
    # bars are rounded to a tenth of a pixel
    assert bars[2 * int(np.argmax(trace.consolidated_before_kg))] == pytest.approx(longest * scale, abs=0.5)
    assert len(bars) == 4 * len(trace.emitter_no)


def test_hues_are_those_of_the_dashboard_on_white() -> None:
    drawn = (svg.PAGE, svg.TEXT, svg.MUTED, svg.GRID, svg.DEBRIS, svg.FLOW, svg.HEAT, svg.INK)

    assert drawn == (LIGHT.page, LIGHT.text, LIGHT.muted, LIGHT.grid, LIGHT.debris, LIGHT.flow, LIGHT.heat, LIGHT.ink)


@pytest.mark.parametrize(
    ("most", "steps", "ticks"),
    [
        (0.83, 5, [0, 0.2, 0.4, 0.6, 0.8]),
        (62, 4, [0, 20, 40, 60]),
        (10, 10, list(range(11))),
        (0.03, 3, [0, 0.01, 0.02, 0.03]),
    ],
)
def test_marks_of_an_axis_are_round(most: float, steps: int, ticks: list[float]) -> None:
    assert svg.nice_ticks(most, steps) == pytest.approx(ticks)


def test_a_panel_puts_nought_at_its_lower_left_corner() -> None:
    panel = svg.Panel(10, 20, 100, 50, 4.0, 2.0)

    assert (panel.x(0), panel.y(0), panel.x(4), panel.y(2)) == (10, 70, 110, 20)
    assert 'x="60" y="45" width="25" height="25"' in panel.bar((2, 3), (0, 1), svg.DEBRIS, 1)
    assert "&lt;" in svg.words(0, 0, "<")
