import streamlit as st

from dashboard import data
from dashboard.app_parts import audit_basis, audit_one, audit_parts, frame, paper_parts
from models.refusals import Refusal

st.title("Which practices really cut callbacks?", anchor=False)
build = frame.open_build("what each practice does to callbacks, adjusted for the systems it was used on")
scope = audit_parts.draw_scope(data.job_list(build))
try:
    audit = data.audit(build, scope)
except Refusal as refusal:
    audit_parts.draw_refusal(str(refusal), scope)
    st.stop()

audit_parts.draw_answer(audit)
audit_parts.draw_effects(audit)

st.header("One practice in depth", anchor=False)
chosen = audit_one.choose(audit)
if chosen is not None:
    audit_one.draw(audit, chosen)

audit_basis.draw_flushing(data.release_effects(), audit.risk_per_kg)
audit_parts.draw_pool(audit)
audit_basis.draw_engineers(audit)
audit_basis.draw_basis(audit)
with st.container(horizontal=True):
    paper_parts.draw_audit_paper(audit)
    audit_parts.draw_numbers(audit)
