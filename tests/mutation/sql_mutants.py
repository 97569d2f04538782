"""Mutants of one SQL file: the same text with one small, realistic fault, as a tired hand would make it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import sqlglot
from sqlglot import expressions as exp

Change = Callable[[exp.Expression], exp.Expression | None]
"""Makes the faulty node from a copy of the right one; None: the node goes."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One SQL file with one fault; `name` says what was changed, and stays the same while the file does."""

    step: str
    name: str
    text: str


_BOUNDARIES = {exp.GTE: exp.GT, exp.GT: exp.GTE, exp.LTE: exp.LT, exp.LT: exp.LTE, exp.EQ: exp.NEQ, exp.NEQ: exp.EQ}
_SWAPS = {
    exp.Min: exp.Max,
    exp.Max: exp.Min,
    exp.Greatest: exp.Least,
    exp.Least: exp.Greatest,
    exp.Lag: exp.Lead,
    exp.Sum: exp.Avg,
    exp.Avg: exp.Sum,
    exp.Median: exp.Avg,
    exp.Add: exp.Sub,
    exp.Sub: exp.Add,
    exp.Mul: exp.Div,
    exp.Div: exp.Mul,
    exp.Or: exp.And,
    exp.NullSafeEQ: exp.EQ,
}
_SIBLINGS = (
    ("low", "high"),
    ("mid", "low"),
    ("high", "mid"),
    ("started", "ended"),
    ("ended", "started"),
    ("first", "last"),
    ("last", "first"),
    ("wet", "dry"),
    ("early", "late"),
    ("before", "after"),
    ("flow_temp", "return_temp"),
    ("arrived", "left"),
    ("flow", "site"),
)


def mutants_of(step: str, text: str) -> list[Mutant]:
    """Every mutant of a file, each with a name of its own."""
    heading = "".join(line + "\n" for line in text.splitlines()[:4])
    (tree,) = sqlglot.parse(text, read="duckdb")
    assert tree is not None
    found, names, texts = [], Counter[str](), {_sql(tree)}
    for node in list(tree.walk()):
        for kind, change in list(_changes(node)):
            name, changed = _changed(tree, node, change)
            if changed not in texts:
                texts.add(changed)
                name = f"{kind}: {name}"
                names[name] += 1
                name = f"{name} #{names[name]}" if names[name] > 1 else name
                found.append(Mutant(step, name, heading + changed + ";\n"))
    return found


def _sql(node: exp.Expression) -> str:
    return node.sql("duckdb", comments=False, copy=False)


def _changed(tree: exp.Expression, node: exp.Expression, change: Change) -> tuple[str, str]:
    """Where and what, in words; and the whole text with the fault in it. The tree is put back as it was."""
    parent, key = node.parent, node.arg_key
    assert parent is not None
    before, around, stood = _sql(node), _around(node), parent.args[key]
    stood = [*stood] if isinstance(stood, list) else stood
    faulty = change(node.copy())
    if faulty is None:
        node.pop()
    else:
        node.replace(faulty)
    after, text = _short("" if faulty is None else _sql(faulty)), _sql(tree)
    parent.set(key, stood)
    return f"{around}: {_short(before)} -> {after}", text


def _short(text: str) -> str:
    text = re.sub(r"\s+", " ", text)
    return text if len(text) <= 90 else f"{text[:50]} ... {text[-35:]}"


def _around(node: exp.Expression) -> str:
    """The CTE that holds the node, else the file's last select; and the output column, where it is in one."""
    cte = node.find_ancestor(exp.CTE)
    column = node.find_ancestor(exp.Alias)
    names = (cte.alias if cte else "last", column.alias if column else "")
    return ".".join(name for name in names if name)


