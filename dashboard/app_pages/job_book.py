import streamlit as st

from dashboard import data, wording
from dashboard.app_parts import book_parts, frame, paper_parts
from dashboard.figures import curves as many
from dashboard.figures import job_book as figures
from dashboard.filters import draw_filters
from models.refusals import NotEnoughData

st.title("What did past jobs give?", anchor=False)
build = frame.open_build("every job with its debris curve, beside the band of similar jobs")

jobs = data.job_list(build)
filters = draw_filters(jobs)
kept = jobs[filters.mask(jobs)]
if kept.empty:
    frame.instead("No job fits these choices.", "Take one of them off.")
    st.stop()
book_parts.draw_usual(kept, filters.left_out(jobs))

place = st.selectbox(
    "Job", range(len(kept)), format_func=lambda place: book_parts.job_label(kept, place), key="book_job",
    filter_mode="contains",
)  # fmt: skip
job = kept.iloc[place or 0]
curves = data.curves_of(build, kept.head(book_parts.CURVES_DRAWN))
try:
    band = many.catch_band(data.curves_of(build, kept[many.similar_mask(kept, job)]))
    beside = f"The band holds 8 in 10 of {wording.count(band.jobs, 'similar job')}: same system, emitters within 3."
except NotEnoughData as refusal:
    band, beside = None, f"No band is drawn. {refusal}"
frame.chart(
    figures.curves_figure(curves, band, (job["firm_id"], job["job_id"]), frame.current_look()),
    key="book_curves",
    alt=figures.curves_alt(min(len(kept), book_parts.CURVES_DRAWN), band, job["job_id"], job["magnetite_kg"]),
    rows=book_parts.browse_rows(kept),
    file_name="jobs.csv",
)
frame.small(f"{book_parts.drawn(len(kept))} {beside}")
book_parts.draw_story(build, job)
if data.of_job(build, "ftr_catch_curve", job["firm_id"], job["job_id"]).shape[0]:
    paper_parts.draw_job_paper(build, job["firm_id"], job["job_id"], "book_report")
