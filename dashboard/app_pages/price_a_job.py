import streamlit as st

from dashboard import data, survey
from dashboard.app_parts import frame, learning, quote_parts
from dashboard.app_parts.survey_form import survey_form
from models.refusals import Refusal
from pipeline.findings import SludgebookError

st.title("What will this job give, take and cost?", anchor=False)
build = frame.open_build("the kilograms, hours and price to expect of a job that is only surveyed")

top = st.container()
left, right = st.columns([2, 3], gap="large")
with left:
    handed_in, asked, on = survey_form()

with right:
    if learning.is_learnt(build, "price_learn") and handed_in:
        st.session_state.pop("price_quote", None)
        try:
            with st.spinner("Working out the quote"):
                st.session_state["price_quote"] = data.quote(build, *survey.tables(asked, on))
        except (Refusal, SludgebookError) as problem:
            frame.instead(str(problem))
    quote = st.session_state.get("price_quote")
    if quote is None:
        with top:
            quote_parts.draw_usual(data.job_list(build))
        st.stop()
    quote_parts.draw_answer(quote)

quote_parts.draw_price(quote)
quote_parts.draw_reasons(quote)
quote_parts.draw_nearest(quote)
quote_parts.draw_water(quote)
quote_parts.draw_basis(quote)
