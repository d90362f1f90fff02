"""
Small faults in a Python module, one at a time, as changes of its syntax tree.

The kinds are the five that Offutt and others found sufficient ("An experimental determination of
sufficient mutant operators", ACM Transactions on Software Engineering and Methodology 5(2), 1996;
from memory) as far as Python has them, the deletion of statements, and what tables and texts can
get wrong: a row left out, a key changed, a clause of SQL turned round.

Left alone: annotations, decorators, docstrings, asserts that only narrow a type, and the words of
messages to people (texts with a space that are no SQL).
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from tests.benchmarks.mutant_sql import is_sql, sql_faults

Put = Callable[[Any], None]


@dataclass(frozen=True, slots=True)
class Mutant:
    """
    One fault.

    Args:
        file: The module, from the top of the tree.
        number: Which of the module's faults, from 0.
        line: Where it stands.
        scope: The outermost function or method that holds it; empty for the module itself.
        kind: What was done.
        before: The place as it was.
        after: The place as it is now.
    """

    file: str
    number: int
    line: int
    scope: str
    kind: str
    before: str
    after: str

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What tells it from others, whatever moves above it."""
        return self.file, self.scope, self.before, self.after


@dataclass
class _Change:
    node: Any
    kind: str
    put: Put
    new: Any
    scope: str


_COMPARED: dict[type, type] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_RECKONED: dict[type, type] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Add,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitOr,
    ast.Pow: ast.Mult,
}
_CALLED = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "sorted": "list",
    "reversed": "list",
    "startswith": "endswith",
    "endswith": "startswith",
    "partition": "rpartition",
    "rpartition": "partition",
    "find": "rfind",
    "rfind": "find",
    "lower": "upper",
    "upper": "lower",
    "removeprefix": "removesuffix",
}
_APART = {"annotation", "returns", "decorator_list", "format_spec", "type_params", "bases"}


class _Finder:
    """Walks a tree and notes every change that can be made in it."""

    def __init__(self) -> None:
        self.changes: list[_Change] = []
        self.scope = ""

    def note(self, node: Any, kind: str, put: Put, new: Any) -> None:
        """One change."""
        self.changes.append(_Change(node, kind, put, new, self.scope))

    def walk(self, node: ast.AST, put: Put, *, prefix: str = "") -> None:
        """Note the changes of a node and of all below it."""
        if isinstance(node, ast.Assert) or _is_type_checking(node):
            return
        outermost = not self.scope and isinstance(node, ast.FunctionDef)
        if outermost:
            assert isinstance(node, ast.FunctionDef)
            for field, value in ast.iter_fields(node):  # defaults belong to the module
                if field == "args":
                    self._fields(value, prefix)
            self.scope = prefix + node.name
            self._list(node, "body", prefix)
            self.scope = ""
            return
        for kind, new in _faults(node, inside=bool(self.scope)):
            self.note(node, kind, put, new)
        if isinstance(node, ast.JoinedStr) and _is_prose(node):
            for part in node.values:
                if isinstance(part, ast.FormattedValue):
                    self._fields(part, prefix)
            return
        self._fields(node, f"{prefix}{node.name}." if isinstance(node, ast.ClassDef) else prefix)

    def _fields(self, node: ast.AST, prefix: str) -> None:
        for field, value in ast.iter_fields(node):
            if field in _APART:
                continue
            if isinstance(value, list):
                self._list(node, field, prefix)
            elif isinstance(value, ast.AST):
                self.walk(value, _setter(node, field), prefix=prefix)

    def _list(self, node: ast.AST, field: str, prefix: str) -> None:
        inside: list[Any] = getattr(node, field)
        for place, one in enumerate(inside):
            if isinstance(one, ast.AST) and not _is_docstring(one):
                self.walk(one, _putter(inside, place), prefix=prefix)


def _setter(node: ast.AST, field: str) -> Put:
    return lambda new: setattr(node, field, new)


def _putter(inside: list[Any], place: int) -> Put:
    return lambda new: inside.__setitem__(place, new)


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_type_checking(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.If)
        and isinstance(node.test, ast.Name)
        and node.test.id == "TYPE_CHECKING"
    )


