"""Pictures of the simulator's document; to draw them anew: `python -m synthetic_data.illustrations.draw_pictures`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl

from synthetic_data.flush.flush_state import RINSING
from synthetic_data.house.house import Floats
from synthetic_data.illustrations.distributions import LOOKS, FirmDistributions, firm_distributions
from synthetic_data.illustrations.svg import DEBRIS, FLOW, HEAT, INK, MUTED, Panel, document, nice_ticks, words
from synthetic_data.illustrations.trace import JobTrace, trace_job
from synthetic_data.illustrations.trace_words import flush_minute

FOLDER = Path(__file__).parents[1] / "pictures"
SCENARIO, SEED, JOB, JOBS = "usual", 1, 33, 400
"""World of the pictures, the job that is looked into, and how many jobs stand for the firm."""

WIDTH = 760
BINS = 24
DRAWN_SHARE = 0.99
MINUTES_PER_HOUR = 60.0
_BAKED, _LOOSE = 0.85, 0.35


def pools(trace: JobTrace) -> str:
    """What lay in each emitter before the visit, and what is left of it: baked on (dark) and loose (light)."""
    magnetite, count = trace.magnetite, len(trace.emitter_no)
    before = trace.consolidated_before_kg, trace.loose_before_kg
    left = magnetite.consolidated_kg[-1], (magnetite.loose_kg + magnetite.carried_kg)[-1]
    most = max(float((before[0] + before[1]).max()), float((left[0] + left[1]).max())) * 1.05
    parts, row = [], 20.0
    for place, (when, (baked, loose)) in enumerate((("In it before", before), ("Left in it", left))):
        panel = Panel(60 + 355 * place, 36, 325, row * count, most, count)
        title = f"{when}: {float((baked + loose).sum()):.2f} kg"
        parts.append(panel.axes(title, "magnetite, dry [kg]", x_ticks=nice_ticks(most, 4)))
        for at in range(count):
            y = (count - at - 0.85, count - at - 0.15)
            parts.append(panel.bar((0.0, baked[at]), y, DEBRIS, _BAKED))
            parts.append(panel.bar((baked[at], baked[at] + loose[at]), y, DEBRIS, _LOOSE))
            if place == 0:
                parts.append(words(52, panel.y(count - at - 0.5) + 4, str(at + 1), colour=MUTED, anchor="end", size=12))
    foot = 36 + row * count + 52
    parts.append(words(60, foot, "Emitters by number. Dark: baked on; light: loose.", colour=MUTED, size=12))
    meaning = f"{np.add(*before).sum():.2f} kg of magnetite before, {np.add(*left).sum():.2f} kg left."
    return document(WIDTH, int(foot + 14), "Pools by emitter before and after one job", meaning, parts)


def minutes(trace: JobTrace) -> str:
    """Temperature, flow, load of the magnet and catch of one job, one above the other over the same hours."""
    x, magnetite = trace.minutes / MINUTES_PER_HOUR, trace.magnetite
    out, weighed = magnetite.out_kg.sum(axis=1), (magnetite.caught_kg + magnetite.strained_kg).sum(axis=1)
    at = np.unique(flush_minute(trace, trace.weighings.wall_min))
    flow = trace.flow_l_min[1:-1]
    tops = [(trace.water_c, "°C"), (flow, "L/min"), (trace.magnet_load_kg, "kg"), (out, "kg")]
    titles = [
        "Water temperature; dashed: return",
        "Flow through the machine",
        "On the magnet",
        "Magnetite taken out of the water; marks: weighed",
    ]
    panels = [
        Panel(60, 36 + 150 * n, WIDTH - 80, 100, float(x[-1]), max(float(v.max()), 1e-3) * 1.08)
        for n, (v, _) in enumerate(tops)
    ]
    hours = nice_ticks(float(x[-1]), 10)
    parts = [
        p.axes(
            title,
            "flush time, nights left out [h]" if p is panels[-1] else "",
            y_unit=f"[{unit}]",
            x_ticks=hours,
            y_ticks=nice_ticks(p.y_most, 4),
        )
        for p, title, (_, unit) in zip(panels, titles, tops, strict=True)
    ]
    heat, water, magnet, catch = panels
    parts += [
        heat.line(x, trace.return_c, HEAT, width=1.0, dash="4 3"),
        heat.line(x, trace.water_c, HEAT),
        water.line(x[1:-1], flow, FLOW),
        magnet.area(x, trace.magnet_load_kg, DEBRIS, 0.5),
        catch.line(x, out, DEBRIS, width=1.5),
        catch.marks(x[at], weighed[at], DEBRIS),
    ]
    rinse = float(x[int(np.argmax(trace.phase == RINSING))])
    parts += [panel.upright(rinse, "" if panel is not heat else "rinse") for panel in panels]
    meaning = f"{out[-1]:.2f} kg taken out in {x[-1]:.1f} h, water up to {trace.water_c.max():.0f} °C."
    return document(WIDTH, 640, "One job minute by minute", meaning, parts)


def kilograms(firm: FirmDistributions) -> str:
    """Jobs by kilograms caught, kilograms left, and hours of flushing; the middle job marked."""
    jobs, parts = firm.jobs, []
    widest = max(_quantile(jobs["caught_kg"]), _quantile(jobs["left_kg"]))
    columns = (
        ("Caught, dry", jobs["caught_kg"], widest, "kg", DEBRIS, 0.85),
        ("Left behind, dry", jobs["left_kg"], widest, "kg", DEBRIS, 0.45),
        ("Flush time", jobs["flush_minutes"] / MINUTES_PER_HOUR, None, "h", INK, 0.85),
    )
    said = []
    for place, (title, values, most, unit, colour, opacity) in enumerate(columns):
        end = most or _quantile(values)
        counts, edges = np.histogram(_floats(values), bins=BINS, range=(0.0, end))
        panel = Panel(60, 36 + 160 * place, WIDTH - 80, 100, end, float(counts.max()) * 1.15)
        parts.append(
            panel.axes(
                title, f"[{unit}]", y_unit="[jobs]", x_ticks=nice_ticks(end, 10), y_ticks=nice_ticks(panel.y_most, 4)
            )
        )
        gap = 0.06 * (edges[1] - edges[0])
        parts += [
            panel.bar((low + gap, high - gap), (0.0, float(number)), colour, opacity)
            for low, high, number in zip(edges, edges[1:], counts, strict=False)
            if number
        ]
        middle = float(np.median(_floats(values)))
        parts.append(panel.upright(middle, f"middle job {middle:.1f} {unit}"))
        said.append(f"{title.lower()} {middle:.1f} {unit}")
    meaning = f"{jobs.height} jobs, the middle one: {', '.join(said)}. One job in a hundred lies beyond the axis."
    return document(WIDTH, 510, "Kilograms and hours of a firm's jobs", meaning, parts)


def practices(firm: FirmDistributions) -> str:
    """How often each thing was done where the system looked good, middling and bad."""
    names = firm.practices["practice"].unique(maintain_order=True).to_list()
    panel = Panel(190, 36, WIDTH - 220, 26.0 * len(names), 100.0, float(len(names)))
    parts = [
        panel.axes(
            "Done in, by how bad it looked (light: good, dark: bad)", "[% of jobs]", x_ticks=nice_ticks(100.0, 5)
        )
    ]
    for at, name in enumerate(names):
        own = firm.practices.filter(pl.col("practice") == name)
        shares = dict(zip(own["looks"], own["share"], strict=True))
        y = len(names) - at
        parts.append(words(182, panel.y(y - 0.5) + 4, name, anchor="end"))
        for place, looks in enumerate(LOOKS):
            band = (y - 0.14 - 0.26 * place, y - 0.36 - 0.26 * place)
            parts.append(panel.bar((0.0, 100.0 * shares.get(looks, 0.0)), band, INK, (0.3, 0.6, 1.0)[place]))
    foot = 36 + 26 * len(names) + 46
    meaning = "For each practice three bars: the worse it looks, the more often it is done."
    return document(WIDTH, foot, "What is done by how bad a system looks", meaning, parts)


def _floats(values: pl.Series) -> Floats:
    return np.asarray(values.to_numpy(), dtype=np.float64)


def _quantile(values: pl.Series) -> float:
    return float(np.quantile(_floats(values), DRAWN_SHARE))


def draw(folder: Path) -> list[Path]:
    """Simulate and write every picture into a folder; returns the files."""
    trace, firm = trace_job(SCENARIO, SEED, JOB), firm_distributions(SCENARIO, SEED, JOBS)
    of_job: tuple[Callable[[JobTrace], str], ...] = (pools, minutes)
    of_firm: tuple[Callable[[FirmDistributions], str], ...] = (kilograms, practices)
    texts = {make.__name__: make(trace) for make in of_job} | {make.__name__: make(firm) for make in of_firm}
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, text in texts.items():
        paths.append(folder / f"{name}.svg")
        paths[-1].write_text(text, encoding="utf-8", newline="\n")
    return paths


if __name__ == "__main__":
    for path in draw(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER):
        sys.stdout.write(f"{path}\n")
