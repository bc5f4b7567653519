"""Messages of the Internet Printing Protocol to bytes and back (RFC 8010, section 3).

Reading believes nothing: every length is held against what is there, and depth and number of values
are limited, so that time and memory follow the bytes that came, of which the connection takes few.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from dataclasses import field
from enum import IntEnum

from filmhand.printer.ipp.ipp_words import BrokenMessage
from filmhand.values import dataclass

_DEEPEST = 8  # collections within collections; media-col-database needs two
_MOST_VALUES = 200_000  # of one message; the largest media-col-database have some ten thousand
_LONGEST = 32767  # bytes of one name or value: a SIGNED-SHORT (section 3.4)
_GROUPS_END = 0x10  # tags below it begin a group


class BrokenMessageError(ValueError):
    """The bytes are no message; says in a few words where it breaks."""


class GroupTag(IntEnum):
    """What a group of attributes is about (section 3.5.1)."""

    OPERATION = 0x01
    JOB = 0x02
    END = 0x03
    PRINTER = 0x04
    UNSUPPORTED = 0x05


class ValueTag(IntEnum):
    """The kinds of values (section 3.5.2)."""

    UNSUPPORTED = 0x10
    UNKNOWN = 0x12
    NO_VALUE = 0x13
    INTEGER = 0x21
    BOOLEAN = 0x22
    ENUM = 0x23
    OCTETS = 0x30
    DATE_TIME = 0x31
    RESOLUTION = 0x32
    RANGE = 0x33
    COLLECTION = 0x34
    TEXT_WITH_LANGUAGE = 0x35
    NAME_WITH_LANGUAGE = 0x36
    COLLECTION_END = 0x37
    TEXT = 0x41
    NAME = 0x42
    KEYWORD = 0x44
    URI = 0x45
    URI_SCHEME = 0x46
    CHARSET = 0x47
    LANGUAGE = 0x48
    MIME_TYPE = 0x49
    MEMBER_NAME = 0x4A


PER_INCH = 3  # the unit of a resolution
PER_CENTIMETER = 4

Members = dict[str, "tuple[IppValue, ...]"]
Raw = None | bool | int | str | bytes | tuple[int, ...] | tuple[str, str] | Members

_INTEGERS = frozenset({ValueTag.INTEGER, ValueTag.ENUM})
_WITH_LANGUAGE = frozenset({ValueTag.TEXT_WITH_LANGUAGE, ValueTag.NAME_WITH_LANGUAGE})
_STRUCTURES = {ValueTag.RESOLUTION: struct.Struct(">iib"), ValueTag.RANGE: struct.Struct(">ii")}


@dataclass(frozen=True, slots=True)
class IppValue:
    """One value and its kind.

    `value` is an int, bool or str; (across, feed, unit) of a resolution; (low, high) of a range;
    (language, text) where a text has a language of its own; a dictionary of members' values for a
    collection; None for out-of-band values; the bytes of all other kinds.
    """

    tag: int
    value: Raw

    @property
    def text(self) -> str | None:
        """The words of a text, name, keyword or the like; None for other kinds."""
        if isinstance(self.value, str):
            return self.value
        if self.tag in _WITH_LANGUAGE and isinstance(self.value, tuple):
            return str(self.value[1])
        return None


@dataclass(slots=True)
class IppMessage:
    """A request (`code` is the operation) or an answer (`code` is the status).

    `groups` are in the order of the bytes, each with its tag and its attributes by name. Where an
    attribute comes twice in a group, the first counts.
    """

    code: int
    request_id: int
    groups: list[tuple[int, Members]] = field(default_factory=list)
    version: tuple[int, int] = (2, 0)

    def of(self, tag: GroupTag) -> list[Members]:
        """The attributes of every group of that tag."""
        return [members for found, members in self.groups if found == tag]


# --- writing -------------------------------------------------------------------------------------


def encode_message(message: IppMessage) -> bytes:
    """The message's bytes; a document goes behind them."""
    parts = [struct.pack(">BBHi", *message.version, message.code, message.request_id)]
    for tag, members in message.groups:
        parts.append(bytes([tag]))
        for name, values in members.items():
            _encode_attribute(name.encode("ascii"), values, parts)
    parts.append(bytes([GroupTag.END]))
    return b"".join(parts)


