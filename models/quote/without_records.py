"""The quote of a book that holds no finished job yet: the rule of common practice, with its wide interval."""

from __future__ import annotations

import pandas as pd

from models.quote.model.quote_model import QuoteModel
from models.quote.train import train_quote
from pipeline.contract import BUILT


def model_without_records() -> QuoteModel:
    """What `train_quote` makes of no job at all. Its quotes say so and show how wide the rule is."""
    features, outcomes = (
        pd.DataFrame(columns=[column.name for column in BUILT[name].columns]) for name in ("ftr_quote", "ftr_outcome")
    )
    return train_quote(features, outcomes)
