"""Messages to bytes and back, and what is said of bytes that are none."""

from __future__ import annotations

import tracemalloc

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from filmhand.printer.ipp.message import (
    BrokenMessageError,
    GroupTag,
    IppMessage,
    IppValue,
    ValueTag,
    decode_message,
    encode_message,
)

# Machines may be busy: how long an example takes says nothing.
FEW = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
TEXTS = (ValueTag.TEXT, ValueTag.NAME, ValueTag.KEYWORD, ValueTag.URI, ValueTag.MIME_TYPE)
INTEGERS = st.integers(-(2**31), 2**31 - 1)
NAMES = st.text("ab-z.", min_size=1, max_size=6)
SIMPLE = st.one_of(
    st.builds(IppValue, st.sampled_from([ValueTag.INTEGER, ValueTag.ENUM]), INTEGERS),
    st.builds(IppValue, st.just(ValueTag.BOOLEAN), st.booleans()),
    st.builds(IppValue, st.sampled_from(TEXTS), st.text(max_size=8)),
    st.builds(
        IppValue, st.sampled_from([ValueTag.OCTETS, ValueTag.DATE_TIME]), st.binary(max_size=12)
    ),
    st.builds(IppValue, st.just(ValueTag.RANGE), st.tuples(INTEGERS, INTEGERS)),
    st.builds(
        IppValue,
        st.just(ValueTag.RESOLUTION),
        st.tuples(INTEGERS, INTEGERS, st.sampled_from([3, 4])),
    ),
    st.builds(
        IppValue,
        st.sampled_from([ValueTag.TEXT_WITH_LANGUAGE, ValueTag.NAME_WITH_LANGUAGE]),
        st.tuples(st.text(max_size=9), st.text(max_size=20)),
    ),
    st.builds(
        IppValue,
        st.sampled_from([ValueTag.UNSUPPORTED, ValueTag.UNKNOWN, ValueTag.NO_VALUE]),
        st.none(),
    ),
)


def members_of(values):
    return st.dictionaries(NAMES, st.lists(values, min_size=1, max_size=2).map(tuple), max_size=3)


VALUES = st.recursive(
    SIMPLE,
    lambda inner: st.builds(IppValue, st.just(ValueTag.COLLECTION), members_of(inner)),
    max_leaves=4,
)
MESSAGES = st.builds(
    lambda code, number, first, more: IppMessage(
        code, number, [(GroupTag.OPERATION.value, first), *more]
    ),
    st.integers(0, 0xFFFF),
    INTEGERS,
    members_of(VALUES),
    st.lists(st.tuples(st.sampled_from([0x02, 0x04, 0x05]), members_of(VALUES)), max_size=3),
)


@FEW
@given(MESSAGES, st.binary(max_size=20))
def test_what_is_written_is_read(message, document):
    assert decode_message(encode_message(message) + document) == (message, document)


@FEW
@given(MESSAGES, st.data())
def test_every_beginning_of_a_message_is_told_from_all_of_it(message, data):
    whole = encode_message(message)
    part = whole[: data.draw(st.integers(0, len(whole) - 1))]
    with pytest.raises(BrokenMessageError):
        decode_message(part)


@FEW
@given(MESSAGES, st.lists(st.tuples(st.integers(0, 400), st.integers(0, 255)), max_size=6))
def test_spoiled_bytes_are_read_or_refused(message, changes):
    data = bytearray(encode_message(message))
    for place, value in changes:
        data[place % len(data)] = value
    try:
        read, _ = decode_message(bytes(data))
    except BrokenMessageError as error:
        assert str(error)
    else:
        assert read.groups[0][0] == GroupTag.OPERATION


@FEW
@given(st.binary(max_size=400))
def test_garbage_is_read_or_refused(data):
    head = b"\x02\x00\x00\x00\x00\x00\x00\x01\x01"
    for whole in (data, head + data):
        try:
            decode_message(whole)
        except BrokenMessageError as error:
            assert str(error)


# --- worked bytes --------------------------------------------------------------------------------
# RFC 8010, appendix A. The document could not be had where this was written: its rows stand here
# from memory, and tests/outside/test_printer_simulator.py lets libcups read the same bytes.