def _is_prose(node: ast.JoinedStr) -> bool:
    """Whether a formatted text is a message: it has spaces, and is no SQL."""
    texts = [str(part.value) for part in node.values if isinstance(part, ast.Constant)]
    return any(" " in text for text in texts) and not any(map(is_sql, texts))


def _faults(node: ast.AST, *, inside: bool) -> Iterator[tuple[str, ast.AST]]:
    """Kind and new node of each fault at one node."""
    if isinstance(node, ast.stmt):
        yield from _of_statement(node, inside=inside)
    elif isinstance(node, ast.Constant):
        yield from _of_constant(node)
    elif isinstance(node, ast.expr):
        yield from _of_expression(node)
        yield from _of_collection(node)
    elif isinstance(node, ast.comprehension):
        for place in range(len(node.ifs)):
            yield (
                "condition",
                ast.comprehension(
                    node.target,
                    node.iter,
                    [*node.ifs[:place], *node.ifs[place + 1 :]],
                    node.is_async,
                ),
            )
    elif isinstance(node, ast.ExceptHandler) and node.type:
        nothing = ast.Tuple([], ast.Load())
        yield "catches nothing", ast.ExceptHandler(nothing, node.name, node.body)
    elif isinstance(node, ast.Slice):
        if node.lower:
            yield "slice", ast.Slice(None, node.upper, node.step)
        if node.upper:
            yield "slice", ast.Slice(node.lower, None, node.step)


def _of_statement(node: ast.stmt, *, inside: bool) -> Iterator[tuple[str, ast.AST]]:
    match node:
        case ast.Expr() | ast.AugAssign() | ast.Raise() | ast.Delete():
            yield "left out", ast.Pass()
        case ast.Assign(value=value) if inside and not _is_none(value):
            yield "nothing assigned", ast.Assign(node.targets, ast.Constant(None), lineno=1)
        case ast.AnnAssign(value=ast.expr() as value) if inside and not _is_none(value):
            yield (
                "nothing assigned",
                ast.AnnAssign(node.target, node.annotation, ast.Constant(None), node.simple),
            )
        case ast.Return(value=ast.expr() as value) if not _is_none(value):
            yield "nothing returned", ast.Return(ast.Constant(None))
        case ast.Return():
            yield "left out", ast.Pass()
        case ast.Continue():
            yield "break", ast.Break()
            yield "left out", ast.Pass()
        case ast.Break():
            yield "left out", ast.Pass()
        case ast.For():
            empty = ast.Tuple([], ast.Load())
            yield "never runs", ast.For(node.target, empty, node.body, node.orelse, None)
        case ast.If():
            yield "always", ast.If(ast.Constant(True), node.body, node.orelse)
            yield "never", ast.If(ast.Constant(False), node.body, node.orelse)
        case ast.While():
            yield "never", ast.While(ast.Constant(False), node.body, node.orelse)
        case ast.With() if all(item.optional_vars is None for item in node.items):
            yield "without its guard", ast.If(ast.Constant(True), node.body, [])
        case ast.Match() if len(node.cases) > 1:
            for place in range(len(node.cases)):
                kept = [*node.cases[:place], *node.cases[place + 1 :]]
                yield "case left out", ast.Match(node.subject, kept)
        case ast.Try() if node.finalbody and node.handlers:
            yield "no finally", ast.Try(node.body, node.handlers, node.orelse, [])


def _is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _of_constant(node: ast.Constant) -> Iterator[tuple[str, ast.AST]]:
    value = node.value
    if isinstance(value, bool):
        yield "turned", ast.Constant(not value)
    elif isinstance(value, int):
        yield "one more", ast.Constant(value + 1)
    elif isinstance(value, bytes):
        yield "other bytes", ast.Constant(value + b"X")
    elif isinstance(value, str) and is_sql(value):
        for text in sql_faults(value):
            yield "SQL", ast.Constant(text)
    elif isinstance(value, str) and (" " not in value.strip() or not value.strip()):
        yield "other text", ast.Constant("XX" + value)


