"""The quote's model as kept with a build, loaded without what trains and scores it: a command starts at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from models.quote.model.callback_inputs import load_returns
from models.quote.model.quote_model import QuoteModel, unpack
from models.store import load_model, read_manifest
from pipeline.contract.findings import SludgebookError

FOLDER = "quote"
"""The quote's own folder within the models of a build."""


def load_quote(folder: Path) -> QuoteModel:
    """The stored model of a build's models folder. SludgebookError in one sentence when it cannot be used."""
    try:
        return replace(unpack(load_model(folder / FOLDER)), returns=load_returns(folder))
    except (KeyError, TypeError, IndexError, AttributeError, ValueError):
        raise SludgebookError(
            f"The model in {folder / FOLDER} is damaged: a part is missing; run `sludgebook train` again."
        ) from None


def load_report(folder: Path) -> dict[str, Any]:
    """The training report stored with the model, as `TrainReport.as_json` gave it."""
    report = read_manifest(folder / FOLDER).get("report")
    return report if isinstance(report, dict) else {}
