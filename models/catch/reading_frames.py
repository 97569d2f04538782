"""Readings and set-up of jobs, for the warnings, from the tables of a build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from models.catch.clock import DayOnSite, minutes_at
from models.catch.readings import NO_READINGS, WHOLE, Readings, Setup

Key = tuple[str, str]
_TAKEN = ("flow_l_min", "turbidity_ntu", "pressure_bar")


class ReadingFrames:
    """`readings` and `ftr_volume` of one job or many, grouped once; None where they are not to be used."""

    def __init__(self, readings: pd.DataFrame | None, volume: pd.DataFrame | None) -> None:
        self._readings = {} if readings is None else dict(list(readings.groupby(["firm_id", "job_id"], sort=False)))
        self._volume: dict[Key, float] = {}
        if volume is not None:
            keys = zip(volume["firm_id"], volume["job_id"], strict=True)
            self._volume = dict(zip(keys, volume["system_volume_l"].astype(float), strict=True))

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
        """How the job is set up, as far as its row and the volume tell."""
        most, volume = job.get("machine_max_flow_l_min"), self._volume.get(key)
        return Setup(
            system_type=str(job.get("system_type") or ""),
            machine_max_flow_l_min=None if most is None else float(most),
            volume_l=None if volume is None or volume != volume else volume,
        )
