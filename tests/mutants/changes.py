"""Small changes of a module's source, each of which some test should notice.

Talk does not count: log lines, sentences, what is raised, assertions. Nor do docstrings,
annotations and decorators.
"""

from __future__ import annotations

import ast
import copy
import difflib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

_COMPARE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_PAIRS = [
    ("min", "max"), ("minimum", "maximum"), ("argmin", "argmax"), ("any", "all"),
    ("floor", "ceil"), ("nanmin", "nanmax"),
]  # fmt: skip
_OTHER = dict(_PAIRS) | {two: one for one, two in _PAIRS}
# Calls whose words or effects are for people only, and lists that collect sentences.
_TALK = {"say", "debug", "info", "warning", "error", "exception", "log", "complain", "print",
         "failpoint"}  # fmt: skip
_SENTENCES = {"notes", "says", "told"}
_FEW = 16
_SAME_EITHER_WAY = {*_OTHER, "hypot", "isinstance", "gcd", "suppress"}


@dataclass(frozen=True)
class Mutant:
    """One changed module: where, what kind of change, the text before and after."""

    module: str
    first: int
    last: int
    kind: str
    text: str
    before: str

    def diff(self) -> str:
        """The change as people read it."""
        head = f"{self.module}:{self.first} ({self.kind})"
        lines = difflib.unified_diff(
            self.before.splitlines(), self.text.splitlines(), head, "mutant", lineterm="", n=2
        )
        return "\n".join(lines)


@dataclass(frozen=True)
class Change:
    """A change that can be made of a module's text."""

    module: str
    kind: str
    old: ast.expr | ast.stmt
    new: ast.AST
    before: str

    def made(self) -> Mutant | None:
        """The module with the change; None if it says the same."""
        raw, starts, old = self.before.encode(), _line_starts(self.before), self.old
        assert old.end_lineno is not None and old.end_col_offset is not None
        begin = starts[old.lineno - 1] + old.col_offset
        end = starts[old.end_lineno - 1] + old.end_col_offset
        said = ast.unparse(ast.fix_missing_locations(self.new))
        if isinstance(self.new, ast.expr) and (self.kind != "constant" or said.startswith("-")):
            said = f"({said})"
        text = (raw[:begin] + said.encode() + raw[end:]).decode()
        try:
            if ast.dump(ast.parse(text)) == ast.dump(ast.parse(self.before)):
                return None
        except SyntaxError:
            return None
        return Mutant(self.module, old.lineno, old.end_lineno, self.kind, text, self.before)


def changes_of(root: Path, module: str) -> list[Change]:
    """All changes of a module below `root`, in the order of its lines."""
    text = (root / module).read_text()
    finder = _Finder()
    finder.statements(ast.parse(text).body)
    return [Change(module, kind, old, new, text) for kind, old, new in finder.found]


def _line_starts(text: str) -> list[int]:
    starts, at = [0], 0
    for line in text.encode().splitlines(keepends=True):
        at += len(line)
        starts.append(at)
    return starts


Node = ast.expr | ast.stmt


