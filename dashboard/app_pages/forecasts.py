import streamlit as st

from dashboard import data, wording
from dashboard.app_parts import forecast_parts, frame, learning
from models.refusals import Refusal
from pipeline.findings import SludgebookError

st.title("How far can the forecasts be trusted?", anchor=False)
build = frame.open_build("how often past forecasts held what they promised, beside the simplest rules")
if not learning.is_learnt(build, "forecasts_learn"):
    st.stop()
try:
    test = data.backtest(build)
except (Refusal, SludgebookError) as problem:
    frame.instead(str(problem))
    st.stop()
if not test.targets:
    frame.instead("No forecast has been tested yet.", " ".join(finding.sentence for finding in test.findings))
    st.stop()

first = test.targets.get("magnetite_kg") or next(iter(test.targets.values()))
frame.answer(
    f"Of {wording.count(first.jobs, 'past job')} the outcome fell in the 8-in-10 range "
    f"{wording.share(first.coverage.share_80)} of the time, for {wording.TARGETS[first.target].lower()}.",
    forecast_parts.beside_peers(first),
)
frame.notes(test.findings)
forecast_parts.draw_target(test)
forecast_parts.draw_all(test)
forecast_parts.draw_basis(test, data.holdings(build))
