"""Strict forms for what is read back from folders in which others can write.

A form is a function that gives back the value it was given, or raises ValueError. Everything that
filmhand wrote fits its form; what somebody forged, or a disk spoiled, does not, and is not used.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from typing import Any

from filmhand.disk.beneath import IRREGULAR, Beneath, is_single
from filmhand.disk.disk_words import FormWord
from filmhand.disk.file_names import NAME_BYTES

Form = Callable[[Any], Any]
TEXT = 10_000  # characters of one text
MANY = 100_000  # members of one list


def read_json(path: Beneath, most: int) -> Any:
    """The value in a regular file of at most `most` bytes.

    ValueError for anything else that a file may hold; OSError if it cannot be read, of
    :data:`filmhand.disk.beneath.IRREGULAR` if it is no file.
    """
    return parsed(path.read_bytes(most))


@contextmanager
def reading_notes(folder: Beneath) -> Iterator[None]:
    """Within it a folder's own notes are read: what they cannot be is a ValueError that names it.

    So are missing ones, and what is no file in their place; other errors of the system stay.
    """
    try:
        yield
    except FileNotFoundError as error:
        raise ValueError(FormWord.NO_NOTES.say(folder=folder)) from error
    except ValueError as error:
        raise ValueError(FormWord.WRONG_NOTES.say(folder=folder, why=error)) from error
    except OSError as error:
        if error.errno not in IRREGULAR:
            raise
        raise ValueError(FormWord.WRONG_NOTES.say(folder=folder, why=error.strerror)) from error


def parsed(data: bytes) -> Any:
    """The value that JSON says; ValueError for what is no JSON, or is nested too deep."""
    try:
        return json.loads(data, parse_constant=_no_number)
    except RecursionError:
        raise ValueError(FormWord.TOO_DEEP.say()) from None


def _no_number(word: str) -> None:
    raise ValueError(FormWord.NO_JSON_NUMBER.say(value=word))


def _is_a(value: object, kind: type) -> None:
    if type(value) is not kind:  # an exact type: true is no number
        raise ValueError(FormWord.NOT_OF_KIND.say(value=_short(value), kind=kind.__name__))


def _short(value: object) -> str:
    return repr(value)[:60]


def text(pattern: str = "(?s:.*)", *, longest: int = TEXT) -> Form:
    """A text that matches the whole `pattern` and has at most so many characters.

    It can be written as UTF-8: names that are not have a form of their own, :func:`raw_name`.
    """
    whole_of = re.compile(pattern)

    def form(value: Any) -> Any:
        _is_a(value, str)
        value.encode()
        if len(value) > longest or not whole_of.fullmatch(value):
            raise ValueError(FormWord.NO_SUCH_TEXT.say(value=_short(value)))
        return value

    return form


def one_word_of(words: Collection[str]) -> Form:
    """One of these words."""

    def form(value: Any) -> Any:
        _is_a(value, str)
        if value not in words:
            known = ", ".join(sorted(words))
            raise ValueError(FormWord.NONE_OF.say(value=_short(value), words=known))
        return value

    return form


def single_name(value: Any) -> Any:
    """The name of one thing in a folder, no longer than file systems hold."""
    if not is_single(value) or len(os.fsencode(value)) > NAME_BYTES:
        raise ValueError(FormWord.NO_SINGLE_NAME.say(value=_short(value)))
    return value


def raw_name(value: Any) -> Any:
    """A name as a customer's file system has it, perhaps with a path before it; for telling."""
    _is_a(value, str)
    if len(os.fsencode(value)) > TEXT:
        raise ValueError(FormWord.TOO_LONG.say(value=_short(value)))
    return value


def truth(value: Any) -> Any:
    """True or false."""
    _is_a(value, bool)
    return value


def whole_number(least: int, most: int) -> Form:
    """A whole number from `least` to `most`."""

    def form(value: Any) -> Any:
        _is_a(value, int)
        if not least <= value <= most:
            raise ValueError(FormWord.OUT_OF_RANGE.say(value=_short(value), least=least, most=most))
        return value

    return form


