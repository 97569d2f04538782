"""Parts of "Price a job": the offers side by side, and the doses over the range of the volume."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.app_parts import frame
from dashboard.words import callback_words, wording

if TYPE_CHECKING:
    from models.quote.base.quote_result import Dose, Quote
    from models.quote.offers.further import Further
    from models.quote.offers.options import Option


def draw_options(quote: Quote, further: Further) -> None:
    """With and without a filter, with and without a pre-dose: what each would be asked for."""
    options, currency = further.options, quote.price.currency
    if len(options) < 2:
        return
    st.header("Offers side by side", anchor=False)
    st.markdown(options_sentence(options, currency))
    frame.table(
        option_rows(options, currency),
        key="price_options",
        file_name="offers.csv",
        alt="Offers side by side: price, debris and time of each",
    )
    told = [
        "Each price keeps to the same rules: at most your chance of loss, at least your margin. A filter is "
        "fitted after the flush: it moves no kilograms and no time.",
        callbacks_sentence(options),
    ]
    if not all(option.forecast_moves for option in options):
        told.append("Too few past jobs tell what a pre-dose does to debris and time: only its visit is counted.")
    frame.small(" ".join(told))


def offer_name(option: Option, *, filter_is_there: bool) -> str:
    """An offer in a few words: `New filter, 7 days of pre-dose`."""
    days = option.predose_days
    dosed = f"{wording.count(days, 'day')} of pre-dose" if days else "no pre-dose"
    if filter_is_there:
        return dosed.capitalize() if not days else dosed
    return f"{'New filter' if option.new_filter else 'No filter'}, {dosed}"


def options_sentence(options: tuple[Option, ...], currency: str) -> str:
    """The price as asked, and how far each other offer lies from it."""
    asked, *others = options
    there = not any(option.new_filter for option in options)
    name = offer_name(asked, filter_is_there=there)
    told = []
    for option in others:
        amount = option.price - asked.price
        more = f"{wording.money(abs(amount), currency)} {'more' if amount > 0 else 'less'}" if amount else "the same"
        words = offer_name(option, filter_is_there=there)
        told.append(f"{words[0].lower()}{words[1:]}: {more}")
    return f"As asked ({name[0].lower()}{name[1:]}) **{wording.money(asked.price, currency)}**; {'; '.join(told)}."


def callbacks_sentence(options: tuple[Option, ...]) -> str:
    """How far the offers differ in the callbacks that their prices count, with intervals."""
    if all(option.callback_change is None for option in options):
        return "All count the same callbacks. **Practice audit** tells what a filter or a pre-dose does to them."
    asked, *others = options
    there = not any(option.new_filter for option in options)
    told = []
    for option in others:
        words = offer_name(option, filter_is_there=there)
        change = option.callback_change
        told.append(f"{words[0].lower()}{words[1:]}: {callback_words.compared(change) if change else 'not known'}")
    return (
        f"Callbacks counted in 100 such jobs: {wording.per_100(asked.callback_chance)} as asked; {'; '.join(told)}. "
        "They move by what the **Practice audit** has a verdict on, else by what a kilogram moved by the flushing does."
    )


def option_rows(options: tuple[Option, ...], currency: str) -> pd.DataFrame:
    """The offers as a table, a row each, as asked first."""
    there = not any(option.new_filter for option in options)
    return pd.DataFrame(
        [
            {
                "Offer": offer_name(option, filter_is_there=there) + (" (asked)" if option.is_asked else ""),
                f"Price [{currency}]": option.price,
                "With tax": option.price_with_tax,
                "Lose money": wording.share(option.chance_of_loss),
                "Magnetite": wording.kilograms_range(option.magnetite_kg),
                "On site": wording.duration_range(option.site_minutes),
                "Second day": wording.share(option.second_day),
            }
            for option in options
        ]
    )


def dose_rows(doses: Mapping[str, Dose]) -> pd.DataFrame:
    """What goes in of each chemical before a test of the water, the most or the least, and containers to bring."""
    word = {"most": "at most", "least": "at least"}
    return pd.DataFrame(
        [
            {
                "Chemical": name,
                "The label's dose is": {"most": "the most", "least": "the least"}[dose.label_is],
                "First": f"{word[dose.label_is]} {dose.first_l:.2f} L",
                "Middle volume [L]": round(dose.mid_l, 2),
                "Largest volume [L]": round(dose.high_l, 2),
                "Containers to bring": "by the litre"
                if dose.containers_to_bring is None
                else (f"{dose.containers_to_bring} of {dose.pack_l:g} L"),
            }
            for name, dose in doses.items()
        ]
    )
