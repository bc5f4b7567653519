"""YAML text to plain data, each value with its place in the file.

Only what a settings file needs is read: mappings with text keys, lists and scalars. Anchors,
aliases, merge keys, tags, repeated keys and deep nesting are faults, and all of them are told at
once. Words such as ``on``, ``no`` and ``13:19`` stay text, so that a setting's own reader decides.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

import yaml

from filmhand.digest import Readable
from filmhand.errors import Fault
from filmhand.profile.read.hints import american

LARGEST_BYTES = 64 * 1024
DEEPEST = 8
LONGEST_VALUE = 4096

Plain: TypeAlias = "bool | int | float | str | list[Plain] | dict[str, Plain] | None"
Path: TypeAlias = tuple[str | int, ...]

_NOT_UTF8 = "a character here is not UTF-8 text; save the file again with the encoding UTF-8"
# Spaces that do not break look like spaces, and what has no width like nothing.
_LOOKALIKES = {
    **dict.fromkeys((0xA0, 0x2007, 0x202F), " "),
    **dict.fromkeys((0x200B, 0x2060, 0xFEFF)),
}
_CURLY = re.compile(
    "[\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb](.*)[\u201c\u201d\u2018\u2019\u00ab\u00bb]"
)
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


def read_document(text: str, *, what: str = "profile") -> Document:
    """The text's data and places, or the faults that keep it from being read. Never raises."""
    text = text.translate(_LOOKALIKES)
    document = Document(text=text)
    if len(text.encode("utf-8", "surrogatepass")) > LARGEST_BYTES:
        return document.fail(1, 1, f"a {what} must be 64 KiB or less")
    builder = _Builder(document, what)
    try:
        builder.read(text)
    except yaml.MarkedYAMLError as error:
        mark, message = _syntax(error, text)
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        document.fail(line, column, message)
    except yaml.reader.ReaderError as error:
        place = _place_in(text, error.position)
        document.fail(*place, "a character here cannot be part of a text file")
    except _TooDeepError as error:
        document.fail(*error.place, "lists or groups are nested too deeply here")
    except (ValueError, OverflowError):
        # The scanner turns an escape such as "\UFFFFFFFF" into a character without checking it.
        found = re.search(r"\\U(?!0010|000[0-9A-Fa-f])[0-9A-Fa-f]{8}", text)
        place = _place_in(text, found.start() if found else 0)
        document.fail(*place, "an escape here is no character; write the text plainly")
    document.faults.sort(key=lambda fault: (fault.line, fault.column))
    return document


