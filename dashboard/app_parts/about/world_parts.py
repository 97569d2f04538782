"""Part of "About the data": the simulated world with live pictures, run only when someone asks for it."""

from __future__ import annotations

import streamlit as st

from dashboard import simulator
from dashboard.app_parts import frame
from dashboard.figures.simulator import simulated_firm, simulated_world
from dashboard.words import wording

ONE_JOB, WHOLE_FIRM = "One job", "A firm's jobs"
MECHANISM = (
    "1. A house is drawn, with emitters, pipes and a heat source. Oxygen comes in over the years and turns steel into "
    "magnetite; it settles where the flow is slow, and part of it bakes on.\n"
    "2. Flows follow from pump, hoses, pipes and what is open; heat goes from the source into water, steel and rooms.\n"
    "3. Minute by minute, warmth and chemical loosen what is baked on, flow lifts what is loose, and magnet, strainer "
    "and rinse take it out, or it settles again. No gram is lost on the way.\n"
    "4. The crew does more where it looks worse, cleans the magnet, moves on when little comes, and stops.\n"
    "5. What is left goes on moving, and some customers call back, for debris or for something else."
)
ASSUMED = (
    "Nearly every number in this world is an assumption, chosen so that jobs look plausible to the trade. It is no "
    "evidence of what a real system holds, gives or keeps."
)


def draw_world() -> None:
    """The mechanism in five sentences, then one job or a whole firm of a chosen world."""
    st.header("How the simulated world works", anchor=False)
    st.markdown(MECHANISM)
    st.markdown(f"**{ASSUMED}** Its document, with every number and its source, is `synthetic_data/README.md`.")
    shown = st.segmented_control(
        "Simulate now and look inside", [ONE_JOB, WHOLE_FIRM], key="world_show", bind="query-params"
    )
    if shown is None:
        return
    worlds = simulator.worlds()
    left, right = st.columns(2)
    name = left.selectbox("World", list(worlds), key="world_scenario", format_func=wording.plain, bind="query-params")
    world = worlds[name or next(iter(worlds))]
    left.markdown(f":small[:gray[{world.meaning}.]]")
    if shown == ONE_JOB:
        words = f"1 to {world.jobs:,}, in order of date"
        number = right.number_input("Job", 1, world.jobs, key="world_job", help=words, bind="query-params")
        draw_job(world.name, int(number))
    else:
        draw_firm(world.name)


def draw_job(scenario: str, number: int) -> None:
    """One job from its plan to what it left, with what no crew can see."""
    with st.spinner("Flushing this job"):
        job = simulator.job(scenario, number)
    look = frame.current_look()
    st.subheader(
        f"{wording.kilograms(job.out_kg)} of {wording.kilograms(job.before_kg)} taken out in "
        f"{wording.duration(job.flush_minutes)}, {wording.kilograms(job.left_kg)} left.",
        anchor=False,
    )
    frame.small(" ".join(job.house))
    st.markdown("\n".join(f"- {sentence}" for sentence in job.plan))
    frame.chart(
        simulated_world.pools_figure(job.emitters, look),
        key="world_pools",
        file_name="pools.csv",
        alt=simulated_world.pools_alt(job.emitters),
        rows=simulated_world.pools_rows(job.emitters),
    )
    frame.chart(
        simulated_world.minutes_figure(job.minutes, look),
        key="world_minutes",
        file_name="minutes.csv",
        alt=simulated_world.minutes_alt(job.minutes),
        rows=simulated_world.minutes_rows(job.minutes),
    )
    frame.small(
        "Each emitter through the job: baked on in full colour, loose above it paler; blue while it alone has the flow."
    )
    frame.chart(
        simulated_world.emitters_figure(job.pools, look),
        key="world_emitters",
        file_name="emitters.csv",
        alt=simulated_world.emitters_alt(job.pools),
        rows=simulated_world.emitters_rows(job.pools),
    )
    with st.expander(f"What happened, {wording.count(len(job.events), 'event')}", key="world_events", type="compact"):
        events = job.events.rename(columns={"minute": "Flush time [min]", "clock": "Time of day", "event": "Event"})
        frame.table(events, key="world_events", file_name="events.csv", alt="Events of the simulated job in order")


def draw_firm(scenario: str) -> None:
    """Distributions over the jobs of a world."""
    with st.spinner(f"Simulating up to {simulator.FIRM_JOBS} jobs to their last callback"):
        firm = simulator.firm(scenario)
    look, middle = frame.current_look(), firm.jobs[["caught_kg", "left_kg", "flush_minutes"]].median()
    st.subheader(
        f"The middle one of {wording.count(len(firm.jobs), 'job')}: {wording.kilograms(middle['caught_kg'])} caught, "
        f"{wording.kilograms(middle['left_kg'])} left, {wording.duration(middle['flush_minutes'])} of flushing.",
        anchor=False,
    )
    frame.chart(
        simulated_firm.jobs_figure(firm.jobs, look),
        key="world_jobs",
        file_name="jobs.csv",
        alt=simulated_firm.jobs_alt(firm.jobs),
        rows=simulated_firm.jobs_rows(firm.jobs),
    )
    st.markdown(
        "The worse it looks, the more is done, so raw averages make good practice look poor. "
        "Jobs in thirds by looks: open circle good, diamond middling, full circle bad."
    )
    frame.chart(
        simulated_firm.practices_figure(firm.practices, look),
        key="world_practices",
        file_name="practices.csv",
        alt=simulated_firm.practices_alt(firm.practices),
        rows=simulated_firm.practices_rows(firm.practices),
    )
    if not len(firm.callbacks):
        frame.instead("None of these jobs was called back within a year.", "Few of them were followed for so long.")
        return
    st.markdown("Who called back within a year, and for what first: debris orange, everything else grey.")
    frame.chart(
        simulated_firm.callbacks_figure(firm.callbacks, look),
        key="world_callbacks",
        file_name="callbacks.csv",
        alt=simulated_firm.callbacks_alt(firm.callbacks),
        rows=simulated_firm.callbacks_rows(firm.callbacks),
    )
