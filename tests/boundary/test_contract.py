"""What is promised to others changes on purpose, or not at all."""

from pathlib import Path

import pytest
from contract import PARTS, changes, contract, kept, unraised, versions

pytestmark = pytest.mark.usefixtures("only_ours")


@pytest.mark.parametrize("part", PARTS)
def test_a_promise_is_kept_as_it_was_given(part: str) -> None:
    """Meant to change?  ``python tests/contract.py --renew`` says what it asks for."""
    before, now = kept(), contract()
    assert changes({part: before["lines"][part]}, {part: now[part]}) == {}
    assert before["versions"][part] == versions()[part]
    assert len(now[part]) > 20


def test_developers_md_lists_what_is_promised_and_how(root: Path) -> None:
    text = (root / "DEVELOPERS.md").read_text("utf-8")
    chapter = text.split("## What is promised", 1)[1].split("\n## ", 1)[0]
    for part, version in versions().items():
        assert f"`{part}`, {'.'.join(map(str, version))}" in chapter
    for module in ("api", "model", "contributions", "hookspecs", "options", "testing"):
        assert f"passes.{module}" in chapter


OLD = {"API": [1, 4], "JSON": [0, 3]}


@pytest.mark.parametrize(
    ("lines", "now", "right"),
    [
        (["+ f(a)"], [1, 4], False),
        (["+ f(a)"], [1, 5], True),
        (["- f(a)"], [1, 5], False),
        (["- f(a)", "+ f(a, b)"], [1, 9], False),
        (["- f(a)"], [2, 0], True),
        (["+ f(a)"], [2, 0], True),
    ],
)
def test_a_change_asks_for_a_version(
    lines: list[str], now: list[int], right: bool
) -> None:
    assert (unraised({"API": lines}, OLD, {"API": now}) == []) is right


def test_before_the_first_release_a_change_asks_for_the_next_minor() -> None:
    assert unraised({"JSON": ["- a"]}, OLD, {"JSON": [0, 4]}) == []
    assert unraised({"JSON": ["- a"]}, OLD, {"JSON": [0, 3]}) != []


def test_what_is_gone_and_what_has_come_is_seen() -> None:
    assert changes({"API": ["a", "b"]}, {"API": ["b", "c"]}) == {"API": ["- a", "+ c"]}
    assert changes({"API": ["a"]}, {"API": ["a"]}) == {}