OPERATION = (
    b"\x01"
    b"\x47\x00\x12attributes-charset\x00\x05utf-8"
    b"\x48\x00\x1battributes-natural-language\x00\x05en-us"
)
PRINTER_URI = b"\x45\x00\x0bprinter-uri\x00\x2cipp://printer.example.com/ipp/print/pinetree"
A1_PRINT_JOB = (
    b"\x01\x01\x00\x02\x00\x00\x00\x01" + OPERATION + PRINTER_URI + b"\x42\x00\x08job-name\x00\x06"
    b"foobar\x22\x00\x16ipp-attribute-fidelity\x00\x01\x01\x02\x21\x00\x06copies\x00\x04\x00\x00"
    b"\x00\x14\x44\x00\x05sides\x00\x13two-sided-long-edge\x03%!PDF..."
)
A3_REFUSED = (
    b"\x01\x01\x04\x0b\x00\x00\x00\x01" + OPERATION + b"\x41\x00\x0estatus-message\x00\x2f"
    b"client-error-attributes-or-values-not-supported\x05\x21\x00\x06copies\x00\x04\x00\x00\x00\x14"
    b"\x10\x00\x05sides\x00\x00\x03"
)
A9_JOBS = (
    b"\x01\x01\x00\x00\x00\x00\x00\x7b" + OPERATION + b"\x41\x00\x0estatus-message\x00\x0d"
    b"successful-ok\x02\x21\x00\x06job-id\x00\x04\x00\x00\x00\x93\x36\x00\x08job-name\x00\x0c\x00"
    b"\x05fr-ca\x00\x03fou\x02\x02\x21\x00\x06job-id\x00\x04\x00\x00\x00\x95\x36\x00\x08job-name"
    b"\x00\x12\x00\x05de-CH\x00\x09isch guet\x03"
)
# A collection within one, as section 3.1.6 draws it.
COLLECTION = (
    b"\x01\x01\x00\x05\x00\x00\x00\x01" + OPERATION + PRINTER_URI + b"\x02\x34\x00\x09media-col"
    b"\x00\x00\x4a\x00\x00\x00\x0amedia-size\x34\x00\x00\x00\x00\x4a\x00\x00\x00\x0bx-dimension"
    b"\x21\x00\x00\x00\x04\x00\x00\x52\x08\x4a\x00\x00\x00\x0by-dimension\x21\x00\x00\x00\x04\x00"
    b"\x00\x74\x04\x37\x00\x00\x00\x00\x4a\x00\x00\x00\x0amedia-type\x44\x00\x00\x00\x0a"
    b"stationery\x37\x00\x00\x00\x00\x03"
)


def said(tag, value):
    return (IppValue(tag, value),)


HEAD = {
    "attributes-charset": said(ValueTag.CHARSET, "utf-8"),
    "attributes-natural-language": said(ValueTag.LANGUAGE, "en-us"),
}
URI = {"printer-uri": said(ValueTag.URI, "ipp://printer.example.com/ipp/print/pinetree")}
SIZE = {"x-dimension": said(ValueTag.INTEGER, 21000), "y-dimension": said(ValueTag.INTEGER, 29700)}
WORKED = [
    pytest.param(
        A1_PRINT_JOB,
        IppMessage(
            0x0002,
            1,
            [
                (
                    1,
                    HEAD
                    | URI
                    | {
                        "job-name": said(ValueTag.NAME, "foobar"),
                        "ipp-attribute-fidelity": said(ValueTag.BOOLEAN, True),
                    },
                ),
                (
                    2,
                    {
                        "copies": said(ValueTag.INTEGER, 20),
                        "sides": said(ValueTag.KEYWORD, "two-sided-long-edge"),
                    },
                ),
            ],
            (1, 1),
        ),
        b"%!PDF...",
        id="A.1",
    ),
    pytest.param(
        A3_REFUSED,
        IppMessage(
            0x040B,
            1,
            [
                (
                    1,
                    HEAD
                    | {
                        "status-message": said(
                            ValueTag.TEXT, "client-error-attributes-or-values-not-supported"
                        )
                    },
                ),
                (
                    5,
                    {
                        "copies": said(ValueTag.INTEGER, 20),
                        "sides": said(ValueTag.UNSUPPORTED, None),
                    },
                ),
            ],
            (1, 1),
        ),
        b"",
        id="A.3",
    ),
    pytest.param(
        A9_JOBS,
        IppMessage(
            0,
            0x7B,
            [
                (1, HEAD | {"status-message": said(ValueTag.TEXT, "successful-ok")}),
                (
                    2,
                    {
                        "job-id": said(ValueTag.INTEGER, 147),
                        "job-name": said(ValueTag.NAME_WITH_LANGUAGE, ("fr-ca", "fou")),
                    },
                ),
                (2, {}),
                (
                    2,
                    {
                        "job-id": said(ValueTag.INTEGER, 149),
                        "job-name": said(ValueTag.NAME_WITH_LANGUAGE, ("de-CH", "isch guet")),
                    },
                ),
            ],
            (1, 1),
        ),
        b"",
        id="A.9",
    ),
    pytest.param(
        COLLECTION,
        IppMessage(
            5,
            1,
            [
                (1, HEAD | URI),
                (
                    2,
                    {
                        "media-col": said(
                            ValueTag.COLLECTION,
                            {
                                "media-size": said(ValueTag.COLLECTION, SIZE),
                                "media-type": said(ValueTag.KEYWORD, "stationery"),
                            },
                        )
                    },
                ),
            ],
            (1, 1),
        ),
        b"",
        id="collection",
    ),
]


