"""Parts of "Price a job": what another plan would change, and what a water sample would be worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.figures import what_if as figures
from dashboard.words import wording

if TYPE_CHECKING:
    from models.quote.base.quote_result import Quote
    from models.quote.offers.further import Further
    from models.quote.offers.water_sample import WaterSample
    from models.quote.offers.what_if import WhatIf

MEASURES: dict[figures.Measure, str] = {
    "price": "Price",
    "site_minutes": "Time",
    "magnetite_kg": "Magnetite",
    "callbacks": "Callbacks",
}


def draw_further(quote: Quote, further: Further) -> None:
    """Other plans, and the worth of a water sample where none was taken."""
    currency = quote.price.currency
    st.header("If it were flushed another way", anchor=False)
    if further.what_if:
        _draw_plans(further.what_if, currency)
    else:
        frame.instead("Too few past jobs were flushed in other ways to say what another plan would change.")
    if further.water_sample is not None:
        st.header("What a water sample would be worth", anchor=False)
        st.markdown(sample_sentence(further.water_sample, currency))


def _draw_plans(changes: tuple[WhatIf, ...], currency: str) -> None:
    from models.quote.offers.what_if import CAUTION

    planned = figures.planned_names(changes)
    if planned:
        st.markdown(f"Planned now: {wording.listed(planned)}. Each bar changes one thing and leaves the rest.")
    else:
        st.markdown("The survey names no plan yet. Each bar is one plan against the usual one.")
    measure = st.segmented_control(
        "What moves",
        measures(changes),
        default="price",
        format_func=MEASURES.__getitem__,
        key="price_what_if_measure",
        required=True,
    )
    frame.chart(
        figures.what_if_figure(changes, measure, currency, frame.current_look()),
        key="price_what_if",
        alt=figures.what_if_alt(changes, measure, currency),
        rows=plan_rows(changes, currency),
        file_name="other_plans.csv",
    )
    frame.small(CAUTION)


def measures(changes: tuple[WhatIf, ...]) -> list[figures.Measure]:
    """What can be shown to move; callbacks only where something is known to move them."""
    is_told = any(change.callback_change is not None for change in changes)
    return [measure for measure in MEASURES if is_told or measure != "callbacks"]


def _callback_columns(change: WhatIf) -> dict[str, float | None]:
    moved = change.callback_change
    told = (None, None, None) if moved is None else (moved.change, moved.low, moved.high)
    names = ("Callbacks [jobs in 100]", "from [jobs in 100]", "to [jobs in 100]")
    return {name: None if by is None else round(100 * by, 2) for name, by in zip(names, told, strict=True)}


def plan_rows(changes: tuple[WhatIf, ...], currency: str) -> pd.DataFrame:
    """Every change of plan with all that moves."""
    is_told = "callbacks" in measures(changes)
    return pd.DataFrame(
        [
            {
                "Plan": figures.plan_name(change),
                "Magnetite, dry [kg]": round(change.magnetite_kg, 2),
                "Time on site [min]": round(change.site_minutes),
                "Second day [jobs in 100]": round(100 * change.second_day, 1),
                f"Price before tax [{currency}]": round(change.price, 2),
                "Past jobs with it": change.jobs,
                **(_callback_columns(change) if is_told else {}),
            }
            for change in changes
        ]
    )


def sample_sentence(sample: WaterSample, currency: str) -> str:
    """What knowing the water would do to the range and to the price."""
    width, narrower = wording.kilograms(sample.magnetite_width_with_kg), sample.narrower_share
    now = wording.kilograms(sample.magnetite_width_kg)
    ranges = f"on average the range that holds 8 such jobs in 10 would be {width} wide, "
    ranges += f"not {now}" if width != now else "as now"
    told = f"**{wording.share(narrower)} narrower**: {ranges}" if narrower >= 0.05 else f"hardly narrower: {ranges}"
    asked = (
        f"At the same chance of loss the price would then lie between {wording.money(sample.price_low, currency)} and "
        f"{wording.money(sample.price_high, currency)} in 8 cases of 10, {wording.money(sample.price_with, currency)} "
        f"on average; without the sample it is {wording.money(sample.price, currency)}."
    )
    return (
        f"With the water tested, the forecast of magnetite would be {told}. {asked} That is what the samples of "
        f"{wording.count(sample.samples, 'similar past job')} would have done here."
    )
