"""Sentences in the language of whoever reads them.

Each room keeps what it says to people in tables, subclasses of :class:`Sentence`,
:class:`Counted` and, for refusals, :class:`~filmhand.errors.RefusalSentence`; the rows are English,
and the catalogs in ``locale/`` have the same in other languages (GNU gettext's format).
``tests/catalogs.py`` keeps those in step. What a catalog lacks is said in English.
"""

from __future__ import annotations

import gettext
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from enum import Enum, StrEnum
from functools import cache
from pathlib import Path

CATALOGS = Path(__file__).with_name("locale")
ENGLISH = "en"
_DOMAIN = "filmhand"
_CODE = re.compile(r"[a-z]{2,3}")
_spoken: ContextVar[str | None] = ContextVar("spoken", default=None)


class Sentence(StrEnum):
    """Rows of one sentence each, with the names of its parts in braces."""

    def say(self, **parts: object) -> str:
        """The sentence in the language in force, with its parts filled in."""
        return translated(self.value).format(**parts)


class Counted(Enum):
    """Rows of a sentence about one thing and the same about several; ``{n}`` is how many."""

    def say(self, n: int, **parts: object) -> str:
        """The sentence about so many, in the language in force."""
        one, several = self.value
        return _catalog(spoken()).ngettext(one, several, n).format(n=n, **parts)


class Joined(Sentence):
    """How the last word of a list is joined to the ones before it."""

    AND = "{others} and {last}"
    OR = "{others} or {last}"


def and_list(words: Sequence[str]) -> str:
    """Words as a sentence lists them: ``a, b and c``."""
    return _list(Joined.AND, words)


def or_list(words: Sequence[str]) -> str:
    """Words as a sentence leaves the choice of them: ``a, b or c``."""
    return _list(Joined.OR, words)


def _list(joined: Joined, words: Sequence[str]) -> str:
    *others, last = words
    return joined.say(others=", ".join(others), last=last) if others else last


def translated(text: str) -> str:
    """The row's text in the language in force, its parts still in braces."""
    return _catalog(spoken()).gettext(text) if text else ""  # which stands for the catalog's head


@cache
def languages() -> tuple[str, ...]:
    """The codes of all languages that there are catalogs for, and English."""
    found = {path.parent.parent.name for path in CATALOGS.glob(f"*/LC_MESSAGES/{_DOMAIN}.mo")}
    return tuple(sorted({ENGLISH, *found}))


def spoken() -> str:
    """The code of the language in force: the one set last, else that of ``FILMHAND_LANG``."""
    return _spoken.get() or _code_of(os.environ.get("FILMHAND_LANG", ""))


def _code_of(written: str) -> str:
    """The language of ``es``, ``es_MX`` or ``es_ES.UTF-8``; English where there is no catalog."""
    found = _CODE.match(written.lower())
    return found[0] if found and found[0] in languages() else ENGLISH


@contextmanager
def speaking(language: str | None) -> Iterator[None]:
    """Within it, sentences are said in this language; None leaves it as it is."""
    if language is None:
        yield
        return
    _catalog(language)  # read now, since a worker sees fewer files later
    token = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(token)


@contextmanager
def python_speaking() -> Iterator[None]:
    """Within it, libraries that ask Python's gettext for their words find them in our catalogs.

    That goes by the variable ``LANGUAGE`` before all others (GNU gettext, "The LANGUAGE variable").
    """
    domain, language = gettext.textdomain(), os.environ.get("LANGUAGE")
    gettext.bindtextdomain(_DOMAIN, str(CATALOGS))
    gettext.textdomain(_DOMAIN)
    os.environ["LANGUAGE"] = spoken()
    try:
        yield
    finally:
        gettext.textdomain(domain)
        if language is None:
            del os.environ["LANGUAGE"]
        else:
            os.environ["LANGUAGE"] = language


@cache
def _catalog(language: str) -> gettext.NullTranslations:
    return gettext.translation(_DOMAIN, CATALOGS, [language], fallback=True)
