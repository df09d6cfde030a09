"""Which changes are tried: one operator of Cosmic Ray at one place of the core."""

from __future__ import annotations

import ast
import difflib
import random
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator

ROOT = Path(__file__).parents[2]
LAWS = ("feed_scaled", "flow_scaled", "state_restored", "bulk_edits", "loads")
REWRITTEN = tuple(f"tests/laws/test_{law}.py" for law in LAWS)
TESTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "gpost/motion": (
            "tests/motion",
            "tests/survey/test_lookup.py",
            "tests/survey/test_build.py",
            *REWRITTEN,
        ),
        "gpost/survey": ("tests/survey", "tests/plan", "tests/laws/test_split_invariance.py", *REWRITTEN),
        "gpost/plan": (
            "tests/plan",
            "tests/supply",
            "tests/plugins",
            *REWRITTEN,
            "tests/safety/test_unruly_steps.py",
        ),
        "gpost/supply": ("tests/supply", "tests/plugins", "tests/report", "tests/laws/test_loads.py"),
        "gpost/write": (
            "tests/write",
            *REWRITTEN,
            "tests/laws",
            "tests/test_whole_job.py",
            "tests/test_own_prime.py",
        ),
        "gpost/clay": ("tests/clay", "tests/workbook", "tests/supply", "tests/plugins"),
        "plugins/gpost_plugins": ("tests/plugins", "tests/test_whole_job.py", "tests/laws/test_loads.py"),
    }
)
"""The core by folder, and the tests that concern each, the nearest first."""

SWAPS = (
    *("Lt_LtE", "LtE_Lt", "Gt_GtE", "GtE_Gt", "Lt_Gt", "Gt_Lt", "LtE_GtE", "GtE_LtE", "Eq_NotEq", "NotEq_Eq"),
    *("Is_IsNot", "IsNot_Is"),
)
SUMS = (
    "Add_Sub",
    "Sub_Add",
    "Mul_Div",
    "Div_Mul",
    "Pow_Mul",
    "FloorDiv_Div",
    "Mod_Mul",
    "BitAnd_BitOr",
    "BitOr_BitAnd",
)
OPERATORS = (
    *(f"core/ReplaceComparisonOperator_{swap}" for swap in SWAPS),
    *(f"core/ReplaceBinaryOperator_{swap}" for swap in SUMS),
    *(f"core/ReplaceUnaryOperator_{swap}" for swap in ("Delete_USub", "Delete_Invert", "Delete_Not")),
    *("core/AddNot", "core/ReplaceTrueWithFalse", "core/ReplaceFalseWithTrue"),
    *("core/ReplaceAndWithOr", "core/ReplaceOrWithAnd", "core/NumberReplacer", "core/ZeroIterationForLoop"),
    *("core/ReplaceBreakWithContinue", "core/ReplaceContinueWithBreak"),
)
"""What a hand might have written wrongly. Left out of the library's are those that end in a TypeError at once
(a sum for a comparison's sake) and `is` for `==`, which is the same for what is small."""

Span = tuple[tuple[int, int], tuple[int, int]]


class Mutant(NamedTuple):
    """One change."""

    path: str
    """Of the file, from the project's root on."""
    line: int
    """Counted from 1."""
    column: int
    operator: str
    occurrence: int

    @property
    def name(self) -> str:
        """What it is called in lists, and by `--only`."""
        return (
            f"{self.path}:{self.line}:{self.column}:{self.operator.removeprefix('core/')}:{self.occurrence}"
        )

    def source(self) -> str:
        """The file's text with the change. Raises ValueError if there is no such place."""
        changed = mutate_code(
            (ROOT / self.path).read_text("utf-8"), get_operator(self.operator)(), self.occurrence
        )
        if changed is None:
            raise ValueError(f"{self.name} changes nothing")
        return str(changed)

    def difference(self) -> str:
        """The lines before and after."""
        before, after = (ROOT / self.path).read_text("utf-8").splitlines(), self.source().splitlines()
        lines = list(difflib.unified_diff(before, after, n=0, lineterm=""))[3:]
        return " | ".join(f"{line[0]} {line[1:].strip()}" for line in lines if line[:1] in "+-")


def drawn(count: int, seed: int, folder: str = "") -> list[Mutant]:
    """So many changes of the core, drawn by place, so that a place with many operators counts once."""
    draw = random.Random(seed)
    places: dict[tuple[str, int, int], list[Mutant]] = {}
    for path in _files(folder):
        for mutant in mutants_of(path):
            places.setdefault(mutant[:3], []).append(mutant)
    chosen = draw.sample(sorted(places), min(count, len(places)))
    return [draw.choice(places[place]) for place in chosen]


def mutants_of(path: Path) -> Iterator[Mutant]:
    """All changes of one file, but of what is no behaviour."""
    text = path.read_text("utf-8")
    nodes, skipped = list(ast_nodes(get_ast(text))), list(_no_behaviour(ast.parse(text)))
    name = str(path.relative_to(ROOT))
    for operator in OPERATORS:
        tried, occurrence = get_operator(operator)(), 0
        for node in nodes:
            for begin, _end in tried.mutation_positions(node):
                if not any(first <= begin < last for first, last in skipped):
                    yield Mutant(name, begin[0], begin[1], operator, occurrence)
                occurrence += 1


def _files(folder: str) -> list[Path]:
    folders = [name for name in TESTS if name.startswith(folder) or folder.startswith(name)]
    files = sorted(path for name in folders for path in (ROOT / name).rglob("*.py"))
    return [path for path in files if str(path.relative_to(ROOT)).startswith(folder)]


def _no_behaviour(tree: ast.Module) -> Iterator[Span]:
    """Types, decorators, `zip(strict=...)` and how records are shown and compared: nothing that a test could see."""
    for node in ast.walk(tree):
        found: list[ast.AST | None] = []
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            found += [node.returns, *node.decorator_list]
        elif isinstance(node, ast.ClassDef):
            found += node.decorator_list
        elif isinstance(node, ast.arg):
            found.append(node.annotation)
        elif isinstance(node, ast.AnnAssign):
            found.append(node.annotation)
            found.append(node.value if ast.unparse(node.annotation).endswith("TypeAlias") else None)
        elif isinstance(node, ast.keyword) and node.arg in ("strict", "repr", "compare", "slots", "kw_only"):
            found.append(node.value)
        elif isinstance(node, ast.Assert):
            found.append(node)
        for part in found:
            if part is not None:
                yield (part.lineno, part.col_offset), (part.end_lineno, part.end_col_offset)  # type: ignore[attr-defined]