def _of_expression(node: ast.expr) -> Iterator[tuple[str, ast.AST]]:
    match node:
        case ast.Compare():
            for place, op in enumerate(node.ops):
                ops = [*node.ops[:place], _COMPARED[type(op)](), *node.ops[place + 1 :]]
                yield "comparison", ast.Compare(node.left, ops, node.comparators)
        case ast.BoolOp():
            other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield "logic", ast.BoolOp(other, node.values)
            for place in range(len(node.values)):
                rest = [*node.values[:place], *node.values[place + 1 :]]
                yield "part left out", ast.BoolOp(node.op, rest) if len(rest) > 1 else rest[0]
        case ast.UnaryOp():
            yield "unary", node.operand
        case ast.BinOp(op=op) if type(op) in _RECKONED:
            yield "reckoning", ast.BinOp(node.left, _RECKONED[type(op)](), node.right)
        case ast.IfExp():
            yield "always", node.body
            yield "never", node.orelse
        case ast.Call():
            for place in range(len(node.keywords)):
                kept = [*node.keywords[:place], *node.keywords[place + 1 :]]
                yield "argument left out", ast.Call(node.func, node.args, kept)
            match node.func:
                case ast.Name(id=name) if name in _CALLED:
                    function: ast.expr = ast.Name(_CALLED[name], ast.Load())
                    kept = [] if _CALLED[name] == "list" else node.keywords
                    yield "another call", ast.Call(function, node.args, kept)
                case ast.Attribute(value=value, attr=name) if name in _CALLED:
                    function = ast.Attribute(value, _CALLED[name], ast.Load())
                    yield "another call", ast.Call(function, node.args, node.keywords)


def _of_collection(node: ast.expr) -> Iterator[tuple[str, ast.AST]]:
    match node:
        case (
            ast.Tuple(elts=elts, ctx=ast.Load())
            | ast.List(elts=elts, ctx=ast.Load())
            | ast.Set(elts=elts)
        ):
            for place in range(len(elts)):
                kept = [*elts[:place], *elts[place + 1 :]]
                if kept or not isinstance(node, ast.Set):
                    yield "member left out", _like(node, kept)
        case ast.Dict():
            for place in range(len(node.keys)):
                keys = [*node.keys[:place], *node.keys[place + 1 :]]
                values = [*node.values[:place], *node.values[place + 1 :]]
                yield "member left out", ast.Dict(keys, values)


def _like(node: ast.expr, elts: list[ast.expr]) -> ast.expr:
    if isinstance(node, ast.Set):
        return ast.Set(elts)
    return ast.List(elts, ast.Load()) if isinstance(node, ast.List) else ast.Tuple(elts, ast.Load())


def _found(source: str) -> tuple[ast.Module, list[_Change]]:
    tree, finder = ast.parse(source), _Finder()
    finder.walk(tree, lambda new: None)
    return tree, finder.changes


def _shown(node: ast.AST) -> str:
    """The place in one line."""
    text = " ".join(ast.unparse(ast.fix_missing_locations(node)).split())
    return text if len(text) <= 160 else f"{text[:100]} ... {text[-55:]}"


def make_mutants(file: str, source: str) -> tuple[Mutant, ...]:
    """All faults of a module."""
    _, changes = _found(source)
    made = []
    for number, change in enumerate(changes):
        before = _shown(change.node)
        line = getattr(change.node, "lineno", 0) or getattr(change.new, "lineno", 0)
        line = line or change.node.target.lineno  # a comprehension stands nowhere by itself
        made.append(
            Mutant(file, number, line, change.scope, change.kind, before, _shown(change.new))
        )
    return tuple(made)


def mutate(source: str, number: int) -> ast.Module:
    """The module's tree with one of its faults."""
    tree, changes = _found(source)
    change = changes[number]
    if isinstance(change.node, ast.stmt | ast.expr):
        ast.copy_location(change.new, change.node)
    change.put(change.new)
    return ast.fix_missing_locations(tree)
