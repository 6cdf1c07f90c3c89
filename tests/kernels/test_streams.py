"""Messages as streams: lines whatever ends them, XML element by element."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from passes.streams import DEEPEST, Damaged, Refused, lines, walk


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_whatever_ends_them(end):
    text = end.join(["a = 1", "", "  b  ", "ç"]) + end
    assert list(lines(text.encode())) == [(1, "a = 1"), (3, "b"), (4, "ç")]


def test_another_encoding_is_told_by_its_line():
    with pytest.raises(Damaged, match="byte 0xc9") as error:
        list(lines("ok\nSONDE É\n".encode("latin-1")))
    assert error.value.line == 2


@given(st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]))))
def test_lines_are_those_of_the_text(some):
    found = [line for _, line in lines("\n".join(some).encode())]
    assert found == [line for line in some if line]


def test_elements_are_entered_and_left_in_order():
    text = b"<n:a xmlns:n='urn:x'>\n<b> one </b><!-- remark --><n:c/></n:a>"
    assert list(walk(text)) == [
        (True, "a", ""),
        (True, "b", ""),
        (False, "b", "one"),
        (True, "c", ""),
        (False, "c", ""),
        (False, "a", ""),
    ]


def test_what_comes_before_damage_is_given_first():
    found = []
    with pytest.raises(Damaged, match="mismatched tag") as error:
        found.extend(walk(b"<a>\n<b>1</b>\n<c>2</d>\n</a>"))
    assert error.value.line == 3
    steps = walk(b"<a>" + b"<b>1</b>" * 50_000 + b"</c>")
    assert next(steps) == (True, "a", "")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("<!DOCTYPE a><a/>", "declares a document type"),
        ("<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>", "declares a document type"),
        ("<!DOCTYPE a SYSTEM 'file:///etc/hosts'><a/>", "declares a document type"),
        ("<a>" * (DEEPEST + 1), "nested too deeply"),
        ("<?xml version='1.0' encoding='nonsense'?><a/>", "unknown encoding"),
    ],
)
def test_what_is_dangerous_is_refused(text, reason):
    with pytest.raises(Refused, match=reason):
        list(walk(text.encode()))
