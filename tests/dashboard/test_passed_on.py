"""What one process passes on to another comes out as it went in, and nothing else comes out at all."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from dashboard.services.passed_on import packed, unpacked
from models.practice.cohort.audited_jobs import Scope
from models.practice.results.curve_results import DoseResponse
from pipeline.contract.findings import Finding
from pipeline.contract.firm import Firm

SCOPE = Scope(firms=("one", "two"), first=date(2025, 3, 4), last=None, system_type="sealed")
DOSE = DoseResponse(
    "predose_days",
    "Pre-dose",
    "d",
    0.5,
    *(np.array([k, np.nan, -np.inf, 0.1 + 0.2]) for k in range(2)),
    *(np.zeros((0,)) for _ in range(6)),
    trend_p=np.float64(0.1) + 0.2,
)


@pytest.mark.parametrize(
    "data",
    [
        None,
        (1, 2.5, "a \x1b ü", True, [None, ()]),
        {("x", 1): {"y": (date(2025, 1, 2),)}, "tuple": 3},
        SCOPE,
        {"firm": replace(Firm(), hourly_rate=61.25), "scope": None},
        Finding("code", "A sentence.", {"list": [1, 2], "date": "2025"}, "type this"),
    ],
)
def test_what_is_passed_on_comes_out_equal_and_of_the_same_kind(data: Any) -> None:
    line = packed(data)

    assert "\n" not in line
    assert unpacked(line) == data
    assert repr(unpacked(line)) == repr(data)


def test_arrays_keep_their_kind_shape_and_every_bit() -> None:
    found = unpacked(packed(DOSE))

    for each in fields(DOSE):
        before, after = getattr(DOSE, each.name), getattr(found, each.name)
        if isinstance(before, np.ndarray):
            assert (after.dtype, after.shape, after.tobytes()) == (before.dtype, before.shape, before.tobytes())
            assert after.flags.writeable
        else:
            assert after == before
    grid = np.arange(6).reshape(2, 3).T
    assert (unpacked(packed(grid)) == grid).all()


@pytest.mark.parametrize("data", [object(), {1, 2}, b"bytes", print, Finding])
def test_what_has_no_place_in_a_result_is_not_passed_on(data: object) -> None:
    with pytest.raises(TypeError, match="is not passed on"):
        packed(data)


@pytest.mark.parametrize(
    "line",
    [
        "no json",
        json.dumps({"class": "Popen", "made_of": {"args": "true"}}),
        json.dumps({"class": "Scope", "made_of": {"no": 1}}),
        json.dumps({"array": "AAAA", "kind": "O", "shape": [1]}),
        json.dumps({"array": "AAAA", "kind": "<f8", "shape": [7]}),
        json.dumps({"other": 1}),
    ],
)
def test_a_line_that_was_never_packed_makes_nothing(line: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011, the words are of several libraries
        unpacked(line)
