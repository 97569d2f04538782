"""Entering on site with one thumb: four large buttons within its reach, one short form at a time."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard.app_parts import frame
from dashboard.app_parts.on_site.saving import OPEN, SAID, draw_said, is_double_tap, save
from dashboard.words.entry_words import SHORT, UNITS, in_words, place
from dashboard.words.literal import literal
from pipeline.contract import JOB_LOG

if TYPE_CHECKING:
    from dashboard.data import SiteEvent, SiteJob

GRAMS, EMITTER, TRAP, WEIGHED, AGO = "site_grams", "site_emitter", "site_trap", "site_weighed", "site_ago"
STICKS, OTHER_TRAPS = "site_sticks", ("strainer", "machine_base")
STEPS_G = (10, 50, 100)
MOST_G = 20_000.0
TRAPS = {"magnet": "Magnet", "strainer": "Strainer", "machine_base": "Machine base"}
_STYLE = """<style>
.st-key-site_bar [data-testid="stHorizontalBlock"], .st-key-site_form [data-testid="stHorizontalBlock"] {{
  flex-wrap: nowrap; gap: 8px; }}
.st-key-site_form .st-key-site_emitters {{ flex-wrap: wrap; }}
.st-key-site_bar [data-testid="stColumn"], .st-key-site_form [data-testid="stColumn"] {{ min-width: 0; flex: 1 1 0; }}
.st-key-site_bar button, .st-key-site_form .stButton button, .st-key-site_form .stButtonGroup button {{
  min-height: 52px; min-width: 48px; }}
