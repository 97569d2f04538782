"""Router: the list of pages and the frame around them. To add a page: a file in app_pages, a line here."""

import streamlit as st

from dashboard import theme
from dashboard.app_parts import frame

st.set_page_config(page_icon=theme.MARK, layout="wide")
frame.brand()
price = st.Page(
    "app_pages/price_a_job.py", title="Price a job", icon=":material/request_quote:", url_path="price-a-job"
)


def start() -> None:
    """The bare address: the default page has no path of its own, so it leads on to the one that has."""
    st.switch_page(price)


page = st.navigation(
    {
        "Jobs": [
            st.Page(start, title="Price a job", default=True, visibility="hidden"),
            price,
            st.Page(
                "app_pages/watch_the_catch.py",
                title="Watch the catch",
                icon=":material/scale:",
                url_path="watch-the-catch",
            ),
            st.Page(
                "app_pages/quoted_and_done.py",
                title="Quoted and done",
                icon=":material/balance:",
                url_path="quoted-and-done",
            ),
            st.Page("app_pages/job_book.py", title="Job book", icon=":material/menu_book:", url_path="job-book"),
        ],
        "Records": [
            st.Page("app_pages/intake.py", title="Intake", icon=":material/move_to_inbox:", url_path="intake"),
            st.Page(
                "app_pages/forecasts.py",
                title="How good are the forecasts",
                icon=":material/fact_check:",
                url_path="forecasts",
            ),
            st.Page(
                "app_pages/practice_audit.py", title="Practice audit", icon=":material/rule:", url_path="practice-audit"
            ),
            st.Page(
                "app_pages/about_the_data.py",
                title="About the data",
                icon=":material/database:",
                url_path="about-the-data",
            ),
        ],
    }
)
st.set_page_config(page_title=f"{page.title} · Sludgebook")
with frame.sheet():
    frame.banner()
    page.run()
