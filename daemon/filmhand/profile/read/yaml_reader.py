"""The events of a YAML parser to a document, each value with its place."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

import yaml

from filmhand.errors import Fault
from filmhand.profile.read.document import (
    DEEPEST,
    LONGEST_VALUE,
    Document,
    Path,
    Plain,
    Written,
    dotted,
    plain_data,
)
from filmhand.profile.read.hints import american
from filmhand.profile.read.read_words import FileKind, TextFault

_CURLY = re.compile(
    "[\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb](.*)[\u201c\u201d\u2018\u2019\u00ab\u00bb]"
)


def read_into(document: Document, kind: FileKind) -> None:
    """Read a document's text into it: data and places, or faults. Never raises."""
    text = document.text
    try:
        _Builder(document, kind).read(text)
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
