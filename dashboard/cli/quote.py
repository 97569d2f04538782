"""`sludgebook quote`: the quotes of one request or ten thousand, a JSON line each. It starts at once."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.cli import printing as text
from dashboard.words import money
from pipeline.contract.findings import BookError

if TYPE_CHECKING:
    from models.quote.model.quote_model import QuoteModel
    from pipeline.contract.findings import Finding
    from pipeline.store.book import Book

AT_ONCE = 2000
"""Requests answered together: enough to be quick, few enough for a small computer's memory."""


def quote(
    request: Path, path: Path, as_json: bool | None, with_further: bool | None = None, *, keep: bool = False
) -> None:
    """Print the quotes of a request, and a line for each job that cannot be quoted.

    `with_further` adds other plans and the worth of a water sample; None: only where the requests are few. `keep`
    puts each quote into the book and its `quote_id` on its line.
    """
    from pipeline.quotes.requests import read_requests, request_features
    from pipeline.store.book import Book

    requests = read_requests(request)
    book = Book(path)
    firm = book.firm()
    money.use(firm)
    inputs = request_features(requests, firm)

    from models.quote.answer import answer
    from models.quote.answer import as_json as quote_json
    from models.quote.offers.further import A_FEW, further

    if keep:
        from dashboard.cli.kept_quotes import keep as kept

    model, name, age = _model(book)
    wanted = len(inputs.features) <= A_FEW if with_further is None else with_further
    notes = [finding.as_dict() for finding in (*inputs.findings, *age)]

    def quotes() -> Iterator[dict[str, Any]]:
        for first in range(0, len(inputs.features), AT_ONCE):
            asked = inputs.features.iloc[first : first + AT_ONCE]
            more = further(model, asked, inputs.volumes, firm) if wanted else []
            for each, added in zip_longest(answer(model, asked, inputs.volumes, firm), more):
                line = quote_json(each) | (added.as_json() if added else {})
                line["findings"] = [*line["findings"], *notes]
                yield {"quote_id": kept(book, line, requests, name), **line} if keep else line

    gc.disable()  # nothing made here goes in circles; looking for what does takes a quarter of the time
    refused = [{"firm_id": r.firm_id, "job_id": r.job_id, "refused": r.reason} for r in requests.refused]
    text.quoted(quotes(), refused, as_json)


def _model(book: Book) -> tuple[QuoteModel, str, tuple[Finding, ...]]:
    """The model to quote by, its name, and what is to be said of its age; of an empty book the rule of the trade."""
    from models.quote.model.storage import load_quote
    from pipeline.store.book import model_age

    if book.is_empty():
        from models.quote.without_records import model_without_records

        return model_without_records(), "typical rule", ()
    build = book.current()
    folder = book.fitted_models(build)
    if folder is None:
        raise BookError(f"No model is fitted for this book yet; run `sludgebook train --book {book.path}` first.")
    return load_quote(folder), folder.name, model_age(folder, build)
