"""YAML text to plain data, each value with its place in the file.

Only what a settings file needs is read: mappings with text keys, lists and scalars. Anchors,
aliases, merge keys, tags, repeated keys and deep nesting are faults, and all of them are told at
once. Words such as ``on``, ``no`` and ``13:19`` stay text, so that a setting's own reader decides.
"""

from __future__ import annotations

import re
from dataclasses import field
from typing import TypeAlias

from filmhand.digest import Readable
from filmhand.errors import Fault
from filmhand.profile.read.read_words import FileKind, TextFault
from filmhand.values import dataclass

LARGEST_BYTES = 64 * 1024
DEEPEST = 8
LONGEST_VALUE = 4096

Plain: TypeAlias = "bool | int | float | str | list[Plain] | dict[str, Plain] | None"
Path: TypeAlias = tuple[str | int, ...]

# Spaces that do not break look like spaces, and what has no width like nothing.
_LOOKALIKES = {
    **dict.fromkeys((0xA0, 0x2007, 0x202F), " "),
    **dict.fromkeys((0x200B, 0x2060, 0xFEFF)),
}
_INTEGER = re.compile(r"[-+]?(0|[1-9][0-9]{0,15})")
_NUMBER = re.compile(r"[-+]?(0|[1-9][0-9]*)?(\.[0-9]*)?([eE][-+]?[0-9]+)?")
_NOTHING = {"", "~", "null", "Null", "NULL"}
_TRUTH = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}


@dataclass(frozen=True, slots=True)
class Written:
    """A scalar as it stands in the file."""

    text: str
    quoted: bool


@dataclass(slots=True)
class Document:
    """What a file holds. ``places`` gives line and column, from 1, of every key and list item."""

    data: dict[str, Plain] = field(default_factory=dict)
    places: dict[Path, tuple[int, int]] = field(default_factory=dict)
    written: dict[Path, Written] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unread: set[Path] = field(default_factory=set)
    """Paths whose value is not known for a fault already told."""
    text: str = ""
    whole: bool = True
    """False where the text could not be read to its end, so that nothing else can be judged."""

    def fail(self, line: int, column: int, message: str) -> Document:
        """The document, with a fault for which nothing else in it can be judged."""
        self.whole = False
        self.faults.append(Fault(line, column, "", message))
        return self

    def place(self, path: Path) -> tuple[int, int]:
        """Line and column of a key, or of the nearest key that holds it."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places.get(path, (1, 1))


def dotted(path: Path) -> str:
    """A path as people write it: ``tone.gain``."""
    return ".".join(str(part) for part in path)


def read_document(text: str, *, kind: FileKind = FileKind.PROFILE) -> Document:
    """The text's data and places, or the faults that keep it from being read. Never raises."""
    text = text.translate(_LOOKALIKES)
    document = Document(text=text)
    if len(text.encode("utf-8", "surrogatepass")) > LARGEST_BYTES:
        return document.fail(1, 1, kind.too_long.say())
    # A job has its profile read already, and seldom a ticket.
    from filmhand.profile.read.yaml_reader import read_into  # noqa: PLC0415

    read_into(document, kind)
    document.faults.sort(key=lambda fault: (fault.line, fault.column))
    return document


def decode_text(raw: bytes, *, kind: FileKind = FileKind.PROFILE) -> str | Document:
    """The bytes as text, exactly, or a document that says why they are no text.

    Text is UTF-8, or UTF-16 with its mark.
    """
    if len(raw) > LARGEST_BYTES:
        return Document().fail(1, 1, kind.of_kib.say(found=len(raw) // 1024 + 1))
    if raw.startswith((b"{\\rtf", b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        return Document().fail(1, 1, TextFault.WORD_PROCESSOR.say())
    try:
        # Some plain editors write UTF-16, and say so with a mark at the start.
        return raw.decode("utf-16" if raw.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        return Document().fail(line, column, TextFault.NOT_UTF8.say())


def plain_data(word: str) -> Plain:
    """What an unquoted word means: nothing, true or false, a number, or text.

    >>> [plain_data(w) for w in ("25", "2.5", "true", "no", "13:19", "055", "~")]
    [25, 2.5, True, 'no', '13:19', '055', None]
    """
    if word in _NOTHING:
        return None
    if word in _TRUTH:
        return _TRUTH[word]
    if _INTEGER.fullmatch(word):
        return int(word)
    if _NUMBER.fullmatch(word) and re.search(r"\d", word.lower().partition("e")[0]):
        return float(word)
    return word


def load_document(path: Readable, *, kind: FileKind) -> Document:
    """What a file holds, or why it cannot be read; OSError where the disk says so."""
    with path.open("rb") as stream:
        text = decode_text(stream.read(LARGEST_BYTES + 1), kind=kind)
    return text if isinstance(text, Document) else read_document(text, kind=kind)
