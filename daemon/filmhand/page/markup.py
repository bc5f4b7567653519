"""Small pieces of a page. Names come from strangers: all text goes through here."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from html import escape
from urllib.parse import quote

_HARMLESS = "\u00a0\u202f\u200c\u200d"  # spaces that do not break, joiners of letters and emoji


def escaped(text: object) -> str:
    """Text for an attribute, or where no direction can be turned."""
    plain = "".join(c if c.isprintable() or c in _HARMLESS else "\ufffd" for c in str(text))
    return escape(plain, quote=True)


def isolated(text: object) -> str:
    """Escaped text; a name that runs from right to left cannot turn what stands beside it."""
    return f"<bdi>{escaped(text)}</bdi>"


def link(path: Iterable[str], words: str) -> str:
    """A link to a file below the station, by the parts of its path; words are markup."""
    return f'<a href="{address(path)}">{words}</a>'


def address(path: Iterable[str]) -> str:
    """The relative address of a file; nothing that HTML would have to escape is left of it."""
    parts = "/".join(filter(None, path))
    try:
        whole = quote(parts, errors="surrogateescape")  # a name that is no text, as its bytes
    except UnicodeEncodeError:
        whole = quote(parts, errors="replace")
    # A first part with a colon would be read as a scheme (RFC 3986, 4.2).
    return f"./{whole}" if ":" in whole.split("/")[0] else whole


def time_tag(at: str, *, identity: str = "") -> str:
    """A time of a record, as this computer's clock shows it; a script makes it the reader's."""
    mark = f' id="{identity}"' if identity else ""
    return f'<time{mark} datetime="{escape(at, quote=True)}">{escape(_local(at))}</time>'


def _local(at: str) -> str:
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M %Z")
    except ValueError:
        return at
