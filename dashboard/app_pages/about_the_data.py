import streamlit as st

from dashboard import data, tallies
from dashboard.app_parts import frame
from dashboard.app_parts.about import about_parts, world_parts
from dashboard.figures import about_the_data as figures
from dashboard.kept import kept, made
from dashboard.words import wording

st.title("Where do these records come from?", anchor=False)
build = frame.open_build("who handed in what and when, and what each column means")

held = data.holdings(build)
frame.answer(
    f"{wording.count(held.jobs, 'job').capitalize()} with {wording.count(held.catches, 'weighing')}, visits "
    f"{wording.window(held.first_visit, held.last_visit)}.",
    f"{about_parts.simulated_share(held)} Everything is kept on this machine; the book holds no names or addresses.",
)
by_month = kept(("visits", build), lambda: tallies.visits_by_month(data.table(build, "jobs")))
frame.chart(
    made(figures.visits_figure, by_month, frame.current_look()),
    key="about_visits",
    alt=made(figures.visits_alt, by_month),
    rows=by_month,
    file_name="visits.csv",
)
st.header("What was handed in", anchor=False)
ledger = kept(("ledger", build), lambda: tallies.ledger_in_words(data.table(build, "ledger")))
frame.table(ledger, key="about_ledger", file_name="ledger.csv", alt="Rows by batch, file and table")
about_parts.draw_known(build)
if held.simulated_jobs:
    about_parts.draw_simulator()
    world_parts.draw_world()
about_parts.draw_glossary()
