"""Columns of the job log for what was counted or added up, and for the proof of what was done."""

from __future__ import annotations

from pipeline.contract.columns import Column

C = Column

_WITHOUT_LIST = "counts where no list of emitters says it"


def _counted(name: str, what: str) -> Column:
    return C(name, "integer", what, "count", low=0, high=200, rule=_WITHOUT_LIST)


COUNTED = (
    _counted("emitter_count_at_survey", "Emitters, counted at survey"),
    _counted("cold_count_at_survey", "Of these, cold at the bottom or in the middle"),
    _counted("upstairs_count_at_survey", "Of these, above the ground floor"),
    _counted("long_count_at_survey", "Of these, 1600 mm or longer"),
    _counted("panel_11_count", "Of these, single panels with one row of fins (type 11)"),
    _counted("panel_21_count", "Of these, double panels with one row of fins (type 21)"),
    _counted("panel_22_count", "Of these, double panels with two rows of fins (type 22)"),
    _counted("towel_rail_count", "Of these, towel rails"),
    _counted("column_count", "Of these, column radiators"),
    _counted("underfloor_loop_count", "Of these, underfloor loops"),
    C(
        "emitter_age_years",
        "number",
        "Age of the emitters at the visit",
        "years",
        low=0,
        high=120,
        rule="counts where install_year is empty",
    ),
)
"""Counts of a survey. The first may be left out where the kinds are counted; what is left over is of unknown kind."""

KIND_COUNTS = tuple(column.name for column in COUNTED if column.name.endswith("_count"))
"""Columns that count one kind of emitter."""

TOTALS = (
    C(
        "caught_total_kg",
        "number",
        "All debris caught in the job, where weighings were not written down one by one",
        "kg",
        "during",
        low=0,
        high=200,
        rule="counts where the job has no weighing of its own",
    ),
    C(
        "caught_total_weighed",
        "choice",
        "That total weighed wet or dry; empty: wet",
        known_by="during",
        choices=("wet", "dry"),
    ),
    C(
        "worked_hours",
        "number",
        "Hours on site, all days together, where arrival and leaving were not written down",
        "h",
        "during",
        low=0.25,
        high=200,
        rule="counts where arrived_at or left_at is empty",
    ),
    C("charged_price", "number", "Price charged before tax", "currency", "after", low=0, high=100000),
    C(
        "came_back",
        "yes_no",
        "The job came back because of debris, or it did not, where no day is known",
        known_by="after",
        rule="a dated return visit belongs into callbacks",
    ),
)
"""What small firms have of earlier years: one figure a job."""

TOTAL_NAMES = tuple(column.name for column in TOTALS if column.name != "caught_total_weighed")
"""With one of these a job counts without its flush times and without its kind of system."""

PUT_IN = (
    C("cleaner_put_in_l", "number", "Cleaning chemical actually put in", "L", "during", low=0, high=100),
    C("inhibitor_put_in_l", "number", "Inhibitor actually put in", "L", "after", low=0, high=100),
)

SURFACES = tuple(
    C(f"{end}_{when}_c", "number", f"Surface at its {end}, {words}", "°C", "during", low=0, high=110)
    for when, words in (("before", "heat on, before the flush"), ("after", "heat on, after it"))
    for end in ("top", "bottom")
)
"""Of `emitters`: what shows a client that a cold bottom has become warm."""
