import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, paper_parts
from dashboard.app_parts.book import after_parts, book_curves, book_parts
from dashboard.filters import draw_filters

st.title("What did past jobs give?", anchor=False)
build = frame.open_build("every job with its debris curve, beside the band of similar jobs")

jobs = data.job_list(build)
filters = draw_filters(jobs)
kept = jobs[filters.mask(jobs)]
if kept.empty:
    frame.instead("No job fits these choices.", "Take one of them off.")
    st.stop()
book_parts.draw_usual(kept, filters.left_out(jobs))

grouping, is_share = book_curves.draw_choices()
job = book_parts.choose_job(kept)
if grouping is None:
    book_curves.draw_overlay(build, kept, job, is_share=is_share)
else:
    book_curves.draw_panels(build, kept, job, grouping, is_share=is_share)
book_parts.draw_story(build, job)
after_parts.draw_after(job)
if data.of_job(build, "ftr_catch_curve", job["firm_id"], job["job_id"]).shape[0]:
    paper_parts.draw_job_paper(build, job["firm_id"], job["job_id"], "book_report")
