"""A small world with known effects, drawn once for all tests of the audit."""

from __future__ import annotations

import pytest

from models.practice.audit import audit
from models.practice.cohort.audited_jobs import Records, gather
from models.practice.results.audit_result import Audit
from pipeline.contract.firm import Firm
from tests.benchmarks.studies.practice_world import World, draw_world


@pytest.fixture(scope="session")
def world() -> World:
    return draw_world(2, 1500)


@pytest.fixture(scope="session")
def records(world: World) -> Records:
    return gather(world.frames)


@pytest.fixture(scope="session")
def audited(world: World) -> Audit:
    return audit(world.frames, Firm())
