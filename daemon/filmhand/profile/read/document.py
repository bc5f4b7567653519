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
from filmhand.profile.read.read_words import FileKind, TextFault

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


def read_document(text: str, *, kind: FileKind = FileKind.PROFILE) -> Document:
    """The text's data and places, or the faults that keep it from being read. Never raises."""
    text = text.translate(_LOOKALIKES)
    document = Document(text=text)
    if len(text.encode("utf-8", "surrogatepass")) > LARGEST_BYTES:
        return document.fail(1, 1, kind.too_long.say())
    builder = _Builder(document, kind)
    try:
        builder.read(text)
    except yaml.MarkedYAMLError as error:
        mark, message = _syntax(error, text)
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        document.fail(line, column, message)
    except yaml.reader.ReaderError as error:
        place = _place_in(text, error.position)
        document.fail(*place, TextFault.NO_CHARACTER.say())
    except _TooDeepError as error:
        document.fail(*error.place, TextFault.TOO_DEEP.say())
    except (ValueError, OverflowError):
        # The scanner turns an escape such as "\UFFFFFFFF" into a character without checking it.
        found = re.search(r"\\U(?!0010|000[0-9A-Fa-f])[0-9A-Fa-f]{8}", text)
        place = _place_in(text, found.start() if found else 0)
        document.fail(*place, TextFault.NO_ESCAPE.say())
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


class _TooDeepError(Exception):
    def __init__(self, place: tuple[int, int]) -> None:
        super().__init__(place)
        self.place = place


class _Builder:
    """Walks the parser's events once; the parser itself does not recurse, and we stop early."""

    def __init__(self, document: Document, kind: FileKind) -> None:
        self._document = document
        self._kind = kind
        self._events: Iterator[yaml.Event] = iter(())

    def read(self, text: str) -> None:
        self._events = yaml.parse(text, Loader=yaml.SafeLoader)
        documents = 0
        for event in self._events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._fault(event, (), self._kind.parted.say())
                    return
            elif isinstance(event, yaml.NodeEvent):
                self._root(event)
        if not documents:
            self._document.fail(1, 1, self._kind.empty.say())

    def _root(self, event: yaml.NodeEvent) -> None:
        data = self._node(event, (), 1)
        if isinstance(data, dict):
            self._document.data = data
        elif not self._document.faults:
            self._document.fail(*_place(event), self._no_settings(data).say())
        else:
            self._document.whole = False

    def _no_settings(self, data: Plain) -> TextFault:
        """What a file is told that holds something, but no settings."""
        if data is None:
            return self._kind.empty
        if isinstance(data, list):
            return self._kind.dashes
        if isinstance(data, str) and re.match(r"\w+:\S", data):
            return TextFault.NO_SPACE
        if isinstance(data, str) and re.match(r"\w+ *[=\uff1a]", data):
            return TextFault.NO_COLON
        return self._kind.settings

    def _fault_at_key(
        self, event: yaml.Event, path: Path, message: str, *, unread: bool = False
    ) -> None:
        """A fault whose message does not tell the key."""
        if path:
            message = TextFault.AT_KEY.say(key=dotted(path), fault=message)
        self._fault(event, path, message, unread=unread)

    def _fault(self, event: yaml.Event, path: Path, message: str, *, unread: bool = False) -> None:
        self._document.faults.append(Fault(*_place(event), dotted(path), message))
        if unread:
            self._document.unread.add(path)

    def _node(self, event: yaml.NodeEvent, path: Path, depth: int) -> Plain:
        if depth > DEEPEST:
            raise _TooDeepError(_place(event))
        self._document.places.setdefault(path, _place(event))
        if isinstance(event, yaml.AliasEvent):
            message = TextFault.ALIAS.say(name=event.anchor)
            self._fault_at_key(event, path, message, unread=True)
            return None
        if event.anchor is not None:
            self._fault_at_key(event, path, TextFault.ANCHOR.say(name=event.anchor))
        if getattr(event, "tag", None) is not None:
            self._fault_at_key(event, path, TextFault.TAG.say())
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
                    self._fault(event, here, TextFault.TWICE.say(key=dotted(here), line=first))
                self._document.places.setdefault(here, _place(event))
            value_event = next(self._events)
            assert isinstance(value_event, yaml.NodeEvent)
            value = self._node(value_event, here, depth + 1)
            if key is not None:
                out.setdefault(key, value)
        return out

    def _key(self, event: yaml.NodeEvent, path: Path, depth: int) -> str | None:
        if not isinstance(event, yaml.ScalarEvent):
            self._fault_at_key(event, path, TextFault.KEY_IS_GROUP.say())
            if not isinstance(event, yaml.AliasEvent):
                self._node(event, (*path, f"line {_place(event)[0]}"), depth + 1)
            return None
        if event.anchor is not None or event.tag is not None:
            self._fault_at_key(event, path, TextFault.KEY_MARKED.say())
            return None
        if event.style is None and event.value == "<<":
            self._fault_at_key(event, path, TextFault.MERGE.say(), unread=True)
            return None
        if not isinstance(plain_data(event.value) if _is_plain(event) else event.value, str):
            said = TextFault.KEY_IS_NO_WORD if event.value else TextFault.KEY_EMPTY
            if event.value.isdigit():
                said = TextFault.KEY_IS_DIGITS
            self._fault_at_key(event, path, said.say(found=event.value[:40]))
            return None
        return american(event.value)

    def _scalar(self, event: yaml.ScalarEvent, path: Path) -> Plain:
        text, plain = event.value, _is_plain(event)
        curly = _CURLY.fullmatch(text) if plain else None
        if curly:  # as word processors write the quotes of YAML
            text, plain = curly[1], False
        self._document.written.setdefault(path, Written(text, not plain))
        if any(_unprintable(character) for character in text):
            said = TextFault.CONTROL_IN_KEY if path else TextFault.CONTROL
            self._fault(event, path, said.say(key=dotted(path)), unread=True)
            return None
        if len(text) > LONGEST_VALUE:
            said = TextFault.LONG_VALUE_OF_KEY if path else TextFault.LONG_VALUE
            message = said.say(key=dotted(path), most=LONGEST_VALUE)
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


