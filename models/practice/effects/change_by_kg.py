"""From kilograms to callbacks, by a risk per kilogram that was worked out before: light, for a quote and a watch."""

from __future__ import annotations

from models.practice.results.curve_results import RiskPerKg


def change_in_risk(found: RiskPerKg, kg: float) -> tuple[float, float, float] | None:
    """Change of the callback risk (estimate, low, high) by `kg` more taken out; negative is fewer callbacks.

    None where the figure was refused.
    """
    if found.per_kg is None or found.low is None or found.high is None:
        return None
    low, high = sorted((found.low * kg, found.high * kg))
    return found.per_kg * kg, low, high


def within_usual(found: RiskPerKg, kg: float) -> float:
    """The kilograms, or the usual spread of catches to that side where they are more: no change is told beyond it."""
    return min(max(kg, -found.usual_kg), found.usual_kg)
