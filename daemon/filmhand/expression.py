"""A spot function that somebody writes into a profile: arithmetic in x and y, and nothing else.

The text is parsed by Python's own parser and then walked by this module, which knows numbers, x, y,
a few operators and a few functions. Nothing else can be said, so nothing else can happen.
"""

from __future__ import annotations

import ast
import math
import operator
import warnings
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

from filmhand.language import Counted, Sentence
from filmhand.values import dataclass

LONGEST_EXPRESSION = 300
_DEEPEST = 40
_LARGEST_POWER = 16
# The grid that a function is tried on: an even number of steps, so that it holds the middle, the
# sides and the quarters of a cell, where standard spot functions peak.
_STEPS = 40
_EQUAL = 1e-9

_OPERATORS: dict[type, Callable[[Any, Any], Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
# By name: how many arguments, and the function for one number. Angles are in degrees, as in the
# standard spot functions (ISO 32000-1:2008, table 128).
FUNCTIONS: dict[str, tuple[int, Callable[..., float]]] = {
    "abs": (1, abs),
    "sqrt": (1, math.sqrt),
    "exp": (1, math.exp),
    "sin": (1, lambda a: math.sin(math.radians(a))),
    "cos": (1, lambda a: math.cos(math.radians(a))),
    "atan": (2, lambda a, b: math.degrees(math.atan2(a, b))),
    "min": (2, min),
    "max": (2, max),
}


class ExpressionError(ValueError):
    """The text is no spot function; the message completes "must be a function that is …"."""


class FunctionThatIs(Sentence):
    """What a spot function has to be: each completes ``… a function of x and y that is …``."""

    SHORT = "1 to {most} characters long"
    WELL_FORMED = "well formed"
    FLAT = "nested no deeper than {most}"
    OF_SMALL_NUMBERS = "made of numbers under a million"
    OF_SMALL_POWERS = "free of powers but 0 to {most}"
    OF_ARITHMETIC = (
        "made of numbers, x, y, + - * / ** (whole powers), brackets and {functions} only"
    )
    DEFINED = "defined all over the cell, not only outside x = {x}, y = {y}"
    NOT_EVEN = "not the same everywhere, for then no dots can grow"
    WITH_ONE_PEAK = (
        "highest in one place of the cell only, for every such place is a dot of its own"
    )


class FunctionTakes(Counted):
    """How many values one of the functions takes: completes it as well."""

    VALUES = ("sure of {name}, which takes {n} value", "sure of {name}, which takes {n} values")


@dataclass(frozen=True, slots=True)
class Expression:
    """A parsed and tried spot function; ``text`` is as written, without needless blanks."""

    text: str
    tree: ast.expr

    def value(self, x: Any, y: Any, functions: Mapping[str, Callable[..., Any]]) -> Any:
        """The function at x and y, with ``functions`` for those of :data:`FUNCTIONS`."""
        return _value(self.tree, {"x": x, "y": y}, functions)


@lru_cache(maxsize=16)
def read_expression(text: str) -> Expression:
    """Parse a spot function and try it over a cell.

    Raises
    ------
    ExpressionError
        Where the text says anything but arithmetic in x and y, is undefined somewhere in the cell,
        the same everywhere, or highest in several places at once.

    >>> read_expression("1 - (x**2 + y**2)").text
    '1 - (x**2 + y**2)'
    """
    text = " ".join(text.split())
    if not 0 < len(text) <= LONGEST_EXPRESSION:
        raise ExpressionError(FunctionThatIs.SHORT.say(most=LONGEST_EXPRESSION))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # odd code is refused below, not remarked upon
            tree = ast.parse(text, mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        raise ExpressionError(FunctionThatIs.WELL_FORMED.say()) from error
    _must_be_known(tree, _DEEPEST)
    found = Expression(text, tree)
    _must_have_one_peak(found)
    return found


def _must_be_known(node: ast.AST, depth: int) -> None:
    """Raise unless the tree holds only what :func:`_value` knows."""
    if depth == 0:
        raise ExpressionError(FunctionThatIs.FLAT.say(most=_DEEPEST))
    match node:
        case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
            if not abs(number) < 1e6:
                raise ExpressionError(FunctionThatIs.OF_SMALL_NUMBERS.say())
            return
        case ast.Name(id="x" | "y"):
            return
        case ast.UnaryOp(op=ast.USub() | ast.UAdd()):
            parts: list[ast.expr] = [node.operand]
        case ast.BinOp(op=ast.Add() | ast.Sub() | ast.Mult() | ast.Div()):
            parts = [node.left, node.right]
        case ast.BinOp(op=ast.Pow(), right=ast.Constant(value=int() as power)):
            if power > _LARGEST_POWER:  # a number is never negative here, minus is an operation
                raise ExpressionError(FunctionThatIs.OF_SMALL_POWERS.say(most=_LARGEST_POWER))
            parts = [node.left]
        case ast.Call(func=ast.Name(id=name), keywords=[]) if name in FUNCTIONS:
            parts = node.args
            needed = FUNCTIONS[name][0]
            if len(parts) != needed or any(isinstance(p, ast.Starred) for p in parts):
                raise ExpressionError(FunctionTakes.VALUES.say(needed, name=name))
        case _:
            functions = ", ".join(FUNCTIONS)
            raise ExpressionError(FunctionThatIs.OF_ARITHMETIC.say(functions=functions))
    for part in parts:
        _must_be_known(part, depth - 1)


def _value(
    node: ast.expr, names: Mapping[str, Any], functions: Mapping[str, Callable[..., Any]]
) -> Any:
    match node:
        case ast.Constant():
            return float(node.value)  # type: ignore[arg-type]  # held by _must_be_known
        case ast.Name():
            return names[node.id]
        case ast.UnaryOp():
            inner = _value(node.operand, names, functions)
            return -inner if isinstance(node.op, ast.USub) else inner
        case ast.BinOp(op=ast.Pow(), right=ast.Constant(value=int() as power)):
            return _value(node.left, names, functions) ** power
        case ast.BinOp():
            left, right = (_value(part, names, functions) for part in (node.left, node.right))
            return _OPERATORS[type(node.op)](left, right)
        case ast.Call(func=ast.Name(id=name)):
            return functions[name](*(_value(part, names, functions) for part in node.args))
    raise AssertionError("held by _must_be_known")


def _must_have_one_peak(found: Expression) -> None:
    """Raise unless the function is defined all over the cell and one dot grows in it.

    A function with several equal peaks makes several dots a cell, and so another lpi than is asked.
    """
    functions = {name: function for name, (_, function) in FUNCTIONS.items()}
    values: dict[tuple[int, int], float] = {}
    for i in range(_STEPS):
        for j in range(_STEPS):
            x, y = (2 * k / _STEPS - 1 for k in (i, j))
            try:
                value = float(found.value(x, y, functions))
            except (ArithmeticError, ValueError, TypeError):
                value = math.nan
            if not math.isfinite(value):
                raise ExpressionError(FunctionThatIs.DEFINED.say(x=f"{x:g}", y=f"{y:g}"))
            values[i, j] = value
    low, high = min(values.values()), max(values.values())
    spare = _EQUAL * max(1.0, abs(low), abs(high))
    if high - low <= spare:
        raise ExpressionError(FunctionThatIs.NOT_EVEN.say())
    peaks = {place for place, value in values.items() if value >= high - spare}
    if _count_pieces(peaks) > 1:
        raise ExpressionError(FunctionThatIs.WITH_ONE_PEAK.say())


def _count_pieces(places: set[tuple[int, int]]) -> int:
    """How many groups of places touch, also at corners and over the edges of the cell."""
    left, count = set(places), 0
    while left:
        count += 1
        front = [left.pop()]
        while front:
            i, j = front.pop()
            for di in (-1, 0, 1):
                for dj in (-1, 0, 1):
                    beside = ((i + di) % _STEPS, (j + dj) % _STEPS)
                    if beside in left:
                        left.remove(beside)
                        front.append(beside)
    return count
