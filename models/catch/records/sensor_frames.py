"""Readings and set-up of jobs, for the warnings, from the tables of a build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from models.catch.records.flush_clock import DayOnSite, minutes_at
from models.catch.records.sensor_readings import NO_READINGS, WHOLE, Readings, Setup

Key = tuple[str, str]
_TAKEN = ("flow_l_min", "turbidity_ntu", "pressure_bar")


class ReadingFrames:
    """`readings`, `ftr_volume` and `ftr_quote` of one job or many, grouped once; None where not to be used."""

    def __init__(
        self, readings: pd.DataFrame | None, volume: pd.DataFrame | None, survey: pd.DataFrame | None = None
    ) -> None:
        self._readings = {} if readings is None else dict(list(readings.groupby(["firm_id", "job_id"], sort=False)))
        self._volume_l = _by_key(volume, "system_volume_l")
        self._tail_mm = _by_key(survey, "min_tail_bore_mm")

    def readings(self, key: Key, days: Sequence[DayOnSite]) -> Readings:
        """Readings of a job in order of time; empty where there are none."""
        own = self._readings.get(key)
        if own is None:
            return NO_READINGS
        own = own.sort_values("read_at")
        temps = own[["flow_temp_c", "return_temp_c"]].astype(float).mean(axis=1)
        taken = {name: own[name].to_numpy(dtype=float, na_value=np.nan) for name in _TAKEN}
        return Readings(
            minutes=np.array([minutes_at(days, at.to_pydatetime()) for at in own["read_at"]], dtype=float),
            emitter_no=own["focus_emitter_no"].fillna(WHOLE).to_numpy(dtype=np.int64),
            water_c=temps.to_numpy(dtype=float),
            **taken,
        )

    def setup(self, key: Key, job: Mapping[str, Any]) -> Setup:
        """How the job is set up, as far as its row, the volume and the survey tell."""
        return Setup(
            system_type=str(job.get("system_type") or ""),
            machine_max_flow_l_min=_number(job.get("machine_max_flow_l_min")),
            volume_l=_number(self._volume_l.get(key)),
            isolation=str(job.get("isolation") or ""),
            connection=str(job.get("connection") or ""),
            hose_m=_number(job.get("hose_length_m")),
            hose_bore_mm=_number(job.get("hose_bore_mm")),
            main_bore_mm=_number(job.get("main_bore_mm")),
            tail_bore_mm=_number(self._tail_mm.get(key)),
            pipe_layout=str(job.get("pipe_layout") or ""),
            has_antifreeze=_is_yes(job.get("antifreeze_at_survey")),
            has_open_tank=_is_yes(job.get("machine_open_tank")),
        )


def _by_key(frame: pd.DataFrame | None, column: str) -> dict[Key, float]:
    if frame is None or column not in frame:
        return {}
    keys = zip(frame["firm_id"], frame["job_id"], strict=True)
    return dict(zip(keys, frame[column].astype(float), strict=True))


def _number(value: Any) -> float | None:
    return None if value is None or value != value else float(value)


def _is_yes(value: Any) -> bool:
    """Whether the log says yes; empty (None, NaN, NA) is not known."""
    return value is not None and not pd.isna(value) and bool(value)
