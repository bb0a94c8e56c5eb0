"""Which small changes may be made in a source: one place each, and each a Python that parses.

A comparison, a boolean, a number, an operator, what is returned, or a statement that is left out. Texts, annotations
and decorators are left as they are.
"""

import ast
import copy
import difflib
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.Mod: ast.Add,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One changed place: bytes `start` to `end` of a file, and what stands there instead."""

    file: str
    line: int
    start: int
    end: int
    becomes: str

    def applied(self, source: bytes) -> bytes:
        return source[: self.start] + self.becomes.encode() + source[self.end :]

    def difference(self, source: bytes) -> str:
        was, now = (text.decode().splitlines() for text in (source, self.applied(source)))
        return "\n".join(difflib.unified_diff(was, now, self.file, self.file, n=0, lineterm=""))


def changes(node: ast.AST) -> Iterator[str]:
    """What may stand in the place of a node."""
    match node:
        case ast.Compare():
            for number, operator in enumerate(node.ops):
                other = copy.deepcopy(node)
                other.ops[number] = COMPARISONS[type(operator)]()
                yield f"({ast.unparse(other)})"
        case ast.BoolOp():
            yield f"({ast.unparse(ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values))})"
        case ast.UnaryOp(op=ast.Not()):
            yield f"({ast.unparse(node.operand)})"
        case ast.BinOp() if type(node.op) in OPERATORS:
            yield f"({ast.unparse(ast.BinOp(node.left, OPERATORS[type(node.op)](), node.right))})"
        case ast.Constant(value=bool()):
            yield str(not node.value)
        case ast.Constant(value=int() | float()):
            yield f"({node.value!r} + 1)"
        case ast.Return(value=ast.expr()) if not isinstance(node.value, ast.Constant):
            yield "return None"
        case ast.Expr(value=ast.Call()) | ast.AugAssign() | ast.Raise() | ast.Continue() | ast.Break():
            yield "pass"


def left_alone(node: ast.AST) -> Iterator[ast.AST]:
    """The children of a node in which nothing is changed: annotations, decorators, and texts with values in them."""
    for name in ("annotation", "returns", "decorator_list"):
        found = getattr(node, name, None)
        yield from found if isinstance(found, list) else [found] if found is not None else []
    yield from (one for one in ast.iter_child_nodes(node) if isinstance(one, ast.JoinedStr))


def mutants_of(source: bytes, file: str) -> list[Mutant]:
    """Every mutant of a file, in the order of their places."""
    begins = [0]
    for line in source.splitlines(keepends=True):
        begins.append(begins[-1] + len(line))
    found, waiting = [], [ast.parse(source)]
    while waiting:
        node = waiting.pop()
        if isinstance(node, (ast.expr, ast.stmt)):
            assert node.end_lineno is not None
            assert node.end_col_offset is not None
            start = begins[node.lineno - 1] + node.col_offset
            end = begins[node.end_lineno - 1] + node.end_col_offset
            found += [Mutant(file, node.lineno, start, end, becomes) for becomes in changes(node)]
        alone = set(map(id, left_alone(node)))
        waiting += [one for one in ast.iter_child_nodes(node) if id(one) not in alone]  # type: ignore[misc]
    return sorted(found, key=lambda one: (one.start, one.end, one.becomes))


def parses(mutant: Mutant, source: bytes) -> bool:
    """Whether a mutant is Python; a sum, say, cannot stand in a pattern."""
    try:
        ast.parse(mutant.applied(source))
    except SyntaxError:
        return False
    return True


def chosen(paths: Sequence[str], seed: int, count: int, root: Path = ROOT) -> list[Mutant]:
    """A sample of all mutants below some paths; the same seed over the same files gives the same."""
    below = [[root / path] if path.endswith(".py") else (root / path).rglob("*.py") for path in paths]
    sources = {file.relative_to(root).as_posix(): file.read_bytes() for found in below for file in found}
    every = [one for file in sorted(sources) for one in mutants_of(sources[file], file)]
    random.Random(seed).shuffle(every)
    return list(islice((one for one in every if parses(one, sources[one.file])), count))
