import streamlit as st

from dashboard import data
from dashboard.app_parts import forecast_parts, frame, learning
from dashboard.kept import made
from dashboard.words import forecast_words
from dashboard.words.literal import literal
from models.refusals import Refusal
from pipeline.contract.findings import SludgebookError

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
    frame.instead("No forecast has been tested yet.", " ".join(literal(finding.sentence) for finding in test.findings))
    st.stop()

drift = data.drift(build)
frame.answer(made(forecast_words.answer, test), forecast_parts.tested_on(test))
frame.notes(test.findings)
forecast_parts.draw_acted_on(test)
scores = forecast_parts.pick_target(test)
forecast_parts.draw_promise(scores)
forecast_parts.draw_error(scores)
forecast_parts.draw_periods(scores)
forecast_parts.draw_newest(scores, drift.get(scores.target))
forecast_parts.draw_all(test, drift)
forecast_parts.draw_basis(test, data.holdings(build))
