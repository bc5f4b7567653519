"""The codes of the Internet Printing Protocol that filmhand uses, and how its values are made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import IntEnum

from filmhand.printer.ipp.message import PER_INCH, IppValue, Members, ValueTag
from filmhand.units import Resolution


class Operation(IntEnum):
    """What a printer can be asked (RFC 8011, section 5.4.15)."""

    PRINT_JOB = 0x02
    CREATE_JOB = 0x05
    SEND_DOCUMENT = 0x06
    CANCEL_JOB = 0x08
    GET_JOB_ATTRIBUTES = 0x09
    GET_JOBS = 0x0A
    GET_PRINTER_ATTRIBUTES = 0x0B


class Status(IntEnum):
    """What it answers (RFC 8011, appendix B.1); codes below 0x0100 mean success."""

    BAD_REQUEST = 0x0400
    FORBIDDEN = 0x0401
    NOT_AUTHENTICATED = 0x0402
    NOT_AUTHORIZED = 0x0403
    NOT_POSSIBLE = 0x0404
    TIMEOUT = 0x0405
    NOT_FOUND = 0x0406
    GONE = 0x0407
    TOO_LARGE = 0x0408
    FORMAT_NOT_SUPPORTED = 0x040A
    ATTRIBUTES_NOT_SUPPORTED = 0x040B
    ACCOUNT_LIMIT = 0x0417  # client-error-account-limit-reached (PWG 5100.22)
    INTERNAL_ERROR = 0x0500
    OPERATION_NOT_SUPPORTED = 0x0501
    SERVICE_UNAVAILABLE = 0x0502
    VERSION_NOT_SUPPORTED = 0x0503
    DEVICE_ERROR = 0x0504
    TEMPORARY_ERROR = 0x0505
    NOT_ACCEPTING = 0x0506
    BUSY = 0x0507
    JOB_CANCELED = 0x0508
    NO_MULTIPLE_DOCUMENTS = 0x0509


SUCCESS_BELOW = 0x0100
HIGH_QUALITY = 5  # of print-quality (RFC 8011, section 5.2.13)


def keywords(*words: str) -> tuple[IppValue, ...]:
    """A set of keywords."""
    return tuple(IppValue(ValueTag.KEYWORD, word) for word in words)


def integer(value: int) -> tuple[IppValue, ...]:
    """One integer."""
    return (IppValue(ValueTag.INTEGER, value),)


def enum_value(value: int) -> tuple[IppValue, ...]:
    """One value of an enumeration."""
    return (IppValue(ValueTag.ENUM, value),)


def boolean(value: bool) -> tuple[IppValue, ...]:
    """True or False."""
    return (IppValue(ValueTag.BOOLEAN, value),)


def text_value(tag: ValueTag, value: str) -> tuple[IppValue, ...]:
    """One text of that kind."""
    return (IppValue(tag, value),)


def resolution_value(value: Resolution) -> tuple[IppValue, ...]:
    """Dots an inch."""
    return (IppValue(ValueTag.RESOLUTION, (value.x, value.y, PER_INCH)),)


def collection(members: Mapping[str, Iterable[IppValue]]) -> tuple[IppValue, ...]:
    """One collection."""
    inside: Members = {name: tuple(values) for name, values in members.items()}
    return (IppValue(ValueTag.COLLECTION, inside),)