def decode_text(raw: bytes, *, what: str = "profile") -> str | Document:
    """The bytes as text, exactly, or a document that says why they are no text.

    Text is UTF-8, or UTF-16 with its mark.
    """
    if len(raw) > LARGEST_BYTES:
        return Document().fail(
            1, 1, f"a {what} must be 64 KiB or less, not {len(raw) // 1024 + 1} KiB"
        )
    if raw.startswith((b"{\\rtf", b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        message = "this is a file of a word processor; save it there as plain text (.txt)"
        return Document().fail(1, 1, message)
    try:
        # Some plain editors write UTF-16, and say so with a mark at the start.
        return raw.decode("utf-16" if raw.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        return Document().fail(line, column, _NOT_UTF8)


class _TooDeepError(Exception):
    def __init__(self, place: tuple[int, int]) -> None:
        super().__init__(place)
        self.place = place


class _Builder:
    """Walks the parser's events once; the parser itself does not recurse, and we stop early."""

    def __init__(self, document: Document, what: str) -> None:
        self._document = document
        self._what = what
        self._events: Iterator[yaml.Event] = iter(())

    def read(self, text: str) -> None:
        self._events = yaml.parse(text, Loader=yaml.SafeLoader)
        documents = 0
        for event in self._events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._fault(event, (), f"a {self._what} is one document; take away this ---")
                    return
            elif isinstance(event, yaml.NodeEvent):
                self._root(event)
        if not documents:
            self._document.fail(1, 1, f"the {self._what} is empty")

    def _root(self, event: yaml.NodeEvent) -> None:
        data = self._node(event, (), 1)
        if isinstance(data, dict):
            self._document.data = data
        elif not self._document.faults:
            line, column = _place(event)
            if data is None:
                message = f"the {self._what} is empty"
            elif isinstance(data, str) and re.match(r"\w+:\S", data):
                message = _NO_SPACE
            elif isinstance(data, str) and re.match(r"\w+ *[=\uff1a]", data):
                message = "write a colon and a space between the two, as in `lpi: 25`"
            elif isinstance(data, list):
                message = (
                    f"take the - at the start of the lines away; a {self._what} is a list of "
                    "settings such as `lpi: 25`, one a line"
                )
            else:
                message = f"a {self._what} is a list of settings such as `lpi: 25`, one a line"
            self._document.fail(line, column, message)
        else:
            self._document.whole = False

    def _fault(self, event: yaml.Event, path: Path, message: str, *, unread: bool = False) -> None:
        name = dotted(path)
        if name and not message.startswith((f"{name} is ", f"{name} holds ", f"{name} must ")):
            message = f"{name}: {message}"
        self._document.faults.append(Fault(*_place(event), name, message))
        if unread:
            self._document.unread.add(path)

    def _node(self, event: yaml.NodeEvent, path: Path, depth: int) -> Plain:
        if depth > DEEPEST:
            raise _TooDeepError(_place(event))
        self._document.places.setdefault(path, _place(event))
        if isinstance(event, yaml.AliasEvent):
            message = f"*{event.anchor} cannot be used; write the value out here"
            self._fault(event, path, message, unread=True)
            return None
        if event.anchor is not None:
            self._fault(event, path, f"&{event.anchor} cannot be used; write the value only")
        if getattr(event, "tag", None) is not None:
            self._fault(event, path, "a tag (!) cannot be used; write the value only")
        if isinstance(event, yaml.MappingStartEvent):
            return self._mapping(path, depth)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._sequence(path, depth)
        assert isinstance(event, yaml.ScalarEvent)
        return self._scalar(event, path)

    def _sequence(self, path: Path, depth: int) -> list[Plain]:
        items: list[Plain] = []
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            assert isinstance(event, yaml.NodeEvent)
            items.append(self._node(event, (*path, len(items)), depth + 1))
        return items

    def _mapping(self, path: Path, depth: int) -> dict[str, Plain]:
        out: dict[str, Plain] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            assert isinstance(event, yaml.NodeEvent)
            key = self._key(event, path, depth)
            here = (*path, key if key is not None else f"line {_place(event)[0]}")
            if key is not None:
                if key in out:
                    first = self._document.places[here][0]
                    name = dotted(here)
                    self._fault(event, here, f"{name} is given twice (first on line {first})")
                self._document.places.setdefault(here, _place(event))
            value_event = next(self._events)
            assert isinstance(value_event, yaml.NodeEvent)
            value = self._node(value_event, here, depth + 1)
            if key is not None:
                out.setdefault(key, value)
        return out

    def _key(self, event: yaml.NodeEvent, path: Path, depth: int) -> str | None:
        if not isinstance(event, yaml.ScalarEvent):
            self._fault(event, path, "a key must be a plain word, not a list, a group or *name")
            if not isinstance(event, yaml.AliasEvent):
                self._node(event, (*path, f"line {_place(event)[0]}"), depth + 1)
            return None
        if event.anchor is not None or event.tag is not None:
            self._fault(event, path, "a key must be a plain word, without & or !")
            return None
        if event.style is None and event.value == "<<":
            message = "<< (a merge) cannot be used; write the settings out here"
            self._fault(event, path, message, unread=True)
            return None
        if not isinstance(plain_data(event.value) if _is_plain(event) else event.value, str):
            message = f"a key must be a word, not {event.value[:40] or 'nothing'}"
            if event.value.isdigit():
                message += "; a decimal point is a full stop, not a comma"
            self._fault(event, path, message)
            return None
        return american(event.value)

    def _scalar(self, event: yaml.ScalarEvent, path: Path) -> Plain:
        text, plain = event.value, _is_plain(event)
        curly = _CURLY.fullmatch(text) if plain else None
        if curly:  # as word processors write the quotes of YAML
            text, plain = curly[1], False
        self._document.written.setdefault(path, Written(text, not plain))
        if any(_unprintable(character) for character in text):
            message = f"{dotted(path) or 'the text'} holds a control character; take it out"
            self._fault(event, path, message, unread=True)
            return None
        if len(text) > LONGEST_VALUE:
            message = f"{dotted(path) or 'a value'} must be {LONGEST_VALUE} characters or less"
            self._fault(event, path, message, unread=True)
            return None
        return plain_data(text) if plain else text


def _is_plain(event: yaml.ScalarEvent) -> bool:
    return event.style is None or event.style == ""


def _unprintable(character: str) -> bool:
    return character not in "\n\t" and unicodedata.category(character) in {"Cc", "Cs"}


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


def load_document(path: Readable, *, what: str) -> Document:
    """What a file holds, or why it cannot be read; OSError where the disk says so."""
    with path.open("rb") as stream:
        text = decode_text(stream.read(LARGEST_BYTES + 1), what=what)
    return text if isinstance(text, Document) else read_document(text, what=what)


def _place_in(text: str, index: int) -> tuple[int, int]:
    before = text[:index]
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1


def _place(event: yaml.Event) -> tuple[int, int]:
    mark = event.start_mark
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


_NO_SPACE = "put a space after the colon, as in `lpi: 25`"
_SYNTAX = (
    (r"'\\t'", "a Tab stands here; use spaces"),
    (r"mapping values are not allowed", "a second colon stands here, or the line begins farther in "
     "than the one above; a setting is `key: value`, and a text with a colon in it needs quotes"),
    (r"expected <block end>, but found '<scalar>'", "the text goes on after its closing quote; put "
     "the quotes around all of it"),
    (r"expected <block end>", "the line does not line up with the ones above; settings of one "
     "group begin in the same column"),
    (r"expected ',' or '[\]}]'", "a list or group in brackets is not closed before here"),
    (r"end of stream", "the file ends inside quotes or brackets"),
    (r"cannot start any token", "nothing can begin with the character that stands here; take it "
     "away, or put the text in quotes"),
    (r"multiple documents|expected '<document start>'", "the file holds more than its settings "
     "from here on"),
)  # fmt: skip


def _syntax(error: yaml.MarkedYAMLError, text: str) -> tuple[yaml.Mark | None, str]:
    """Where the text is wrong, and a sentence for it."""
    mark = error.problem_mark or error.context_mark
    problem = error.problem or error.context or ""
    if "could not find expected ':'" in problem and error.context_mark is not None:
        # The mark of the problem is where the search ended, on some later line.
        line = text.splitlines()[error.context_mark.line].strip()
        close = re.match(r"\w+:\S", line)
        message = "this line is no setting; a setting is `key: value`, with a space after the colon"
        return error.context_mark, _NO_SPACE if close else message
    for pattern, message in _SYNTAX:
        if re.search(pattern, problem):
            return mark, message
    return mark, f"this is not well-formed YAML ({problem})"