@pytest.mark.parametrize(("data", "message", "document"), WORKED)
def test_worked_bytes(data, message, document):
    assert decode_message(data) == (message, document)
    assert encode_message(message) + document == data


# --- bytes that are no message -------------------------------------------------------------------

START = b"\x02\x00\x00\x00\x00\x00\x00\x01"
DEEP = b"\x4a\x00\x00\x00\x01a\x34\x00\x00\x00\x00"


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "breaks off"),
        (b"HTTP/1.1 200 OK\r\n\r\n", "version 72.84"),
        (START, "breaks off"),
        (START + b"\x03", "operation's attributes"),
        (START + b"\x01\x21\x00\x01a\x00\x02\x00\x01\x03", "2 bytes where 4 belong"),
        (START + b"\x01\x22\x00\x01a\x00\x00\x03", "0 bytes where 1 belong"),
        (START + b"\x01\x21\x00\x00\x00\x04\x00\x00\x00\x01\x03", "further value without a first"),
        (START + b"\x01\x41\x00\x01a\xff\xff" + b"x" * 65535, "65535 bytes"),
        (START + b"\x01\x41\x7f\xffabc", "breaks off"),
        (START + b"\x01\x41\x00\x01\xe9\x00\x00\x03", "not ASCII"),
        (START + b"\x01\x36\x00\x01a\x00\x05\x00\x09de", "breaks off"),
        (START + b"\x01\x36\x00\x01a\x00\x06\x00\x00\x00\x01ax\x03", "does not fill"),
        (START + b"\x01\x34\x00\x01a\x00\x01x\x03", "begins with a value"),
        (START + b"\x01\x34\x00\x01a\x00\x00\x03", "does not end"),
        (START + b"\x01\x37\x00\x01a\x00\x00\x03", "outside of one"),
        (START + b"\x01\x4a\x00\x01a\x00\x00\x03", "outside of one"),
        (START + b"\x01\x34\x00\x01a\x00\x00\x21\x00\x00\x00\x04abcd\x03", "without a name"),
        (
            START + b"\x01\x34\x00\x01a\x00\x00\x4a\x00\x00\x00\x01b\x37\x00\x00\x00\x00\x03",
            "middle of a member",
        ),
        (START + b"\x01\x34\x00\x01a\x00\x00" + DEEP * 5000, "8 deep"),
    ],
)
def test_what_is_no_message(data, what):
    with pytest.raises(BrokenMessageError, match=what):
        decode_message(data)


def test_an_attribute_that_comes_twice_counts_once():
    data = START + b"\x01\x21\x00\x01a\x00\x04\x00\x00\x00\x01\x21\x00\x01a\x00\x04\x00\x00\x00\x02"
    message, _ = decode_message(data + b"\x03")
    assert message.groups == [(1, {"a": (IppValue(ValueTag.INTEGER, 1),)})]


@pytest.mark.parametrize("unit", [b"\x13\x00\x00\x00\x00", b"\x02"])
def test_four_megabytes_of_nothing_take_little(unit):
    first = b"\x01\x13\x00\x01a\x00\x00"
    data = START + first + unit * ((4 << 20) // len(unit))
    tracemalloc.start()
    with pytest.raises(BrokenMessageError, match="200000 values"):
        decode_message(data)
    assert tracemalloc.get_traced_memory()[1] < 200 << 20
    tracemalloc.stop()


def test_names_and_values_have_a_longest():
    with pytest.raises(ValueError, match="32767"):
        encode_message(IppMessage(2, 1, [(1, {"a": (IppValue(ValueTag.TEXT, "x" * 32768),)})]))
