"""Enumerations whose members are words that carry a row of further values."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, Self


class RowEnum(StrEnum):
    """Members are their word; the rest of their row goes by the names annotated in the class."""

    def __new__(cls, word: str, *row: Any) -> Self:
        """A member of its word and its row."""
        member = str.__new__(cls, word)
        member._value_ = word
        for name, value in zip(cls.__annotations__, row, strict=True):
            setattr(member, name, value)
        return member