.st-key-site_form > :has(> .st-key-site_save) {{ position: sticky; bottom: 0; z-index: 1; background: {page}; }}
.st-key-site_bar button p {{ font-weight: 600; white-space: nowrap; }}
.st-key-site_form [data-testid="stNumberInputContainer"] input {{ font-size: 1.25rem; }}
@media (max-width: 640px) {{
  .st-key-site_bar, .st-key-site_form {{ position: fixed; left: 0; right: 0; bottom: 0; z-index: 90; width: auto;
    background: {page}; border: 0; border-top: 1px solid {grid}; border-radius: 0; padding: 10px 12px 12px;
    gap: 8px; max-height: 82vh; overflow-y: auto; flex-wrap: nowrap; }}
  .st-key-site_form > :has(> .st-key-site_save) {{ bottom: -12px; padding-bottom: 12px; margin-bottom: -12px; }}
  [data-testid="stMainBlockContainer"] {{ padding-bottom: 280px; }}
}}
</style>"""
"""On a phone the buttons, and the form that one of them opens, stay at the lower edge of the screen."""
WHOLE = 0
"""Stands for the whole system among the numbers of emitters."""
LABELS = {
    "flow_l_min": "Flow",
    "pressure_bar": "Pressure",
    "flow_temp_c": "Flow temperature",
    "return_temp_c": "Return temperature",
    "turbidity_ntu": "Turbidity",
    "conductivity_us_cm": "Conductivity",
    "ph": "pH",
}


def draw_entry(job: SiteJob) -> None:
    """The four buttons, or the form that one of them opened; what became of the last entry stands with them."""
    look = frame.current_look()
    st.html(_STYLE.format(page=look.page, grid=look.grid))
    forms = {"catch": _catch_form, "reading": _reading_form, "focus": _focus_form}
    form = forms.get(st.session_state.get(OPEN) or "")
    if form is None:
        _draw_bar(job)
        return
    with st.container(border=True, key="site_form"):
        frame.small(f"**{literal(job.name)}**")
        draw_said()
        form(job)


def _draw_bar(job: SiteJob) -> None:
    with st.container(key="site_bar"):
        draw_said()
        left, right = st.columns(2, gap="small")
        _opens(left, "Weigh a catch", "catch", ":material/scale:", job.focus)
        _opens(right, "Note a reading", "reading", ":material/speed:", job.focus)
        left, right = st.columns(2, gap="small")
        _opens(left, "Change emitter", "focus", ":material/swap_horiz:", job.focus)
        last = job.last_to_take_back
        right.button(
            "Undo",
            key="site_undo",
            icon=":material/undo:",
            width="stretch",
            disabled=last is None,
            help=None if last is None else f"Takes back: {literal(in_words(last))}",
            on_click=_undo,
            args=(job.name, last),
        )


def _opens(column: Any, label: str, form: str, icon: str, focus: int | None) -> None:
    is_main = form == "catch"
    column.button(
        label,
        key=f"site_open_{form}",
        icon=icon,
        width="stretch",
        type="primary" if is_main else "secondary",
        on_click=_open,
        args=(form, focus),
    )


def _open(form: str, focus: int | None) -> None:
    st.session_state[OPEN] = form
    st.session_state[EMITTER] = focus or WHOLE
    st.session_state.pop(SAID, None)


def _undo(name: str, last: SiteEvent | None) -> None:
    """Take the newest entry back, and say which it was."""
    if last is not None and not is_double_tap("undo"):
        save(name, "undo", {"undoes": last.entry_id}, words=f"taken back: {in_words(last)}")


def _catch_form(job: SiteJob) -> None:
    st.number_input("Mass [g]", 0.0, MOST_G, None, 10.0, key=GRAMS, format="%g", placeholder="–")
    with st.container(horizontal=True, gap="small"):
        for step in STEPS_G:
            st.button(f"+{step}", key=f"site_plus_{step}", width="stretch", on_click=_add, args=(step,))
        st.button("0", key="site_clear", width="stretch", on_click=_clear)
    _emitter_choice(job)
    st.pills("Where from", list(TRAPS), default="magnet", key=TRAP, format_func=TRAPS.__getitem__, required=True)
    with st.expander("Dry, or a while ago", key="site_aside"):
        st.segmented_control("Weighed", ["wet", "dry"], default="wet", key=WEIGHED, required=True)
        if st.session_state.get(TRAP) in OTHER_TRAPS:
            st.segmented_control("Most of it sticks to a magnet", ["yes", "no"], key=STICKS)
        _ago()
    _save_button("Save this catch", "site_save_catch", partial(_save_catch, job.name))


def _add(step: int) -> None:
    st.session_state[GRAMS] = min(MOST_G, (st.session_state.get(GRAMS) or 0.0) + step)


def _clear() -> None:
    st.session_state[GRAMS] = None


def _emitter_choice(job: SiteJob) -> None:
    st.selectbox(
        "Flow was on",
        [WHOLE, *job.emitter_numbers],
        key=EMITTER,
        filter_mode=None,
        format_func=lambda number: _capital(place(number or None, job.room(number))),
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _ago() -> None:
    st.number_input("Minutes ago", 0, 1440, 0, 5, key=AGO)


def _save_button(label: str, key: str, on_click: Any) -> None:
    with st.container(key="site_save"):  # in sight however much of the form is unfolded
        left, right = st.columns(2, gap="small")
        right.button("Close", key="site_close", width="stretch", on_click=_close)
        left.button(label, key=key, type="primary", width="stretch", icon=":material/save:", on_click=on_click)


def _close() -> None:
    st.session_state[OPEN] = None
    st.session_state.pop(SAID, None)


def _save_catch(name: str) -> None:
    state = st.session_state
    if state.get(GRAMS) is None and is_double_tap("catch"):
        return
    of = {
        "mass_g": state.get(GRAMS),
        "trap": state.get(TRAP),
        "focus_emitter_no": state.get(EMITTER) or None,
        "weighed": state.get(WEIGHED) or "wet",
    }
    if of["trap"] in OTHER_TRAPS and state.get(STICKS):
        of["sticks_to_magnet"] = state.get(STICKS) == "yes"
    if save(name, "catch", of, ago_min=float(state.get(AGO) or 0)):
        state[GRAMS] = None


def _reading_form(job: SiteJob) -> None:
    names = list(LABELS)
    for first in range(0, len(names), 2):
        for column, name in zip(st.columns(2, gap="small"), names[first : first + 2], strict=False):
            allowed = JOB_LOG["readings"].column(name)
            unit = f" [{UNITS[name]}]" if UNITS[name] else ""
            column.number_input(
                f"{LABELS[name]}{unit}",
                float(allowed.low or 0),
                float(allowed.high or 0),
                None,
                1.0,
                key=f"site_{name}",
                format="%g",
                placeholder="–",
            )
    _save_button("Save this reading", "site_save_reading", partial(_save_reading, job.name, job.focus))


def _save_reading(name: str, focus: int | None) -> None:
    measured = {each: st.session_state.get(f"site_{each}") for each in SHORT}
    known = {each: value for each, value in measured.items() if value is not None}
    if not known and is_double_tap("reading"):
        return
    if save(name, "reading", {**known, "focus_emitter_no": focus}):
        for each in SHORT:
            st.session_state[f"site_{each}"] = None


def _focus_form(job: SiteJob) -> None:
    whole = "the " if job.focus is None else ""
    here = literal(place(job.focus, job.room(job.focus)))
    st.markdown(f"Flow is on {whole}**{here}**. Weigh what the magnet holds first, then move it to:")
    with st.container(horizontal=True, gap="small", key="site_emitters"):
        for number in job.emitter_numbers:
            st.button(
                literal(f"{number} {job.room(number)}".strip()),
                key=f"site_focus_{number}",
                disabled=number == job.focus,
                on_click=_move,
                args=(job.name, number),
            )
        st.button(
            "Whole system", key="site_focus_whole", disabled=job.focus is None, on_click=_move, args=(job.name, None)
        )
    left, right = st.columns(2, vertical_alignment="bottom")
    other = left.number_input("Another emitter", 1, 200, None, 1, key="site_focus_new", placeholder="–")
    right.button(
        "Flow on this one",
        key="site_focus_other",
        disabled=other is None,
        width="stretch",
        on_click=_move,
        args=(job.name, other),
    )
    st.button("Close", key="site_close", width="stretch", on_click=_close)


def _move(name: str, number: int | None) -> None:
    if not is_double_tap("focus"):
        save(name, "focus", {"focus_emitter_no": number})
