import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.intake import intake_mapping, intake_parts

st.title("What was accepted, and why not the rest?", anchor=False)
shelf = data.shelf()
if shelf.state in ("not_named", "broken"):
    frame.instead(shelf.sentence)
    st.stop()

standing = st.container()
files = st.file_uploader(
    "Job logs as they are: tables, workbooks, ZIP archives, with the job log's headings or your own",
    type=list(intake_parts.KINDS),
    accept_multiple_files=True,
    key="intake_files",
    on_change=intake_parts.forget,
)
given = [(file.name, file.getvalue()) for file in files]
sheet = st.session_state.get("intake_sheet")
if st.button(
    "Hand them in",
    type="secondary" if sheet else "primary",
    key="intake_load",
    disabled=not files,
    icon=":material/move_to_inbox:",
):
    intake_parts.hand_in(given)
    st.rerun()
if refusal := st.session_state.get("intake_refusal"):
    remedy = " Say below what your headings mean, and it can be." if sheet else ""
    frame.instead(refusal, f"Nothing was received; the book is as it was.{remedy}")

if sheet is not None:
    line = intake_mapping.told_heading_line()
    sheet = intake_parts.sheet_headed(given, line) or sheet
    mapping = intake_mapping.draw_mapping(sheet)
    if mapping is not None:
        intake_parts.hand_in(given, mapping)
        st.rerun()

with standing:
    shelf = data.shelf()
    intake_parts.draw_standing(shelf)
report = st.session_state.get("intake_report")
if report is not None:
    intake_parts.draw_report(report, str(data.book().current()))
elif shelf.build:
    intake_parts.draw_history(shelf.build)
intake_parts.draw_templates()
