import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, watch_parts
from dashboard.app_parts.on_site import today
from models.refusals import Refusal
from pipeline.contract.findings import SludgebookError

st.title("Is the catch levelling off?", anchor=False)
if watch_parts.is_today():
    today.draw_today()
    st.stop()

build = frame.open_build("the catch of a job as it grows, what is left, and when it levels off")
try:
    job = watch_parts.job_from_book(data.job_list(build), build)
    at = watch_parts.moment(job)
    with st.spinner("Reading the curve"):
        watch = data.watch(job, at)
except (Refusal, SludgebookError) as problem:
    frame.instead(str(problem))
    st.stop()

watch_parts.draw_answer(watch)
watch_parts.draw_house(job, watch, data.of_job(build, "readings", job.firm_id, job.job_id))
watch_parts.draw_emitters(job, watch)
watch_parts.draw_hour(watch)
watch_parts.draw_basis(job, watch)
