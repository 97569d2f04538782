import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, intake_parts
from pipeline.findings import SludgebookError

st.title("What was accepted, and why not the rest?", anchor=False)
shelf = data.shelf()
if shelf.state in ("not_named", "broken"):
    frame.instead(shelf.sentence)
    st.stop()

standing = st.container()
files = st.file_uploader(
    "Job logs: files named as their tables (`jobs.csv`, `catches.csv`), or one workbook with a sheet a table",
    type=["csv", "xlsx", "parquet"], accept_multiple_files=True, key="intake_files",
)  # fmt: skip
if st.button("Hand them in", type="primary", key="intake_load", disabled=not files, icon=":material/move_to_inbox:"):
    st.session_state.pop("intake_report", None)
    try:
        with st.spinner("Checking every row and building the book anew"):
            st.session_state["intake_report"] = data.load_files([(file.name, file.getvalue()) for file in files])
    except SludgebookError as problem:
        frame.instead(str(problem), "Nothing was received; the book is as it was.")

with standing:
    shelf = data.shelf()
    intake_parts.draw_standing(shelf)
report = st.session_state.get("intake_report")
if report is not None:
    intake_parts.draw_report(report)
elif shelf.state == "ready":
    intake_parts.draw_history(shelf.build)
intake_parts.draw_templates()
