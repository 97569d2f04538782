import streamlit as st

from dashboard import data
from dashboard.app_parts import frame, paper_parts, waiting
from dashboard.app_parts.audit import audit_basis, audit_firm, audit_one, audit_parts
from models.refusals import Refusal
from pipeline.contract.findings import SludgebookError

st.title("Which practices really cut callbacks?", anchor=False)
build = frame.open_build("what each practice does to callbacks, adjusted for the systems it was used on")
scope = audit_parts.draw_scope(data.job_list(build))
try:
    audit = data.audit(build, scope, audit_parts.working(audit_parts.COMPARING))
except data.NotYet as pending:
    waiting.wait_for(pending, audit_parts.COMPARING)
    st.stop()
except Refusal as refusal:
    audit_parts.draw_refusal(str(refusal), scope)
    st.stop()
except SludgebookError as problem:
    frame.instead(problem.sentence)
    st.stop()

audit_parts.draw_answer(audit)
audit_parts.draw_effects(audit)

st.header("One practice in depth", anchor=False)
chosen = audit_one.choose(audit)
if chosen is not None:
    audit_one.draw(audit, chosen)

within = data.release_effects()
audit_basis.draw_flushing(within, audit.risk_per_kg)
view = audit_firm.draw(build, scope, audit)
audit_basis.draw_engineers(audit)
audit_basis.draw_basis(audit)
with st.container(horizontal=True):
    paper_parts.draw_audit_paper(audit, view)
    audit_parts.draw_numbers(audit, view, within)
