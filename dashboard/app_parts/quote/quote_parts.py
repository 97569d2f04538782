"""Parts of "Price a job": the answer, what it costs, why, the nearest jobs, and what it rests on."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard import tallies
from dashboard.app_parts import frame
from dashboard.app_parts.quote import option_parts
from dashboard.figures import price_a_job as figures
from dashboard.words import callback_words, wording
from models.refusals import NotEnoughData

if TYPE_CHECKING:
    from models.quote.base.quote_result import Price, Quote


def draw_usual(jobs: pd.DataFrame) -> None:
    """What a usual job of the book gives and takes: the answer before any survey."""
    try:
        usual = tallies.usual_of(jobs)
    except NotEnoughData as refusal:
        frame.instead(str(refusal), "Hand in `catches` with the jobs: what was caught is what a price is learnt from.")
        return
    frame.answer(
        f"A usual job in this book gives {wording.kilograms_range(usual.magnetite_kg)} of magnetite and takes "
        f"{wording.duration_range(usual.site_minutes)} on site.",
        f"Middle of {wording.count(usual.jobs, 'finished job')}; 8 in 10 lie in the range in brackets. "
        "Fill in what the survey showed and price this one: only the kind of system is needed.",
    )


def draw_no_records() -> None:
    """What an empty book can say before any survey."""
    frame.answer(
        "No job is on record yet: a quote follows the trade's rule of thumb, with a wide range.",
        "With your first finished jobs it follows your own kilograms an emitter, from 40 on what they all tell "
        "together. Only the kind of system is needed.",
    )
    st.page_link("app_pages/intake.py", label="Hand in job logs", icon=":material/move_to_inbox:")


def draw_answer(quote: Quote) -> None:
    """The answer in one sentence, then kilograms and hours as distributions."""
    kilos, hours = quote.forecasts["magnetite_kg"], quote.forecasts["site_minutes"]
    other = quote.forecasts["non_magnetic_kg"].quantiles
    frame.answer(
        f"Expect {wording.kilograms_range(kilos.quantiles)} of magnetite and "
        f"{wording.duration_range(hours.quantiles)} on site; ask "
        f"{wording.money(quote.price.price, quote.price.currency)} before tax.",
        f"The range in brackets holds 8 such jobs in 10. Other debris: {wording.kilograms_range(other)}. "
        f"A second day is needed in {wording.share(quote.second_day)} of such jobs.",
    )
    frame.notes(quote.findings)
    look = frame.current_look()
    for column, forecast in zip(st.columns(2), (kilos, hours), strict=True):
        with column:
            frame.chart(
                figures.forecast_figure(forecast, quote.similar_jobs, look),
                key=f"price_{forecast.target}",
                alt=figures.forecast_alt(forecast, quote.similar_jobs),
                rows=quantile_rows(quote, forecast.target),
                file_name=f"{forecast.target}.csv",
            )


def draw_price(quote: Quote) -> None:
    """Price against the chance of losing money, and what the job costs the firm."""
    price = quote.price
    chance = price.accepted_chance_of_loss if price.chance_of_loss is None else price.chance_of_loss
    st.header("What to ask", anchor=False)
    st.markdown(
        f"At **{wording.money(price.price, price.currency)}** before tax "
        f"({wording.money(price.price_with_tax, price.currency)} with tax) about "
        f"{wording.share(chance)} of such jobs lose money; {wording.PRICE_RULES[price.set_by]}. The job costs the firm "
        f"{wording.money(price.cost.p50, price.currency)} ({wording.money(price.cost.p10, price.currency)} to "
        f"{wording.money(price.cost.p90, price.currency)})."
    )
    curve = pd.DataFrame(
        {
            f"Price before tax [{price.currency}]": [round(p.price, 2) for p in price.curve],
            "Jobs that lose money [%]": [round(100 * p.chance_of_loss, 1) for p in price.curve],
        }
    )
    left, right = st.columns([3, 2])
    with left:
        frame.chart(
            figures.loss_figure(price, frame.current_look()),
            key="price_loss",
            alt=figures.loss_alt(price),
            rows=curve,
            file_name="price.csv",
        )
    with right:
        draw_cost(price)
    if price.callbacks is not None:
        frame.small(callback_words.callbacks(price.callbacks, price.currency))


def draw_cost(price: Price) -> None:
    """The cost part by part where it is the median, every row in sight, and the sum."""
    st.markdown("**What it costs, part by part**")
    rows = cost_rows(price)
    shown = rows.assign(Amount=[wording.money(amount, price.currency, exact=True) for amount in rows["Amount"]])
    st.dataframe(
        shown,
        hide_index=True,
        alt="Cost of the job part by part",
        key="price_parts",
        height="content",
        column_config={"Amount": st.column_config.TextColumn(alignment="right")},
    )
    st.download_button(
        "Save as CSV",
        frame.csv_bytes(rows),
        "cost.csv",
        "text/csv",
        key="price_parts_csv",
        on_click="ignore",
        icon=":material/download:",
    )


def cost_rows(price: Price) -> pd.DataFrame:
    """Each part of the cost and their sum, in the book's currency before tax."""
    parts = [{"Part": part.name, "Amount": round(part.amount, 2)} for part in price.parts]
    return pd.DataFrame([*parts, {"Part": "Cost, middle", "Amount": round(price.cost.p50, 2)}])


