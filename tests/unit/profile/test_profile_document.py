"""YAML text to plain data: places, and faults of the text itself."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.profile.read.document import (
    LARGEST_BYTES,
    Document,
    decode_text,
    plain_data,
    read_document,
)


def faults(text):
    return [(f.line, f.column, f.message) for f in read_document(text).faults]


def only(text):
    (fault,) = read_document(text).faults
    return fault.line, fault.column, fault.message


def test_data_and_places():
    document = read_document("lpi: 25\nart:\n  treat: tone\nwrite: [pdf, tiff]\n")
    assert document.data == {"lpi": 25, "art": {"treat": "tone"}, "write": ["pdf", "tiff"]}
    assert document.faults == []
    assert document.place(("lpi",)) == (1, 1)
    assert document.place(("art", "treat")) == (3, 3)
    assert document.place(("write", 1)) == (4, 14)
    assert document.place(("art", "fit")) == (2, 1)


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("25", 25),
        ("-2", -2),
        ("2.5", 2.5),
        (".5", 0.5),
        ("1e3", 1000.0),
        ("true", True),
        ("False", False),
        ("", None),
        ("null", None),
        # Text, although YAML 1.1 makes numbers, booleans and dates of them:
        ("no", "no"),
        ("on", "on"),
        ("off", "off"),
        ("13:19", "13:19"),
        ("055", "055"),
        ("0x10", "0x10"),
        ("1_000", "1_000"),
        ("2026-03-01", "2026-03-01"),
        (".inf", ".inf"),
        (".", "."),
        ("e5", "e5"),
        ("22,5", "22,5"),
    ],
)
def test_what_an_unquoted_word_means(word, value):
    assert plain_data(word) == value
    assert type(plain_data(word)) is type(value)
    assert read_document(f"a: {word}").data == {"a": value}


def test_quoted_words_are_text():
    document = read_document("a: '25'\nb: \"true\"\nc: ''")
    assert document.data == {"a": "25", "b": "true", "c": ""}
    assert document.written[("a",)].quoted


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("", 1, 1, "is empty"),
        ("# only a comment\n", 1, 1, "is empty"),
        ("---\n", 2, 1, "is empty"),
        ("- lpi\n- dpi\n", 1, 1, "a list of settings such as `lpi: 25`"),
        ("lpi 25", 1, 1, "a list of settings such as `lpi: 25`"),
        ("lpi:25", 1, 1, "put a space after the colon"),
        ("lpi: 25\nlpi: 30\n", 2, 1, "lpi is given twice (first on line 1)"),
        ("art:\n  fit: page\n  fit: own\n", 3, 3, "art.fit is given twice (first on line 2)"),
        ("a: &x 1", 1, 4, "a: &x cannot be used"),
        ("<<: {a: 1}", 1, 1, "<< (a merge) cannot be used"),
        ("a: !!int 1", 1, 4, "a: a tag (!) cannot be used"),
        ("a: !x {b: 1}", 1, 4, "a: a tag (!) cannot be used"),
        ("art:\n\ttreat: tone", 2, 1, "a Tab stands here; use spaces"),
        ("1: x", 1, 1, "a key must be a word, not 1"),
        ("true: x", 1, 1, "a key must be a word, not true"),
        ("? [a, b]\n: c", 1, 3, "a key must be a plain word"),
        ("a: 1\n---\nb: 2", 2, 1, "is one document"),
        ("a: b: c", 1, 5, "a second colon stands here"),
        ("lpi: 25\ndot round\nx: 1", 2, 1, "this line is no setting"),
        ("a: 1\n b: 2", 2, 3, "a second colon stands here"),
        ("art:\n  fit: page\n turn: auto", 3, 2, "does not line up"),
        ("a: [1, 2\nb: 3", 2, 2, "is not closed before here"),
        ('a: "x', 1, 6, "ends inside quotes"),
        ("a: \x07", 1, 4, "cannot be part of a text file"),
        ("a: 1\nb: @x", 2, 4, "nothing can begin with the character"),
        ('a: "\\0"', 1, 4, "a holds a control character"),
        ('a: "\\ud800"', 1, 4, "a holds a control character"),
        ('a: "\\UFFFFFFFF"', 1, 5, "an escape here is no character"),
        ("a: " + "[" * 3000, 1, 11, "nested too deeply"),
        ("a: " + "x" * 5000, 1, 4, "must be 4096 characters or less"),
        ("a" * (LARGEST_BYTES + 1), 1, 1, "64 KiB or less"),
    ],
)  # fmt: skip
def test_faults_of_the_text(text, line, column, says):
    found = only(text)
    assert found[:2] == (line, column)
    assert says in found[2]


def test_an_alias_is_refused_where_it_stands():
    found = faults("a: &x 1\nb: *x")
    assert [(line, column) for line, column, _ in found] == [(1, 4), (2, 4)]
    assert found[1][2] == "b: *x cannot be used; write the value out here"


def test_a_repeated_key_keeps_its_first_value():
    assert read_document("a: 1\na: 2").data == {"a": 1}


def test_faults_come_sorted_by_line():
    lines = [line for line, _, _ in faults("a: &x 1\nb: *x\na: 2\n3: 4\n<<: {c: 1}\n")]
    assert lines == [1, 2, 3, 4, 5]


def test_bytes_that_are_no_utf8_text_name_their_place():
    document = decode_text("größe: 1\n".encode() + b"a: \xff\n")
    assert isinstance(document, Document)
    assert (document.faults[0].line, document.faults[0].column) == (2, 4)
    assert "not UTF-8" in document.faults[0].message


def test_utf16_with_its_mark_is_read():
    for code in ("utf-16", "utf-16-le", "utf-16-be"):
        mark = "" if code == "utf-16" else "\ufeff"
        text = decode_text((mark + "a: 1\r\nb: é").encode(code))
        assert isinstance(text, str)
        assert read_document(text).data == {"a": 1, "b": "é"}
    odd = decode_text(b"\xff\xfea")
    assert isinstance(odd, Document)
    assert "not UTF-8" in odd.faults[0].message


@pytest.mark.parametrize("start", [b"{\\rtf1\\ansi", b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1"])
def test_a_word_processors_file_is_told(start):
    document = decode_text(start + b" lpi: 30")
    assert isinstance(document, Document)
    assert "save it there as plain text" in document.faults[0].message


def test_bytes_that_are_too_many_are_not_read():
    document = decode_text(b" " * (LARGEST_BYTES + 1))
    assert isinstance(document, Document)
    assert "64 KiB or less" in document.faults[0].message


def test_a_byte_order_mark_and_windows_line_ends_are_read():
    text = decode_text(b"\xef\xbb\xbflpi: 25\r\ndot: round\r\n")
    assert isinstance(text, str)
    document = read_document(text)
    assert document.data == {"lpi": 25, "dot": "round"}
    assert document.place(("dot",)) == (2, 1)


@settings(max_examples=150, deadline=None)
@given(
    st.recursive(
        st.text("ab:,-'\"# \n1é", max_size=8) | st.integers(-99, 99),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.text("abc", min_size=1, max_size=5), inner, max_size=3)
        ),
        max_leaves=4,
    ).map(lambda tree: {"a": tree})
)
def test_what_another_writer_writes_is_read_back(tree):
    # yaml.safe_dump is the other writer; it quotes whatever YAML 1.1 would not take for text.
    document = read_document(yaml.safe_dump(tree))
    assert document.faults == []
    assert document.data == tree


def test_a_text_has_64_kib_at_most():
    said = "a: 1 #"
    assert read_document(said + "x" * (65_536 - len(said))).data == {"a": 1}
    assert not read_document(said + "x" * (65_537 - len(said))).whole
    # Bytes are counted, not letters.
    assert not read_document(said + "\u00e9" * 32_766).whole
    assert isinstance(decode_text(b" " * 65_536), str)
    document = decode_text(b" " * 65_537)
    assert isinstance(document, Document)
    assert "not 65 KiB" in document.faults[0].message


def test_a_value_has_4096_characters_at_most():
    assert read_document("a: " + "x" * 4096).faults == []
    assert "4096 characters" in only("a: " + "x" * 4097)[2]


def test_groups_lie_eight_deep_at_most():
    # The text itself is the first group, and a value at its end lies one deeper.
    assert read_document("a: " + "[" * 6 + "1" + "]" * 6).faults == []
    assert "nested too deeply" in only("a: " + "[" * 7 + "1" + "]" * 7)[2]


@pytest.mark.parametrize(("word", "value"), [("9" * 16, int("9" * 16)), ("9" * 17, 1e17)])
def test_whole_numbers_have_16_digits_at_most(word, value):
    assert plain_data(word) == value
    assert type(plain_data(word)) is type(value)
