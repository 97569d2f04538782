"""`sludgebook quote`: the quotes of one request or ten thousand, a JSON line each. It starts at once."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from dashboard.cli import printing as text
from dashboard.cli.open_book import book_at


def quote(
    request: Path, path: Path, as_json: bool | None, with_further: bool | None = None, *, keep: bool = False
) -> None:
    """Print the quotes of a request, and a line for each job that cannot be quoted.

    `with_further` adds other plans and the worth of a water sample; None: only where the requests are few. `keep`
    puts each quote into the book and its `quote_id` on its line.
    """
    book = book_at(path)
    gc.disable()  # nothing made from here on goes in circles; looking for what does takes up to a quarter of the time
    from dashboard.services import kept_quotes, quoting
    from dashboard.services.settings import settings
    from pipeline.quotes.requests import read_requests, request_features
    from pipeline.store.simulated import jobs_held

    requests = read_requests(request)
    firm = settings(book)
    asked = request_features(requests, firm)
    by = quoting.forecaster(book)
    held = jobs_held(book)

    def lines() -> Iterator[dict[str, Any]]:
        for answer in quoting.quotes(asked, by, firm, with_further=with_further):
            line = held.beside(answer.as_json())
            yield {"quote_id": kept_quotes.keep(book, answer, requests, by.name, firm), **line} if keep else line

    refused = [held.beside({"firm_id": r.firm_id, "job_id": r.job_id, "refused": r.reason}) for r in requests.refused]
    text.quoted(lines(), refused, as_json)
