"""The picture behind an adjustment, by when a practice is chosen: arrows; circles in 0..1, left to right in time."""

from __future__ import annotations

from collections.abc import Iterator

from models.practice.cohort.confounders import AFTER, ORDER_OF_DAY, stage_of
from models.practice.results.audit_result import CausalGraph, GraphNode

_NODES = (
    GraphNode("house", "House, system, age", "confounder", 0.05, 0.85),
    GraphNode("signs", "Signs at survey", "confounder", 0.28, 0.66),
    GraphNode("engineer", "Engineer", "confounder", 0.30, 0.20),
    GraphNode("date", "Date of the visit", "confounder", 0.05, 0.20),
    GraphNode("practice", "The practice", "practice", 0.57, 0.42),
    GraphNode("left", "Debris left, new debris", "mediator", 0.80, 0.42),
    GraphNode("callback", "Debris callback", "outcome", 0.97, 0.42),
    GraphNode("hidden", "What nobody wrote down", "hidden", 0.60, 0.05),
)
_EDGES = (
    ("house", "signs"),
    ("house", "practice"),
    ("house", "left"),
    ("signs", "practice"),
    ("house", "callback"),
    ("engineer", "practice"),
    ("engineer", "left"),
    ("date", "practice"),
    ("date", "left"),
    ("date", "engineer"),
    ("practice", "left"),
    ("left", "callback"),
    ("hidden", "practice"),
    ("hidden", "left"),
)
_DECIDED_BY_THEN = {"plan": "Other practices planned", "during": "Practices planned or done by then"}


def causal_graph(column: str) -> CausalGraph:
    """The picture for a practice by its column: what is adjusted for stands before it, how it works after it."""
    stage = stage_of(column)
    nodes, edges = list(_NODES), list(_EDGES)
    by_then = _DECIDED_BY_THEN.get(ORDER_OF_DAY[stage], "All that was done before")
    for node, arrows in _more(by_then, is_last=stage == AFTER):
        nodes.append(node)
        edges += arrows
    return CausalGraph(tuple(nodes), tuple(edges))


def _more(by_then: str, *, is_last: bool) -> Iterator[tuple[GraphNode, list[tuple[str, str]]]]:
    """The circles that are not in every picture, with their arrows."""
    others = [("signs", "others"), ("engineer", "others"), ("hidden", "others"), ("others", "practice")]
    yield GraphNode("others", by_then, "confounder", 0.42, 0.92), [*others, ("others", "left")]
    if is_last:
        seen = [("house", "seen"), ("others", "seen"), ("seen", "practice"), ("seen", "left")]
        yield GraphNode("seen", "Debris caught, water left", "confounder", 0.56, 0.74), seen
    else:
        later = [("practice", "later"), ("later", "left")]
        yield GraphNode("later", "What is decided later", "mediator", 0.70, 0.78), later
