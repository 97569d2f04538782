import streamlit as st

from dashboard import data, survey
from dashboard.app_parts import frame, learning, paper_parts
from dashboard.app_parts.quote import option_parts, quote_parts, what_if
from dashboard.app_parts.quote.survey_form import survey_form
from models.refusals import Refusal
from pipeline.contract.findings import SludgebookError

st.title("What will this job give, take and cost?", anchor=False)
build = frame.open_build_if_any("the kilograms, hours and price to expect of a job that is only surveyed")

quote = st.session_state.get("price_quote")
top, below = frame.from_the_top(2, is_new=st.session_state.pop("price_just_asked", False))
with top:
    if refused := st.session_state.pop("price_refused", ""):
        frame.instead(refused)
    elif quote is not None:
        quote_parts.draw_answer(quote)
    elif build:  # a choice within an expression would be printed by the library
        quote_parts.draw_usual(data.job_list(build))
    else:
        quote_parts.draw_no_records()

with below:
    survey_is = ("Survey", "price_survey") if quote is None else ("Change the survey", "price_survey_again")
    with st.expander(survey_is[0], expanded=quote is None, key=survey_is[1]):
        with st.container(width=680):
            handed_in, asked, on = survey_form(data.firms(build), data.usual_firm())
        if learning.is_learnt(build, "price_learn") and handed_in:
            for kept in ("price_quote", "price_further"):
                st.session_state.pop(kept, None)
            try:
                with st.spinner("Working out the quote"):
                    tables = survey.tables(asked, on)
                    st.session_state["price_asked"] = tables
                    st.session_state["price_quote"] = data.quote(build, *tables)
                    st.session_state["price_further"] = data.further(build, *tables)
            except (Refusal, SludgebookError) as refusal:
                st.session_state["price_refused"] = str(refusal)
            st.session_state["price_just_asked"] = True
            st.rerun()  # the answer above, the survey folded away below it
    if quote is None:
        st.stop()
    quote_parts.draw_price(quote)
    option_parts.draw_options(quote, st.session_state["price_further"])
    paper_parts.draw_quote_papers(quote, st.session_state["price_asked"])
    paper_parts.draw_keep(build, quote, st.session_state["price_asked"], st.session_state["price_further"])
    quote_parts.draw_reasons(quote)
    what_if.draw_further(quote, st.session_state["price_further"])
    quote_parts.draw_nearest(quote)
    quote_parts.draw_water(quote)
    quote_parts.draw_basis(quote)
