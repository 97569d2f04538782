import streamlit as st

from dashboard import data
from dashboard.app_parts import frame
from dashboard.app_parts.quote import quoted_parts
from models.refusals import Refusal

st.title("Do our prices hold?", anchor=False)
build = frame.open_build("what was quoted beside what the jobs took and cost")

firm = data.firm()
try:
    record = data.track_record(build)
except Refusal as refusal:
    frame.instead(
        str(refusal), "Keep quotes on **Price a job**, or hand in `quoted_price` and `quoted_minutes` with the jobs."
    )
else:
    quoted_parts.draw_answer(record, firm)
    quoted_parts.draw_groups(record, firm)
    quoted_parts.draw_every_job(record)
quoted_parts.draw_kept()
