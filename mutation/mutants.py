"""The mutants of a module, by Cosmic Ray's operators."""

import ast
import random
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import unified_diff
from functools import cache

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator

from mutation.areas import ROOT

# One way to turn each thing round, instead of all that Cosmic Ray has: of ten mutants of one plus
# sign nine say what the first said. Bars stand in annotations here, where they do nothing.
_OPERATORS = (
    *(
        f"core/ReplaceBinaryOperator_{name}"
        for name in ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "FloorDiv_Mul", "Mod_FloorDiv")
    ),
    *(
        f"core/ReplaceComparisonOperator_{name}"
        for name in (
            *("Eq_NotEq", "NotEq_Eq", "Lt_LtE", "Lt_GtE", "LtE_Lt", "LtE_Gt"),
            *("Gt_GtE", "Gt_LtE", "GtE_Gt", "GtE_Lt", "Is_IsNot", "IsNot_Is"),
        )
    ),
    "core/ReplaceUnaryOperator_USub_UAdd",
    "core/ReplaceUnaryOperator_Delete_Not",
    "core/AddNot",
    "core/ReplaceTrueWithFalse",
    "core/ReplaceFalseWithTrue",
    "core/ReplaceAndWithOr",
    "core/ReplaceOrWithAnd",
    "core/ReplaceBreakWithContinue",
    "core/ReplaceContinueWithBreak",
    "core/NumberReplacer",
    "core/ZeroIterationForLoop",
)


@dataclass(frozen=True)
class Mutant:
    """One change to one module."""

    path: str
    operator: str
    occurrence: int
    line: int
    column: int

    @property
    def function(self) -> str:
        """The function that holds it; empty for what a module does when it is imported."""
        inside = [
            (node.lineno, name)
            for name, node in functions(self.path)
            if node.lineno <= self.line <= (node.end_lineno or node.lineno)
        ]
        return max(inside)[1] if inside else ""

    @property
    def code(self) -> str:
        """The whole module with the change in it."""
        made = mutate_code(source(self.path), get_operator(self.operator)(), self.occurrence)
        if not isinstance(made, str):
            raise TypeError(f"There is no such mutant: {self}")
        return made

    @property
    def diff(self) -> str:
        """What the change is, as lines taken out and put in."""
        lines = unified_diff(source(self.path).splitlines(), self.code.splitlines(), n=0)
        return "\n".join(line for line in list(lines)[2:] if not line.startswith("@@"))


@cache
def source(path: str) -> str:
    """Return a module's text."""
    return (ROOT / path).read_text(encoding="utf-8")


@cache
def functions(path: str) -> list[tuple[str, ast.FunctionDef]]:
    """Return the functions of a module, each called by module and line."""
    return [
        (f"{path}:{node.lineno}", node)
        for node in ast.walk(ast.parse(source(path)))
        if isinstance(node, ast.FunctionDef)
    ]


def mutants_of(path: str) -> Iterator[Mutant]:
    """Return all mutants of a module."""
    tree = get_ast(source(path))
    for name in _OPERATORS:
        operator = get_operator(name)()
        places = (
            start for node in ast_nodes(tree) for start, _ in operator.mutation_positions(node)
        )
        for occurrence, (line, column) in enumerate(places):
            yield Mutant(path, name, occurrence, line, column)


def sample(mutants: list[Mutant], count: int, seed: int) -> list[Mutant]:
    """Return some of the mutants, no two at one place: first places are drawn, then mutants."""
    at: dict[tuple[str, int, int], list[Mutant]] = {}
    for mutant in mutants:
        at.setdefault((mutant.path, mutant.line, mutant.column), []).append(mutant)
    drawn = random.Random(seed)  # noqa: S311 - a sample, no secret
    places = drawn.sample(sorted(at), min(count, len(at)))
    return [drawn.choice(at[place]) for place in places]
