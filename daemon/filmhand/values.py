"""Classes of values: the standard library's dataclass, for which no code is compiled.

That one writes and compiles up to six methods of each class while its module is loaded: of a
job's start it was two fifths (``tests/benchmarks/imports.py``), and most of them are never called.
Here all classes share them. Fields, defaults, slots, ``replace``, ``asdict`` and the like are the
standard library's own; type checkers are shown its decorator.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import MISSING, Field, FrozenInstanceError, fields
from dataclasses import dataclass as _standard_dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Any, NoReturn

_put = object.__setattr__  # also past the guard of a frozen class


def make_dataclass_of(
    plain: type | None = None,
    /,
    *,
    frozen: bool = False,
    slots: bool = False,
    eq: bool = True,
    repr: bool = True,
    kw_only: bool = False,
) -> Any:
    """As :func:`dataclasses.dataclass`, with which these parameters are shared.

    Nothing of a frozen one's can be set or deleted, nor can that of a class derived from it.
    """
    if plain is None:
        return lambda given: make_dataclass_of(
            given, frozen=frozen, slots=slots, eq=eq, repr=repr, kw_only=kw_only
        )
    if plain.__doc__ is None:
        plain.__doc__ = plain.__name__  # the standard library would work out a signature
    made: Any = _standard_dataclass(
        init=False, repr=False, eq=False, slots=slots, kw_only=kw_only, match_args=True
    )(plain)
    every = fields(made)
    methods: dict[str, Any] = {"__init__": _init_of(every, hasattr(made, "__post_init__"))}
    if repr:
        methods["__repr__"] = _shown
    if eq:
        methods["__eq__"] = _eq_of(_getter(one.name for one in every if one.compare))
        hashed = (one.name for one in every if (one.compare if one.hash is None else one.hash))
        methods["__hash__"] = _hash_of(_getter(hashed)) if frozen else None
    if frozen:
        methods |= {"__setattr__": _refuse, "__delattr__": _refuse}
        if slots:
            methods |= {"__getstate__": _state, "__setstate__": _restore}
    for name in methods.keys() - _own_methods(plain):
        setattr(made, name, methods[name])
    return made


def _own_methods(plain: type) -> set[str]:
    """What the class defines itself; Python gives one that defines equality a hash of None."""
    own = set(vars(plain))
    return own - {"__hash__"} if vars(plain).get("__hash__") is None else own


def _init_of(every: Sequence[Field[Any]], is_completed: bool) -> Callable[..., None]:
    """``__init__`` of these fields; ``is_completed`` is whether ``__post_init__`` follows."""
    in_order = [one.name for one in every if one.init and not one.kw_only]
    most = len(in_order)
    names = [*in_order, *(one.name for one in every if one.init and one.kw_only)]
    count = len(names)
    defaults = {one.name: one.default for one in every if one.default is not MISSING}
    factories = {
        one.name: one.default_factory for one in every if one.default_factory is not MISSING
    }
    not_given = [one.name for one in every if not one.init]
    not_given = [name for name in not_given if name in defaults or name in factories]

    def take(self: Any, /, *given: Any, **named: Any) -> None:
        for name, value in zip(in_order, given):  # noqa: B905 - what is too much is told below
            _put(self, name, value)
        if len(given) < count:
            for name in names[len(given) :]:
                if name in named:
                    _put(self, name, named.pop(name))
                else:
                    _put(self, name, _default_of(self, name, defaults, factories))
        if named or len(given) > most:
            raise TypeError(_too_much(self, most, given, named))
        for name in not_given:
            _put(self, name, _default_of(self, name, defaults, factories))
        if is_completed:
            self.__post_init__()

    return take


def _default_of(
    one: object, name: str, defaults: Mapping[str, Any], factories: Mapping[str, Callable[[], Any]]
) -> Any:
    if name in defaults:
        return defaults[name]
    if name in factories:
        return factories[name]()
    raise TypeError(f"{type(one).__name__} lacks a value for {name!r}")


def _too_much(one: object, most: int, given: Sequence[Any], named: Iterable[str]) -> str:
    told = f"{len(given)} values" if len(given) > most else ", ".join(map(repr, named))
    return f"{type(one).__name__} takes {most} values by place, each field once; given {told}"


def _getter(names: Iterator[str]) -> Callable[[Any], tuple[Any, ...]]:
    """What gives the values of these fields as a tuple, of which Python knows how to compare."""
    found = tuple(names)
    if len(found) > 1:
        return attrgetter(*found)
    return lambda one: tuple([getattr(one, name) for name in found])


def _eq_of(values_of: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any, object], Any]:
    def equals(self: Any, other: object) -> Any:
        if other.__class__ is self.__class__:
            return values_of(self) == values_of(other)
        return NotImplemented

    return equals


def _hash_of(values_of: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any], int]:
    return lambda self: hash(values_of(self))


def _shown(self: Any) -> str:
    told = (f"{one.name}={getattr(self, one.name)!r}" for one in fields(self) if one.repr)
    return f"{type(self).__qualname__}({', '.join(told)})"


def _refuse(self: object, name: str, *_value: object) -> NoReturn:
    raise FrozenInstanceError(f"{type(self).__name__} is frozen: {name!r} stays as it is")


def _state(self: Any) -> list[Any]:
    """For pickle and copy, which would set attributes one by one."""
    return [getattr(self, one.name) for one in fields(self)]


def _restore(self: Any, state: Sequence[Any]) -> None:
    for one, value in zip(fields(self), state, strict=True):
        _put(self, one.name, value)


if TYPE_CHECKING:
    from dataclasses import dataclass

    __all__ = ["dataclass", "make_dataclass_of"]
else:
    dataclass = make_dataclass_of
