import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, watch_parts
from models.refusals import Refusal
from pipeline.findings import SludgebookError

st.title("Is the catch levelling off?", anchor=False)
source = st.segmented_control(
    "Job", ["From the book", "By hand"], default="From the book", key="watch_source", required=True, width="stretch",
    label_visibility="collapsed",
)  # fmt: skip
top = st.container()
try:
    if source == "By hand":
        job = watch_parts.job_by_hand()
    else:
        build = frame.open_build("the catch of a job as it grows, what is left, and when it levels off")
        job = watch_parts.job_from_book(data.job_list(build), build)
    at = watch_parts.moment(job)
    with st.spinner("Reading the curve"):
        watch = data.watch(job, at)
except (Refusal, SludgebookError) as problem:
    frame.instead(str(problem))
    st.stop()

with top if source == "By hand" else st.container():  # on site the answer stays above the entry form
    watch_parts.draw_answer(watch)
watch_parts.draw_house(job, watch)
watch_parts.draw_emitters(job, watch)
watch_parts.draw_hour(watch)
watch_parts.draw_basis(job, watch)