def draw_reasons(quote: Quote) -> None:
    """What moves the forecast away from the usual job, step by step."""
    if not quote.why:
        return
    st.header("Why", anchor=False)
    look = frame.current_look()
    for column, why in zip(st.columns(2), quote.why[:2], strict=False):
        unit = "kg" if why.unit == "kg" else "min"
        rows = pd.DataFrame([{"Reason": r.group, f"Change [{unit}]": round(r.amount, 3)} for r in why.reasons])
        with column:
            frame.chart(
                figures.reasons_figure(why, look),
                key=f"price_why_{why.target}",
                alt=figures.reasons_alt(why),
                rows=rows,
                file_name=f"why_{why.target}.csv",
            )


def draw_nearest(quote: Quote) -> None:
    """The nearest past jobs and what they gave."""
    st.header("The nearest past jobs", anchor=False)
    if not quote.similar_jobs:
        frame.instead("There is no finished job near enough to compare with.")
        return
    rows = pd.DataFrame(
        [
            {
                "Job": job.job_id,
                "System": wording.plain(job.system_type),
                "Emitters": job.emitter_count,
                "Age [years]": job.age_years,
                "Magnetite, dry": wording.kilograms(job.magnetite_kg),
                "Other debris": wording.kilograms(job.non_magnetic_kg),
                "Time on site": wording.duration(job.site_minutes),
            }
            for job in quote.similar_jobs
        ]
    )
    frame.table(
        rows,
        key="price_nearest",
        file_name="nearest_jobs.csv",
        alt="Nearest past jobs with their size, age and outcome",
    )


def draw_water(quote: Quote) -> None:
    """System volume, its range, and the chemical for it."""
    volume = quote.volume
    st.header("Water and chemical", anchor=False)
    st.markdown(
        f"The system holds about **{wording.litres(volume.mid_l)}** ({wording.litres(volume.low_l)} to "
        f"{wording.litres(volume.high_l)}), from {wording.plain(volume.method)}. That takes "
        f"{wording.litres(volume.cleaner_dose_l)} of cleaner and {wording.litres(volume.inhibitor_dose_l)} of "
        "inhibitor."
    )
    if volume.cleaner is not None and volume.inhibitor is not None:
        rows = option_parts.dose_rows({"Cleaner": volume.cleaner, "Inhibitor": volume.inhibitor})
        frame.table(rows, key="price_doses", file_name="doses.csv", alt="Doses over the range of the volume")
        frame.small(
            "Of a cleaner the label's dose is the most: put in the dose of the smallest volume, more only once a test "
            "of the water shows that it is short, and never more than the label's dose for the volume then found. "
            "Of an inhibitor it is the least, because too thin an inhibitor pits steel: round up, test its strength "
            "before leaving, and add until the test passes. Where the label sets a most for it too, that holds."
        )
    frame.caution("The label and the safety sheet come first: never past the label's dose or days; never mix.")


def draw_basis(quote: Quote) -> None:
    """What the forecast rests on, and the papers to keep."""
    from models.quote.answer import as_json

    basis = quote.basis
    st.header("What this rests on", anchor=False)
    sentence = (
        f"{wording.METHODS[basis.method].capitalize()}: {wording.count(basis.finished_jobs, 'finished job')}, "
        f"{wording.window(basis.window_from, basis.window_to)}; the ranges were set by "
        f"{wording.count(basis.calibration_jobs, 'job')}."
    )
    if basis.simulated_share > 0:
        some = "All" if basis.simulated_share == 1 else wording.share(basis.simulated_share)
        sentence += f" {some} of the records are simulated."
    if basis.outside:
        sentence += f" Outside what those jobs show: {wording.listed([wording.plain(b) for b in basis.outside])}."
    st.markdown(sentence)
    with st.container(horizontal=True):
        st.download_button(
            "Save as JSON",
            json.dumps(as_json(quote), indent=1, default=str),
            "quote.json",
            "application/json",
            key="price_json",
            on_click="ignore",
        )
        st.download_button(
            "Save as text", quote_text(quote), "quote.txt", "text/plain", key="price_text", on_click="ignore"
        )


def quantile_rows(quote: Quote, target: str) -> pd.DataFrame:
    """The seven quantiles of one target as a table: share of such jobs that stay below."""
    forecast = next(f for name, f in quote.forecasts.items() if name == target)
    return pd.DataFrame(
        [
            {"Jobs below [%]": int(name[1:]), f"{wording.TARGETS[target]} [{forecast.unit}]": round(value, 3)}
            for name, value in forecast.quantiles.as_dict().items()
        ]
    )


def quote_text(quote: Quote) -> str:
    """The quote as a short text for a message or a file."""
    price, volume = quote.price, quote.volume
    forecasts = quote.forecasts
    lines = [
        "Estimate for one clean of a heating system",
        f"Magnetite, dry: {wording.kilograms_range(forecasts['magnetite_kg'].quantiles)}",
        f"Other debris, dry: {wording.kilograms_range(forecasts['non_magnetic_kg'].quantiles)}",
        f"Flush: {wording.duration_range(forecasts['flush_minutes'].quantiles)}",
        f"On site: {wording.duration_range(forecasts['site_minutes'].quantiles)}",
        f"Second day needed: {wording.share(quote.second_day)} of such jobs",
        f"Price before tax: {wording.money(price.price, price.currency)}",
        f"Price with tax: {wording.money(price.price_with_tax, price.currency)}",
        f"System volume: {wording.litres(volume.mid_l)} ({wording.litres(volume.low_l)} to "
        f"{wording.litres(volume.high_l)})",
        "Ranges hold 8 such jobs in 10.",
        *(finding.sentence for finding in quote.findings),
    ]
    return "\n".join(lines) + "\n"
