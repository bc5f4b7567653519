"""Brings the translations in step with the tables of sentences, and compiles them.

::

    python tests/catalogs.py        writes daemon/filmhand/locale/<language>/LC_MESSAGES/filmhand.po
                                    and .mo anew; tells how many rows still lack a translation

A row that is new has an empty translation; one whose English has changed keeps its old one, marked
fuzzy, which is not used until somebody has looked at it and taken the mark away.
"""

from __future__ import annotations

import importlib
import pkgutil
import re
import sys
from collections.abc import Iterator
from enum import Enum
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

import filmhand
from filmhand.errors import RefusalSentence
from filmhand.language import Counted, Sentence

SOURCES = Path(__file__).parents[1] / "daemon/filmhand/locale"
_NOT_IMPORTED = {"filmhand.__main__"}  # would run


def tables() -> list[type[Enum]]:
    """Every table of sentences in the package, by module and place in it."""
    for module in pkgutil.walk_packages(filmhand.__path__, "filmhand."):
        if module.name not in _NOT_IMPORTED:
            importlib.import_module(module.name)
    kinds: tuple[type[Enum], ...] = (Sentence, Counted, RefusalSentence)
    found = [table for kind in kinds for table in _with_rows(kind)]
    return sorted(found, key=lambda table: (table.__module__, table.__qualname__))


def _with_rows(kind: type[Enum]) -> Iterator[type[Enum]]:
    for table in kind.__subclasses__():
        if len(table):
            yield table
        yield from _with_rows(table)


def texts(row: Enum) -> Iterator[str | tuple[str, str]]:
    """What a row has to be translated: a text, or one for one thing and one for several."""
    if isinstance(row, RefusalSentence):
        _, say, do = row.value
        yield from (text for text in (say, do) if text)
    else:
        yield row.value


def brought_up_to_date(old: Catalog) -> Catalog:
    """The catalog with the rows that there are now and the translations that it had."""
    new = Catalog(
        locale=old.locale,
        project="filmhand",
        header_comment=old.header_comment,
        creation_date=old.creation_date,
        revision_date=old.revision_date,
        last_translator="filmhand",
        language_team="filmhand",
        msgid_bugs_address="filmhand",
        version=filmhand.__version__,
        fuzzy=False,
    )
    new.mime_headers = [
        header for header in old.mime_headers if header[0] in {"Plural-Forms", "Content-Type"}
    ]
    by_row = {comment: message for message in old for comment in message.auto_comments}
    for table in tables():
        for row in table:
            for k, text in enumerate(texts(row)):
                name = f"{table.__name__}.{row.name}{'' if k == 0 else ' (what would help)'}"
                same = old.get(text)
                was = same or by_row.get(name)
                flags = {"fuzzy"} if same is None and was is not None and was.string else set()
                new.add(
                    text,
                    was.string if was is not None else None,
                    locations=[(table.__module__, None)],
                    auto_comments=[name],
                    flags=flags | ({"fuzzy"} if same is not None and same.fuzzy else set()),
                )
    return new


def lacking(catalog: Catalog) -> list[str]:
    """The rows without a translation that is used."""
    return [
        message.auto_comments[0]
        for message in catalog
        if message.id and (message.fuzzy or not all(_strings(message.string)))
    ]


def _strings(string: str | tuple[str, ...] | None) -> tuple[str, ...]:
    return string if isinstance(string, tuple) else (string or "",)


def read(source: Path) -> Catalog:
    """A catalog's source."""
    with source.open("rb") as file:
        return read_po(file, locale=source.parents[1].name)


def compiled(catalog: Catalog) -> bytes:
    """The catalog as the service reads it."""
    target = BytesIO()
    write_mo(target, catalog)
    return target.getvalue()


def written(catalog: Catalog) -> bytes:
    """The catalog's source anew."""
    target = BytesIO()
    write_po(target, catalog, width=100)
    return re.sub(rb'"Generated-By: [^"]*"\n', b"", target.getvalue())  # one version or another


def main() -> int:
    """Write all sources and what is compiled of them."""
    for source in sorted(SOURCES.glob("*/LC_MESSAGES/filmhand.po")):
        catalog = brought_up_to_date(read(source))
        source.write_bytes(written(catalog))
        source.with_suffix(".mo").write_bytes(compiled(catalog))
        rows = lacking(catalog)
        print(f"{source.parents[1].name}: {len(catalog)} texts, {len(rows)} lack a translation.")
        print("\n".join(f"  {row}" for row in rows[:40]))
    return 0


if __name__ == "__main__":
    sys.exit(main())
