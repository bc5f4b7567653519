"""Tables of rows: what the standard library's enumerations do for us, with less work at the start.

A job loads some thousand rows of sentences, and as members of ``enum.Enum`` they were a tenth of
what its start takes (``valgrind --tool=callgrind``, as in DEVELOPERS.md). Type checkers are shown
the standard library's classes, and rows behave as their members do: there is one of each, they
come in the order they are written in, and one of the same value as an earlier one is that row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from operator import attrgetter
from types import MappingProxyType
from typing import TYPE_CHECKING, Any


class _Table(type):
    """The class of tables: texts and tuples in their bodies become rows.

    A table with a ``__new__`` of its own makes its rows of the values that they are written with,
    and sets ``_value_``, as an enumeration's would.
    """

    _by_name: dict[str, Any]
    _by_value: dict[Any, Any]

    def __new__(cls, name: str, bases: tuple[type, ...], body: dict[str, Any]) -> _Table:
        rows = {
            key: value
            for key, value in body.items()
            if key[0] != "_" and isinstance(value, str | tuple)
        }
        for key in rows:
            del body[key]
        if "__new__" not in body:  # which puts further values of a row into attributes
            body.setdefault("__slots__", ())
        table = super().__new__(cls, name, bases, body)
        by_name: dict[str, Any] = {}
        by_value: dict[Any, Any] = {}
        make: Any = table.__new__
        put = type.__setattr__
        for key, value in rows.items():
            row = make(table, *value) if isinstance(value, tuple) else make(table, value)
            if not hasattr(row, "_value_"):
                row._value_ = value
            row.name = key
            row = by_value.setdefault(row._value_, row)
            by_name[key] = row
            put(table, key, row)
        put(table, "_by_name", by_name)
        put(table, "_by_value", by_value)
        return table

    def __call__(cls, value: object) -> Any:
        """The row of a value."""
        try:
            return cls._by_value[value]
        except (KeyError, TypeError):  # or a value that none can be
            raise ValueError(f"{value!r} is not a valid {cls.__qualname__}") from None

    def __getitem__(cls, name: str) -> Any:
        return cls._by_name[name]

    def __iter__(cls) -> Iterator[Any]:
        return iter(cls._by_value.values())

    def __len__(cls) -> int:
        return len(cls._by_value)

    def __bool__(cls) -> bool:
        return True

    def __contains__(cls, row: object) -> bool:
        return isinstance(row, cls)

    @property
    def __members__(cls) -> Mapping[str, Any]:
        """Every row by its name."""
        return MappingProxyType(cls._by_name)

    def __setattr__(cls, name: str, value: object) -> None:
        if name in cls.__dict__.get("_by_name", ()):
            raise AttributeError(f"cannot reassign member {name!r}")
        super().__setattr__(name, value)

    def __delattr__(cls, name: str) -> None:
        if name in cls._by_name:
            raise AttributeError(f"{cls.__name__!r} cannot delete member {name!r}.")
        super().__delattr__(name)


if TYPE_CHECKING:
    from enum import Enum as Table
    from enum import StrEnum as TableOfTexts

    __all__ = ["Table", "TableOfTexts"]
else:

    def _shown(row):
        """As a member of an enumeration is shown."""
        return f"<{type(row).__name__}.{row.name}: {row.value!r}>"

    def _reduced(row, _protocol):
        """For pickle and copy: the row itself, by its value."""
        return type(row), (row.value,)

    class Table(metaclass=_Table):
        """As ``enum.Enum``."""

        __slots__ = ("_value_", "name")
        value = property(attrgetter("_value_"))
        __repr__ = _shown
        __reduce_ex__ = _reduced

        def __new__(cls, *_value):
            """A row, which its table then gives its value and name."""
            return object.__new__(cls)

    class TableOfTexts(str, metaclass=_Table):
        """As ``enum.StrEnum``."""

        __slots__ = ("_value_", "name")
        value = property(attrgetter("_value_"))
        __repr__ = _shown
        __reduce_ex__ = _reduced
