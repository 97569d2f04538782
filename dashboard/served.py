"""The dashboard as a server: a doorkeeper before the pages, the phone's page beside them, a log of what goes wrong.

`sludgebook serve` runs this file; the pages themselves are in `app.py`.
"""

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from dashboard import doors, faults
from dashboard.phone.routes import ROUTES

app = st.App(
    Path(__file__).with_name("app.py"),
    routes=ROUTES,
    middleware=[Middleware(doors.OwnPagesOnly)],
    on_script_error=faults.tell,
)
