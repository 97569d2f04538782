"""What one more hour does to the risk of a debris callback: its kilograms by what a kilogram does, from the audit."""

from __future__ import annotations

from dataclasses import replace

from models.catch.records.watch_result import CallbackChange, Watch
from models.practice.effects.change_by_kg import change_in_risk
from models.practice.results.curve_results import RiskPerKg


def with_risk(watch: Watch, risk: RiskPerKg | None) -> Watch:
    """The same watch with the change of risk beside the hour's kilograms; as it is where the audit cannot tell what
    a kilogram does, or where the hour brings more than it was told for."""
    hour = watch.one_more_hour
    if hour is None or risk is None or hour.expected_kg.p50 > risk.usual_kg:
        return watch
    told = change_in_risk(risk, hour.expected_kg.p50)
    if told is None:
        return watch
    change = CallbackChange(told[1], told[0], told[2], risk.horizon_days)
    return replace(watch, one_more_hour=replace(hour, callback_change=change))
