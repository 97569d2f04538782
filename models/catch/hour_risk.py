"""What one more hour does to the risk of a debris callback: its kilograms by what a kilogram does, from the audit."""

from __future__ import annotations

from dataclasses import replace

from models.catch.result import CallbackChange, Watch
from models.practice.result_curves import RiskPerKg


def with_risk(watch: Watch, risk: RiskPerKg | None) -> Watch:
    """The same watch with the change of risk beside the hour's kilograms; as it is where the audit cannot tell what
    a kilogram does, or where the hour brings more than it was told for."""
    hour = watch.one_more_hour
    if hour is None or risk is None or risk.per_kg is None or risk.low is None or risk.high is None:
        return watch
    kilos = hour.expected_kg.p50
    if kilos > risk.usual_kg:
        return watch
    ends = sorted(each * kilos for each in (risk.low, risk.high))
    change = CallbackChange(ends[0], risk.per_kg * kilos, ends[1], risk.horizon_days)
    return replace(watch, one_more_hour=replace(hour, callback_change=change))