def _changes(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    for changes in (_swaps, _choices, _parts_of_lists, _cases, _clauses, _joins, _values):
        yield from changes(node)


def _swaps(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    other = _BOUNDARIES.get(type(node)) or _SWAPS.get(type(node))
    is_tie = isinstance(node, exp.EQ) and node.find_ancestor(exp.Join, exp.Subquery) is not None
    if other is not None and not (is_tie and isinstance(node.find_ancestor(exp.Join, exp.Subquery), exp.Join)):
        yield "swap", lambda n, other=other: other(**n.args)
    if isinstance(node, exp.Between):
        yield "bound", lambda n: exp.and_(exp.GT(this=n.this, expression=n.args["low"]), n.this <= n.args["high"])
        yield "bound", lambda n: exp.and_(n.this >= n.args["low"], exp.LT(this=n.this, expression=n.args["high"]))
    if isinstance(node, exp.Column):
        for here, there in _SIBLINGS:
            if re.search(rf"(^|_){here}(_|$)", node.name) and not node.find_ancestor(exp.Group):
                yield "sibling", lambda n, here=here, there=there: _renamed(n, here, there)
    if isinstance(node, exp.Not):
        yield "not", lambda n: n.this
    if isinstance(node, exp.Is) and not isinstance(node.parent, exp.Window):  # parts are the same, whatever the name
        yield "not", lambda n: exp.Not(this=n.copy())


def _renamed(column: exp.Expression, here: str, there: str) -> exp.Expression:
    name = re.sub(rf"(^|_){here}(_|$)", rf"\g<1>{there}\g<2>", column.name)
    return exp.column(name, table=column.args.get("table"))


def _choices(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """One of several conditions or of several values to choose from goes."""
    if isinstance(node, exp.And | exp.Or) and not isinstance(node.parent, type(node)):
        for number in range(len(list(node.flatten()))):
            yield "drop part", lambda n, number=number: _without(n, number)
    if isinstance(node, exp.Coalesce) and not isinstance(node.parent, exp.ConcatWs):
        for number in range(1 + len(node.expressions)):
            yield "drop choice", lambda n, number=number: _fewer(n, number)


def _parts_of_lists(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """One column of a key, of an order or of cells put together goes."""
    if isinstance(node, exp.ConcatWs):
        for number in range(1, len(node.expressions)):
            yield "drop column", lambda n, number=number: _less(n, "expressions", number)
    for part in ("partition_by", "expressions"):
        if isinstance(node, exp.Window | exp.Order | exp.Group | exp.In) and len(node.args.get(part) or ()) > 1:
            for number in range(len(node.args[part])):
                yield f"drop of {part}", lambda n, part=part, number=number: _less(n, part, number)


def _cases(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    if isinstance(node, exp.Case):
        for number in range(len(node.args["ifs"]) if len(node.args["ifs"]) > 1 else 0):
            yield "drop when", lambda n, number=number: _less(n, "ifs", number)
        if node.args.get("default") is not None:
            yield "drop else", lambda n: _set(n, default=None)


def _without(node: exp.Expression, number: int) -> exp.Expression:
    left = [part for place, part in enumerate(node.flatten(unnest=False)) if place != number]
    both = left[0]
    for part in left[1:]:
        both = type(node)(this=both, expression=part)
    return both


def _fewer(node: exp.Expression, number: int) -> exp.Expression:
    every = [node.this, *node.expressions]
    del every[number]
    return every[0] if len(every) == 1 else exp.Coalesce(this=every[0], expressions=every[1:])


def _less(node: exp.Expression, part: str, number: int) -> exp.Expression:
    return _set(node, **{part: [each for place, each in enumerate(node.args[part]) if place != number]})


def _set(node: exp.Expression, **parts: object) -> exp.Expression:
    for name, value in parts.items():
        node.set(name, value)
    return node


def _clauses(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """Whole clauses: conditions, orders, distinct."""
    if isinstance(node, exp.Where | exp.Having) and not isinstance(node.parent, exp.Filter):
        yield "drop", lambda n: None
    if isinstance(node, exp.Filter):
        yield "drop filter", lambda n: n.this
    if isinstance(node, exp.Order) and isinstance(node.parent, exp.Select):
        yield "drop", lambda n: None
    if isinstance(node, exp.Distinct):
        yield "drop", (lambda n: None) if isinstance(node.parent, exp.Select) else (lambda n: n.expressions[0])
    if isinstance(node, exp.Ordered):
        yield "reverse", lambda n: _set(n, desc=not n.args.get("desc"))


def _joins(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    """What is put together from two tables, side by side or one below the other."""
    if isinstance(node, exp.Union) and not node.args.get("distinct"):
        yield "union", lambda n: _set(n, distinct=True)
        yield "half of union", lambda n: n.left.copy() if not n.args.get("with_") else None
    if isinstance(node, exp.Join):
        if node.args.get("kind") in ("SEMI", "ANTI"):
            yield "drop join", lambda n: None
        elif node.args.get("side") == "LEFT":
            yield "inner", lambda n: _set(n, side=None)
        elif node.args.get("on") is not None:
            yield "left", lambda n: _set(n, side="LEFT")


def _values(node: exp.Expression) -> Iterator[tuple[str, Change]]:
    if node.find_ancestor(exp.ConcatWs) is not None and isinstance(node.parent, exp.Coalesce):
        return  # the stand-in for an empty cell among cells put together: any text that no cell holds does as well
    if isinstance(node, exp.Boolean):
        yield "value", lambda n: exp.Boolean(this=not n.this)
    if isinstance(node, exp.Literal) and node.is_string and not isinstance(node.parent, exp.Interval):
        yield "value", lambda n: exp.Literal.string(n.this + "x")
    elif isinstance(node, exp.Literal):
        yield "value", _one_more
    if isinstance(node, exp.Null) and not isinstance(node.parent, exp.Is):
        yield "value", lambda n: exp.Literal.string("x")


def _one_more(node: exp.Expression) -> exp.Expression:
    number = float(node.this)
    more = number + 1 if number < 1e6 else number * 10
    return exp.Literal(this=f"{more:.15g}", is_string=node.is_string)
