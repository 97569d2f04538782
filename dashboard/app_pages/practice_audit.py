import streamlit as st

from dashboard import data, wording
from dashboard.app_parts import audit_parts, frame, paper_parts
from models.practice.records import Scope
from models.refusals import Refusal

st.title("Which practices cut callbacks?", anchor=False)
build = frame.open_build("what each practice does to callbacks, adjusted for the systems it was used on")

jobs = data.job_list(build)
firms = sorted(jobs["firm_id"].dropna().unique())
years = sorted(jobs["visit_date"].dropna().dt.year.unique())
with st.expander("Which jobs", key="audit_scope"):
    system = st.selectbox("Kind of system", ["", "sealed", "open_vented"], key="audit_system",
                          format_func=lambda kind: wording.plain(kind) if kind else "both")  # fmt: skip
    firm = st.selectbox("Firm", ["", *firms], key="audit_firm", format_func=lambda name: name or "all")
    since = st.selectbox("Visits from", years, key="audit_since")
scope = Scope(
    firms=(firm,) if firm else (),
    first=jobs["visit_date"].min().date().replace(year=int(since), month=1, day=1) if len(years) else None,
    system_type=system or "",
)
try:
    audit = data.audit(build, scope)
except Refusal as refusal:
    frame.instead(str(refusal), "Hand in `callbacks` and `followed_until` with the jobs: that is what is learnt from.")
    st.stop()

audit_parts.draw_answer(audit)
audit_parts.draw_effects(audit)
st.header("One practice", anchor=False)
chosen = st.selectbox(
    "Practice", [each.contrast for each in audit.practices], key="audit_practice",
    format_func=lambda contrast: audit.practice(contrast).label,
)  # fmt: skip
if chosen:
    audit_parts.draw_practice(audit, audit.practice(chosen))
audit_parts.draw_engineers(audit)
audit_parts.draw_basis(audit)
paper_parts.draw_audit_paper(audit)
