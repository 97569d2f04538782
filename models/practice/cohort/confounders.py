"""What was known before a practice was chosen: what its effect is adjusted for, with reasons, by the order of the day.

A job is adjusted for what was known at survey, for the engineer who led it, and for the other practices that were
decided by the time this one was (`known_by` of the job log: plan, during, after). Those are chosen together, by the
same person from the same impression, part of which nobody writes down: left out, each would be credited with what the
others do. What was decided later is left out: it may follow from this one, and adjusting for it would take a part of
the effect away. What is fitted or dosed at the end was chosen after seeing what came out: kilograms caught and water
left are in its list, and in no other's, for they are how a way of flushing works.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.practice.cohort.contrasts import PRACTICES
from models.practice.results.audit_result import Confounder
from pipeline.contract import BUILT, JOB_LOG

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Form = Literal["plain", "log", "yes_no", "choice"]

_SPELT = {"predose_days": "Pre-dose, days", "half_drained_emitters": "Half-drained emitters", "crew_size": "People"}
ORDER_OF_DAY = ("survey", "plan", "during", "after")
"""Places in time, 0 to 3, by the `known_by` of a column."""
SURVEY, AFTER = 0, 3
MAIN, BENDS = 0, 1
"""Blocks of columns: straight terms and words; bends of the straight terms."""
DATE = 3
"""Its own block, beside those of columns by the practice (2): practices and callbacks may both follow the years for
long, and shrunk together with signs that tell little a trend would stay in."""


@dataclass(frozen=True, slots=True)
class _Known:
    column: str
    label: str
    reason: str
    form: Form
    bends: bool = False


_DIRT = "more sludge draws more effort, and brings more callbacks"
_SIZE = "larger systems get other methods, and have more places to block"
_LAYOUT = "decides what can be done, and how easily debris blocks it"
_KNOWN = (
    _Known("cold_share", "Share of emitters cold", _DIRT, "plain", bends=True),
    _Known("cold_count", "Emitters cold", _DIRT, "log"),
    _Known("survey_turbidity_ntu", "Turbidity of the water", _DIRT, "log", bends=True),
    _Known("survey_iron_mg_l", "Iron in the water", _DIRT, "log"),
    _Known("survey_ph", "pH of the water", "shows neglect, which draws effort and goes on after it", "plain"),
    _Known("conductivity_excess_us_cm", "Conductivity above the mains", "shows inhibitor that is left", "plain"),
    _Known("water_known", "A water sample was taken", "a sample is taken where trouble is expected", "yes_no"),
    _Known("age_years", "Age of the emitters", "old systems look worse, hold more and leak more", "plain", bends=True),
    _Known("years_since_clean", "Years since the last clean", _DIRT, "log"),
    _Known("was_cleaned_before", "A last clean is on record", "a client who cares, or trouble before", "yes_no"),
    _Known("inhibitor_at_survey", "Inhibitor at survey", "slows corrosion before and after the visit", "yes_no"),
    _Known("filter_at_survey", "Filter at survey", "catches debris before and after the visit", "yes_no"),
    _Known("topups_per_year", "Top-ups a year", "bring oxygen before and after the visit", "log", bends=True),
    _Known("known_building_debris", "Building debris suspected", "sand wants other traps, and blocks", "yes_no"),
    _Known("system_volume_l", "System volume", _SIZE, "log", bends=True),
    _Known("emitter_count", "Emitters", _SIZE, "log", bends=True),
    _Known("mean_emitter_length_mm", "Mean length of emitters", "long emitters hold sludge in the middle", "plain"),
    _Known("panel_share", "Share of panels", _LAYOUT, "plain"),
    _Known("floor_count", "Storeys", _SIZE, "plain"),
    _Known("property_kind", "Kind of property", _SIZE, "choice"),
    _Known("system_type", "Open-vented or sealed", "open-vented systems take in air and building debris", "choice"),
    _Known("pipe_layout", "Pipework", _LAYOUT, "choice"),
    _Known("min_tail_bore_mm", "Smallest tail", _LAYOUT, "plain"),
    _Known("main_bore_mm", "Bore of the mains", _LAYOUT, "plain"),
    _Known("boiler_kind", "Kind of heat source", _LAYOUT, "choice"),
)

_TOLD = "how dirty it was, and how clean it is left, decide what is fitted or dosed at the end, and callbacks"
_SEEN = (
    _Known("magnetite_kg", "Magnetite caught", _TOLD, "log", bends=True),
    _Known("non_magnetic_kg", "Other debris caught", _TOLD, "log"),
    _Known("final_turbidity_ntu", "Water left, turbidity", _TOLD, "log"),
    _Known("final_iron_mg_l", "Water left, iron", _TOLD, "log"),
)
"""Seen by the end of the flush. Conductivity and pH of the water left are not among them: inhibitor moves both."""

CONFOUNDERS: tuple[Confounder, ...] = (
    *(Confounder(each.column, each.label, each.reason) for each in _KNOWN),
    Confounder("visit_date", "Date of the visit", "habits and materials change over the years, and so may callbacks"),
    Confounder("engineer_id", "Engineer", "each has habits, and more or less skill in all that is not written down"),
    Confounder(
        "other practices",
        "The other practices of the job decided by then",
        "from the same impression, and they act on callbacks too; what is decided later may follow from this one",
    ),
    *(Confounder(each.column, f"{each.label} (filter, inhibitor only)", each.reason) for each in _SEEN),
)
"""The list, in words. Fixed: not chosen by looking at the outcome."""


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """The list as numbers: `x` (n, p) on one scale, `block`, `label` and `known_as` of each column.

    `practice` names the column of the job log that a column of another practice comes from, else is empty; `stage` is
    its place in `ORDER_OF_DAY`.
    """

    x: Floats
    block: Ints
    label: tuple[str, ...]
    known_as: tuple[str, ...]
    practice: tuple[str, ...]
    stage: Ints

    def beside(self, practice: str) -> Known:
        """The list for one practice: what was known or decided by its time, the practice itself left out."""
        is_other = np.array([each != practice for each in self.practice], dtype=bool)
        return self._only(is_other & (self.stage <= stage_of(practice)))

    def without_practices(self) -> Known:
        """What the house was like, and when."""
        return self._only(self.stage == SURVEY)

    def without_seen(self) -> Known:
        """All but what was seen by the end of the flush: house, date and practices."""
        return self._only((self.stage == SURVEY) | np.array([bool(each) for each in self.practice], dtype=bool))

    def _only(self, keep: NDArray[np.bool_]) -> Known:
        label, known_as, practice = (
            tuple(each for each, kept in zip(names, keep, strict=True) if kept)
            for names in (self.label, self.known_as, self.practice)
        )
        return Known(np.compress(keep, self.x, axis=1), self.block[keep], label, known_as, practice, self.stage[keep])


def stage_of(practice: str) -> int:
    """Place of a practice in the order of the day, by the `known_by` of its column."""
    table = JOB_LOG["jobs"] if practice in JOB_LOG["jobs"].names else BUILT["ftr_quote"]
    return ORDER_OF_DAY.index(table.column(practice).known_by)


def encode(frame: pd.DataFrame) -> Known:
    """Columns of `ftr_quote` as numbers: centred, spread 1; what is missing stands at the mean, with a mark of its own.

    After them the practices, a column for each way but one. Bends are the part of a straight term above its median,
    and above its upper quartile. A column that never varies is left out.
    """
    columns: list[tuple[Floats, int, str, str]] = []
    for known in _KNOWN:
        columns += _columns(frame, known)
    year = pd.to_datetime(frame["visit_date"]).to_numpy(dtype="datetime64[D]").astype(float) / 365.25
    columns.append((year, DATE, "Date of the visit", "visit_date"))
    every = [(*each, "", SURVEY) for each in columns]
    for practice, words in PRACTICES.items():
        made = _practice_columns(frame[practice], practice, words)
        every += [(*each, practice, stage_of(practice)) for each in made]
    every += [(*each, "", AFTER) for known in _SEEN for each in _columns(frame, known)]
    kept = [(_scaled(each[0]), *each[1:]) for each in every if len(frame) and np.std(each[0]) > 1e-9]
    if not kept:
        none = np.zeros(0, dtype=np.int64)
        return Known(np.zeros((len(frame), 0)), none, (), (), (), none)
    x, block, label, name, of, stage = zip(*kept, strict=True)
    return Known(np.column_stack(x), np.array(block, dtype=np.int64), label, name, of, np.array(stage, dtype=np.int64))


def _practice_columns(values: pd.Series, name: str, words: tuple[str, ...]) -> list[tuple[Floats, int, str, str]]:
    """One way each, the first left out; amounts as whether at all and how much; a mark where not known."""
    label = _SPELT.get(name, name.replace("_", " ").capitalize())
    made: list[tuple[Floats, int, str, str]] = []
    missing = values.isna().to_numpy(dtype=bool)
    if words:
        ways = [np.asarray((values == word).fillna(False), dtype=float) for word in words[1:]]
        made += [
            (way, MAIN, f"{label}: {word.replace('_', ' ')}", f"{name}={word}")
            for way, word in zip(ways, words[1:], strict=True)
        ]
    else:
        number = np.nan_to_num(pd.to_numeric(values, errors="coerce").to_numpy(dtype=float, na_value=np.nan))
        made += [
            (np.asarray(number > 0, dtype=float), MAIN, f"{label}: any", f"{name}>0"),
            (np.log1p(np.maximum(number, 0.0)), MAIN, label, name),
        ]
    if missing.any():
        made.append((missing.astype(float), MAIN, f"{label}: not known", f"{name}?"))
    return made


def _columns(frame: pd.DataFrame, known: _Known) -> list[tuple[Floats, int, str, str]]:
    values = frame[known.column]
    if known.form == "choice":
        words = BUILT["ftr_quote"].column(known.column).choices
        return [
            (
                np.asarray(values == word, dtype=float),
                MAIN,
                f"{known.label}: {word.replace('_', ' ')}",
                f"{known.column}={word}",
            )
            for word in words[1:]
        ]
    number = np.asarray(pd.to_numeric(values, errors="coerce").to_numpy(dtype=float, na_value=np.nan))
    if known.form == "log":
        number = np.log1p(np.maximum(number, 0.0))
    missing = np.isnan(number)
    if missing.all():
        return []
    filled = np.where(missing, np.nanmean(number), number)
    made = [(filled, MAIN, known.label, known.column)]
    if known.bends:
        knots = np.unique(np.nanquantile(number, (0.5, 0.75)))
        made += [(np.maximum(filled - knot, 0.0), BENDS, f"{known.label}, bend", f"{known.column}>") for knot in knots]
    if missing.any():
        made.append((missing.astype(float), MAIN, f"{known.label}: not known", f"{known.column}?"))
    return made


def _scaled(values: Floats) -> Floats:
    return np.asarray((values - values.mean()) / values.std())