class _Finder(ast.NodeVisitor):
    """Collects (kind, node to replace, what replaces it)."""

    def __init__(self) -> None:
        self.found: list[tuple[str, Node, ast.AST]] = []

    def _add(self, kind: str, node: Node, change: Callable[[Any], None]) -> None:
        new = copy.deepcopy(node)
        change(new)
        self.found.append((kind, node, new))

    def visit(self, node: ast.AST) -> None:
        silent = (ast.Import, ast.ImportFrom, ast.JoinedStr, ast.Assert, ast.Raise)
        if not isinstance(node, silent) and not _talks(node):
            super().visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in [*node.args.defaults, *filter(None, node.args.kw_defaults)]:
            self.visit(default)
        self.statements(node.body)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self.statements(node.body)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_If(self, node: ast.If) -> None:
        if not (isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"):
            self.visit(node.test)
            self.statements(node.body)
            self.statements(node.orelse)

    def statements(self, body: list[ast.stmt]) -> None:
        """Each statement of a block: what can be left out, and what is in it."""
        for one in body:
            if _can_go(one):
                self.found.append(("statement", one, ast.Pass()))
            self.visit(one)

    def generic_visit(self, node: ast.AST) -> None:
        for name, value in ast.iter_fields(node):
            if name in {"annotation", "returns", "decorator_list", "type_params"}:
                continue
            if name in {"body", "orelse", "finalbody"} and isinstance(value, list):
                self.statements(value)
                continue
            for item in value if isinstance(value, list) else [value]:
                if isinstance(item, ast.AST):
                    self.visit(item)

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):  # a docstring
            self.visit(node.value)

    def visit_Compare(self, node: ast.Compare) -> None:
        for place, op in enumerate(node.ops):
            if type(op) in _COMPARE:
                self._add("compare", node, partial(_put, place=place, one=_COMPARE[type(op)]()))
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        other = ast.Or if isinstance(node.op, ast.And) else ast.And
        self._add("and or", node, lambda new: setattr(new, "op", other()))
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not):
            self.found.append(("not", node, copy.deepcopy(node.operand)))
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        self._swap_sign(node, node.left, node.right)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        self._swap_sign(node, node.value)

    def _swap_sign(self, node: ast.BinOp | ast.AugAssign, *parts: ast.expr) -> None:
        if isinstance(node.op, ast.Add | ast.Sub) and not any(map(_has_text, parts)):
            other = ast.Sub if isinstance(node.op, ast.Add) else ast.Add
            self._add("sign", node, lambda new: setattr(new, "op", other()))
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self._add("constant", node, lambda new: setattr(new, "value", not value))
        elif isinstance(value, int):
            # One more or less of many is hardly another program.
            half = value // 2
            for by in (1, -1) if abs(value) < _FEW else (value, -half):
                self._add("constant", node, partial(_count_on, by=by))

    def visit_Call(self, node: ast.Call) -> None:
        field = "attr" if isinstance(node.func, ast.Attribute) else "id"
        name = getattr(node.func, field, "")
        for place in range(len(node.args) - 1):
            pair = node.args[place : place + 2]
            alike = ast.dump(pair[0]) == ast.dump(pair[1]) or (name == "clip" and place == 0)
            starred = any(isinstance(one, ast.Starred) for one in pair)
            if not (alike or starred or name in _SAME_EITHER_WAY):
                self._add("arguments", node, partial(_swap, place=place))
        if name in _OTHER:
            self._add("extreme", node, lambda new: setattr(new.func, field, _OTHER[name]))
        if name == "zip":  # that its lists are of one length is asserted, not decided
            for arg in node.args:
                self.visit(arg)
        else:
            self.generic_visit(node)


def _put(node: ast.Compare, *, place: int, one: ast.cmpop) -> None:
    node.ops[place] = one


def _count_on(node: ast.Constant, *, by: int) -> None:
    assert isinstance(node.value, int)
    node.value += by


def _swap(node: ast.Call, *, place: int) -> None:
    args = node.args
    args[place], args[place + 1] = args[place + 1], args[place]


def _can_go(one: ast.stmt) -> bool:
    """Whether the module would still make sense without the statement."""
    match one:
        case ast.Expr(value=ast.Call() as call):
            return not _talks(call)
        case ast.AugAssign() | ast.Continue() | ast.Break():
            return True
        case ast.Assign(targets=targets):
            return all(isinstance(target, ast.Attribute | ast.Subscript) for target in targets)
        case ast.If(orelse=[], body=[*_, ast.Return() | ast.Raise() | ast.Continue()]):
            return True
    return False


def _talks(node: ast.AST) -> bool:
    """Whether a call only says something."""
    if not isinstance(node, ast.Call):
        return False
    name = getattr(node.func, "attr", getattr(node.func, "id", ""))
    of = getattr(node.func, "value", None)
    owner = getattr(of, "attr", getattr(of, "id", ""))
    return name in _TALK or (name in {"append", "extend"} and owner in _SENTENCES)


def _has_text(node: ast.expr) -> bool:
    return any(_texts(node))


def _texts(node: ast.expr) -> Iterator[bool]:
    for one in ast.walk(node):
        yield isinstance(one, ast.JoinedStr) or (
            isinstance(one, ast.Constant) and isinstance(one.value, str)
        )