def _encode_attribute(name: bytes, values: Iterable[IppValue], parts: list[bytes]) -> None:
    for value in values:
        if value.tag == ValueTag.COLLECTION:
            assert isinstance(value.value, Mapping)
            parts.append(_field(ValueTag.COLLECTION, name, b""))
            for member, inside in value.value.items():
                parts.append(_field(ValueTag.MEMBER_NAME, b"", member.encode("ascii")))
                _encode_attribute(b"", inside, parts)
            parts.append(_field(ValueTag.COLLECTION_END, b"", b""))
        else:
            parts.append(_field(value.tag, name, _encode_value(value)))
        name = b""  # of the further values of a set


def _field(tag: int, name: bytes, value: bytes) -> bytes:
    if len(name) > _LONGEST or len(value) > _LONGEST:
        raise ValueError(f"a name or value of more than {_LONGEST} bytes")
    return struct.pack(">BH", tag, len(name)) + name + struct.pack(">H", len(value)) + value


def _encode_value(one: IppValue) -> bytes:
    value, tag = one.value, one.tag
    if value is None:
        return b""
    if tag == ValueTag.BOOLEAN:
        return b"\x01" if value else b"\x00"
    if tag in _INTEGERS:
        return struct.pack(">i", value)
    if tag in _STRUCTURES:
        assert isinstance(value, tuple)
        return _STRUCTURES[ValueTag(tag)].pack(*value)
    if tag in _WITH_LANGUAGE:
        assert isinstance(value, tuple)
        language, text = (str(part).encode() for part in value)
        return struct.pack(">H", len(language)) + language + struct.pack(">H", len(text)) + text
    return value.encode() if isinstance(value, str) else bytes(value)  # type: ignore[arg-type]


# --- reading -------------------------------------------------------------------------------------


def decode_message(data: bytes) -> tuple[IppMessage, bytes]:
    """The message that the bytes begin with, and what follows it (a document, or nothing).

    Raises
    ------
    BrokenMessageError
        Where the bytes are no message, or only its beginning.
    """
    reader = _Reader(data)
    major, minor, code, request_id = struct.unpack(">BBHi", reader.take(8))
    if major not in {1, 2}:
        raise BrokenMessageError(BrokenMessage.VERSION.say(version=f"{major}.{minor}"))
    message = IppMessage(code, request_id, version=(major, minor))
    tag = reader.byte()
    if tag != GroupTag.OPERATION:
        raise BrokenMessageError(BrokenMessage.BEGINNING.say())
    while tag != GroupTag.END:
        members: Members = {}
        message.groups.append((tag, members))
        reader.count()
        tag = reader.attributes(members)
    return message, data[reader.at :]


