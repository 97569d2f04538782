import streamlit as st

from dashboard import data, survey, tallies, wording
from dashboard.app_parts import frame, learning, quote_parts
from dashboard.app_parts.survey_form import survey_form
from models.refusals import Refusal
from pipeline.findings import SludgebookError

st.title("What will this job give, take and cost?", anchor=False)
build = frame.open_build("the kilograms, hours and price to expect of a job that is only surveyed")

left, right = st.columns([2, 3], gap="large")
with left:
    handed_in, asked, on = survey_form()

with right:
    if handed_in and data.is_trained(build):
        st.session_state.pop("price_quote", None)
        try:
            with st.spinner("Working out the quote"):
                st.session_state["price_quote"] = data.quote(build, *survey.tables(asked, on))
        except (Refusal, SludgebookError) as problem:
            frame.instead(str(problem))
    if not data.is_trained(build):
        learning.offer_training(build, "price_learn")
    quote = st.session_state.get("price_quote")
    if quote is None:
        usual = tallies.usual_of(data.job_list(build))
        frame.answer(
            f"A usual job in this book gives {wording.kilograms_range(usual.magnetite_kg)} of magnetite and takes "
            f"{wording.duration_range(usual.site_minutes)} on site.",
            f"Middle of {wording.count(usual.jobs, 'finished job')}; 8 in 10 lie in the range in brackets. "
            "Fill in what the survey showed and price this one: only the kind of system is needed.",
        )
        st.stop()
    quote_parts.draw_answer(quote)

quote_parts.draw_price(quote)
quote_parts.draw_reasons(quote)
quote_parts.draw_nearest(quote)
quote_parts.draw_water(quote)
quote_parts.draw_basis(quote)