def any_number(value: Any) -> Any:
    """A number that is finite as a float."""
    if type(value) not in {int, float} or not -1e300 < value < 1e300:
        raise ValueError(FormWord.NO_NUMBER.say(value=_short(value)))
    return value


def optional(form: Form) -> Form:
    """What `form` takes, or null."""
    return lambda value: None if value is None else form(value)


def either(*forms: Form) -> Form:
    """What the first of the forms takes that takes it."""

    def form(value: Any) -> Any:
        for one in forms[:-1]:
            try:
                return one(value)
            except ValueError:
                continue
        return forms[-1](value)

    return form


def several(form: Form, *, least: int = 0, most: int = MANY) -> Form:
    """A list of what `form` takes."""

    def all_of(value: Any) -> Any:
        _is_a(value, list)
        if not least <= len(value) <= most:
            raise ValueError(
                FormWord.COUNT_OUT_OF_RANGE.say(found=len(value), least=least, most=most)
            )
        return [form(one) for one in value]

    return all_of


def row(*forms: Form) -> Form:
    """A list with one value for each of the forms."""

    def form(value: Any) -> Any:
        _is_a(value, list)
        if len(value) != len(forms):
            raise ValueError(FormWord.WRONG_COUNT.say(found=len(value), needed=len(forms)))
        return [one(member) for one, member in zip(forms, value, strict=True)]

    return form


def table(keys: Form, values: Form, *, most: int = MANY) -> Form:
    """An object whose keys and values all fit."""

    def form(value: Any) -> Any:
        _is_a(value, dict)
        if len(value) > most:
            raise ValueError(FormWord.TOO_MANY_KEYS.say(found=len(value), most=most))
        return {keys(key): values(one) for key, one in value.items()}

    return form


def record(
    needed: Mapping[str, Form], more: Mapping[str, Form] | None = None, *, closed: bool = True
) -> Form:
    """An object with the `needed` keys and perhaps some `more`.

    One that is not `closed` may have keys besides, which are left out of the answer.
    """
    known = {**needed, **(more or {})}

    def form(value: Any) -> Any:
        _is_a(value, dict)
        if missing := needed.keys() - value.keys():
            raise ValueError(FormWord.MISSING.say(keys=", ".join(sorted(missing))))
        if closed and (besides := value.keys() - known.keys()):
            raise ValueError(FormWord.NOT_KNOWN.say(keys=_short(sorted(besides))))
        return {key: known[key](one) for key, one in value.items() if key in known}

    return form


def anything(value: Any, depth: int = 30) -> Any:
    """Any value that JSON can hold, nested no deeper than filmhand's own records are."""
    if depth <= 0:
        raise ValueError(FormWord.TOO_DEEP.say())
    if isinstance(value, dict):
        for one in value.values():
            anything(one, depth - 1)
    elif isinstance(value, list):
        for one in value:
            anything(one, depth - 1)
    elif type(value) in {int, float}:
        any_number(value)
    return value


def any_object(value: Any) -> Any:
    """Any object; its values are whatever JSON can hold."""
    _is_a(value, dict)
    return anything(value)


# --- what several files tell ---------------------------------------------------------------------

JOB_ID = text(r"\d{8}T\d{6}-[0-9a-f]{8}")
PRINT_ID = text(r"\d{8}T\d{12}-[0-9a-f]{8}-\d{5}")  # time of publication, chance, which film
SHA256 = text("[0-9a-f]{64}")
TIME = text(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def is_day(text: str) -> bool:
    """True for a day of the calendar, as 2026-03-01."""
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def day(value: Any) -> Any:
    """A day of the calendar."""
    _is_a(value, str)
    if not is_day(value):
        raise ValueError(FormWord.NO_DAY.say(value=_short(value)))
    return value


def is_job_id(name: str) -> bool:
    """True for a name that a job's folder can have."""
    return _JOB_ID.fullmatch(name) is not None


def is_print_id(name: str) -> bool:
    """True for a name that the folder of a print order can have."""
    return _PRINT_ID.fullmatch(name) is not None


_JOB_ID = re.compile(r"\d{8}T\d{6}-[0-9a-f]{8}")
_PRINT_ID = re.compile(r"\d{8}T\d{12}-[0-9a-f]{8}-\d{5}")
