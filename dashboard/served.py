"""The dashboard as a server: a doorkeeper before the pages, a log of what goes wrong behind them.

`sludgebook serve` runs this file; the pages themselves are in `app.py`.
"""

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from dashboard import doors, faults

app = st.App(
    Path(__file__).with_name("app.py"), middleware=[Middleware(doors.OwnPagesOnly)], on_script_error=faults.tell
)
