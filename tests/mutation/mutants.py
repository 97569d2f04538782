"""Small faults in Python modules: where one can be planted, and the module with it. The operators are cosmic-ray's.

Of its operators those that a person might write by mistake: a number one off, another comparison, `and` for `or`, a
sign, plus for minus, a condition turned round, a loop left out. Annotations and what only a type checker reads are left
alone. A place is drawn first, then one of the faults that fit there, so that no place counts more than another.
"""

from __future__ import annotations

import ast
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
_ARITHMETIC = ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "FloorDiv_Div", "Mod_Mul", "Pow_Mul", "BitOr_BitAnd")
_ORDER = ("Eq", "NotEq", "Lt", "LtE", "Gt", "GtE")
OPERATORS = (
    *(f"ReplaceBinaryOperator_{each}" for each in (*_ARITHMETIC, "BitAnd_BitOr")),
    *(f"ReplaceComparisonOperator_{a}_{b}" for a in _ORDER[2:] for b in _ORDER[2:] if a != b),
    "ReplaceComparisonOperator_Eq_NotEq",
    "ReplaceComparisonOperator_NotEq_Eq",
    "ReplaceComparisonOperator_Is_IsNot",
    "ReplaceComparisonOperator_IsNot_Is",
    "ReplaceUnaryOperator_Delete_USub",
    "ReplaceUnaryOperator_Delete_Invert",
    "ReplaceUnaryOperator_Delete_Not",
    "AddNot",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "NumberReplacer",
    "ZeroIterationForLoop",
)


@dataclass(frozen=True, slots=True)
class Mutant:
    """One fault: `occurrence` is the operator's own count within the module."""

    module: Path
    line: int
    column: int
    operator: str
    occurrence: int

    @property
    def source(self) -> str:
        """The module with the fault planted."""
        from cosmic_ray.mutating import mutate_code
        from cosmic_ray.plugins import get_operator

        made = mutate_code(self.module.read_text(), get_operator(f"core/{self.operator}")(), self.occurrence)
        assert made is not None
        return str(made)

    @property
    def key(self) -> tuple[str, ...]:
        """What names the fault, as texts."""
        return str(self.module), str(self.line), str(self.column), self.operator, str(self.occurrence)

    @classmethod
    def of_key(cls, key: Sequence[str]) -> Mutant:
        """The fault of that key."""
        return cls(Path(key[0]), int(key[1]), int(key[2]), key[3], int(key[4]))

    @property
    def is_in_function(self) -> bool:
        """Whether the fault stands within a function, and nothing of it is worked out when the module is imported."""
        tree = ast.parse(self.module.read_text())
        functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
        return any(node.lineno <= self.line <= (node.end_lineno or 0) for node in functions)

    def __str__(self) -> str:
        before, after = self.module.read_text().splitlines(), self.source.splitlines()
        old, new = next((a, b) for a, b in zip(before, after, strict=False) if a != b)
        where = f"{self.module.relative_to(ROOT)}:{self.line}:{self.column}"
        return f"{where} {self.operator}\n    - {old.strip()}\n    + {new.strip()}"


def modules_of(paths: Sequence[str]) -> list[Path]:
    """Modules named themselves or by their folder, in order."""
    found = [path for each in paths for path in (sorted((ROOT / each).rglob("*.py")) or [ROOT / each])]
    return [path for path in found if path.name != "__init__.py"]


def mutants(modules: Sequence[Path]) -> dict[tuple[Path, int, int], list[Mutant]]:
    """The faults that fit at each place of the modules."""
    places: dict[tuple[Path, int, int], list[Mutant]] = defaultdict(list)
    for module in modules:
        for mutant in _every(module):
            places[module, mutant.line, mutant.column].append(mutant)
    return dict(places)


def sampled(places: dict[tuple[Path, int, int], list[Mutant]], number: int, seed: int) -> list[Mutant]:
    """So many places at random, all where there are fewer, and a fault at each."""
    drawn = random.Random(seed)
    chosen = drawn.sample(sorted(places), min(number, len(places)))
    return sorted((drawn.choice(places[place]) for place in chosen), key=lambda each: (each.module, each.line))


def _every(module: Path) -> Iterator[Mutant]:
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator

    source = module.read_text()
    read_by_types, lines = list(_annotations(ast.parse(source))), source.splitlines()
    nodes = list(ast_nodes(get_ast(source)))
    for name in OPERATORS:
        operator, occurrence = get_operator(f"core/{name}")(), 0
        for node in nodes:
            for start, _ in operator.mutation_positions(node):
                is_marker = lines[start[0] - 1][start[1] : start[1] + 2] == "*,"  # what follows is given by name
                if not is_marker and not any(low <= start < high for low, high in read_by_types):
                    yield Mutant(module, *start, name, occurrence)
                occurrence += 1


def _annotations(tree: ast.Module) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Spans that only a type checker reads, or that only say something: annotations, imports for types, assertions."""
    for node in ast.walk(tree):
        spans: list[ast.AST | None] = []
        if isinstance(node, ast.FunctionDef):
            spans.append(node.returns)
        elif isinstance(node, ast.arg | ast.AnnAssign):
            spans.append(node.annotation)
        elif isinstance(node, ast.Assert):
            spans.append(node)
        elif isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            spans.append(node)
        elif isinstance(node, ast.Call):
            spans += [word.value for word in node.keywords if word.arg in ("strict", "slots", "frozen", "eq")]
        for span in spans:
            if span is not None:
                yield (span.lineno, span.col_offset), (span.end_lineno or 0, span.end_col_offset or 0)  # type: ignore[attr-defined]