class _Reader:
    """Where reading has come to in the bytes."""

    def __init__(self, data: bytes) -> None:
        self._data, self.at, self._values = data, 0, 0

    def take(self, size: int) -> bytes:
        taken = self._data[self.at : self.at + size]
        if len(taken) < size:
            raise BrokenMessageError(BrokenMessage.BREAKS_OFF.say(size=len(self._data)))
        self.at += size
        return taken

    def byte(self) -> int:
        return self.take(1)[0]

    def sized(self) -> bytes:
        (size,) = struct.unpack(">H", self.take(2))
        if size > _LONGEST:
            raise BrokenMessageError(BrokenMessage.LONG_NAME.say(size=size))
        return self.take(size)

    def count(self) -> None:
        self._values += 1
        if self._values > _MOST_VALUES:
            raise BrokenMessageError(BrokenMessage.MANY_VALUES.say(most=_MOST_VALUES))

    def attributes(self, members: Members) -> int:
        """Read a group's attributes into `members`; the tag of what comes next."""
        last: list[IppValue] | None = None
        pending: dict[str, list[IppValue]] = {}
        while (tag := self.byte()) >= _GROUPS_END:
            name = self.sized()
            value = self._value(tag, self.sized(), 0)
            if name:
                last = []
                pending.setdefault(_ascii(name), last)
            elif last is None:
                raise BrokenMessageError(BrokenMessage.FURTHER_VALUE.say())
            last.append(value)
        members.update({name: tuple(values) for name, values in pending.items()})
        return tag

    def _value(self, tag: int, data: bytes, depth: int) -> IppValue:
        self.count()
        if tag == ValueTag.COLLECTION:
            if data:
                raise BrokenMessageError(BrokenMessage.COLLECTION_VALUE.say())
            return IppValue(tag, self._collection(depth + 1))
        if tag in {ValueTag.MEMBER_NAME, ValueTag.COLLECTION_END}:
            raise BrokenMessageError(BrokenMessage.OUTSIDE_COLLECTION.say())
        return IppValue(tag, _decode_value(tag, data))

    def _collection(self, depth: int) -> Members:
        if depth > _DEEPEST:
            raise BrokenMessageError(BrokenMessage.DEEP.say(most=_DEEPEST))
        pending: dict[str, list[IppValue]] = {}
        last: list[IppValue] | None = None
        while True:
            tag = self.byte()
            if tag < _GROUPS_END:
                raise BrokenMessageError(BrokenMessage.ENDLESS.say())
            if self.sized():
                raise BrokenMessageError(BrokenMessage.NAME_INSIDE.say())
            data = self.sized()
            if tag == ValueTag.COLLECTION_END:
                if data or last == []:
                    raise BrokenMessageError(BrokenMessage.HALF_MEMBER.say())
                return {name: tuple(values) for name, values in pending.items()}
            if tag == ValueTag.MEMBER_NAME:
                if not data or last == []:
                    raise BrokenMessageError(BrokenMessage.EMPTY_MEMBER.say())
                self.count()
                last = []
                pending.setdefault(_ascii(data), last)
            elif last is None:
                raise BrokenMessageError(BrokenMessage.NAMELESS_MEMBER.say())
            else:
                last.append(self._value(tag, data, depth))


def _ascii(data: bytes) -> str:
    try:
        return data.decode("ascii")
    except UnicodeDecodeError as error:
        raise BrokenMessageError(BrokenMessage.NOT_ASCII.say()) from error


def _decode_value(tag: int, data: bytes) -> Raw:
    if tag < ValueTag.INTEGER - 1:
        return None  # out of band: a printer may say why it has no value, and no more
    if tag in _INTEGERS:
        return int.from_bytes(_exactly(4, data), "big", signed=True)
    if tag == ValueTag.BOOLEAN:
        return _exactly(1, data) != b"\x00"
    if tag in _STRUCTURES:
        form = _STRUCTURES[ValueTag(tag)]
        found: tuple[int, ...] = form.unpack(_exactly(form.size, data))
        return found
    if tag in _WITH_LANGUAGE:
        return _two_texts(data)
    is_text = ValueTag.TEXT <= tag < ValueTag.MEMBER_NAME
    return data.decode("utf-8", "replace") if is_text else data


def _two_texts(data: bytes) -> tuple[str, str]:
    """Language and text."""
    inner = _Reader(data)
    language, text = inner.sized(), inner.sized()
    if inner.at != len(data):
        raise BrokenMessageError(BrokenMessage.TEXT.say())
    return language.decode("utf-8", "replace"), text.decode("utf-8", "replace")


def _exactly(size: int, data: bytes) -> bytes:
    if len(data) != size:
        raise BrokenMessageError(BrokenMessage.SIZE.say(found=len(data), needed=size))
    return data
