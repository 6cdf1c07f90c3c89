"""Patterns of names against a plain reading of them, and against patience."""

from fnmatch import fnmatchcase

from hypothesis import given
from hypothesis import strategies as st

from passes.objects.patterns import Patterns

LETTERS = st.text("AB* ?-", min_size=1, max_size=12)


@given(pattern=LETTERS, name=st.text("AB -", min_size=1, max_size=20))
def test_patterns_match_as_the_shell_matches(pattern: str, name: str) -> None:
    """Held against fnmatch, which has the same two signs (and brackets, not used)."""
    pattern, name = pattern.strip(), name.strip()
    wanted = [0] if pattern and fnmatchcase(name, pattern) else []
    assert list(Patterns([pattern]).matching(name)) == wanted


def test_many_stars_on_a_long_name_are_no_trap() -> None:
    """It would take longer than anybody lives if each part were tried everywhere."""
    patterns = Patterns(["*A" * 30 + "*B", "*A" * 30])
    assert list(patterns.matching("A" * 10_000)) == [1]
