"""What pages share: tables that are saved as CSV."""

from __future__ import annotations

import pandas as pd

from dashboard.app_parts.frame import csv_bytes


def test_text_that_a_spreadsheet_would_run_is_escaped_and_numbers_are_not() -> None:
    rows = pd.DataFrame({"Job": ["=1+1", "@sum", "J-7", None], "Left [%]": [-3.5, 2.0, None, 1.0]})

    assert csv_bytes(rows).decode().splitlines() == ["Job,Left [%]", "'=1+1,-3.5", "'@sum,2.0", "J-7,", ",1.0"]