def load_document(path: Readable, *, kind: FileKind) -> Document:
    """What a file holds, or why it cannot be read; OSError where the disk says so."""
    with path.open("rb") as stream:
        text = decode_text(stream.read(LARGEST_BYTES + 1), kind=kind)
    return text if isinstance(text, Document) else read_document(text, kind=kind)


def _place_in(text: str, index: int) -> tuple[int, int]:
    before = text[:index]
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1


def _place(event: yaml.Event) -> tuple[int, int]:
    mark = event.start_mark
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


_SYNTAX = (
    (r"'\\t'", TextFault.TAB),
    (r"mapping values are not allowed", TextFault.SECOND_COLON),
    (r"expected <block end>, but found '<scalar>'", TextFault.AFTER_QUOTE),
    (r"expected <block end>", TextFault.NOT_IN_LINE),
    (r"expected ',' or '[\]}]'", TextFault.NOT_CLOSED),
    (r"end of stream", TextFault.ENDS_INSIDE),
    (r"cannot start any token", TextFault.NO_START),
    (r"multiple documents|expected '<document start>'", TextFault.MORE_THAN_SETTINGS),
)


def _syntax(error: yaml.MarkedYAMLError, text: str) -> tuple[yaml.Mark | None, str]:
    """Where the text is wrong, and a sentence for it."""
    mark = error.problem_mark or error.context_mark
    problem = error.problem or error.context or ""
    if "could not find expected ':'" in problem and error.context_mark is not None:
        # The mark of the problem is where the search ended, on some later line.
        line = text.splitlines()[error.context_mark.line].strip()
        close = re.match(r"\w+:\S", line)
        said = TextFault.NO_SPACE if close else TextFault.NO_SETTING
        return error.context_mark, said.say()
    for pattern, said in _SYNTAX:
        if re.search(pattern, problem):
            return mark, said.say()
    return mark, TextFault.NOT_YAML.say(problem=problem)
