"""What a contribution must be before anyone sees it."""

from typing import Any

import pytest

from passes import contributions as c
from passes.errors import InputError


def nothing(*_: object) -> Any:
    """Stand in for a callable that is never called."""


@pytest.mark.parametrize("name", ["ics", "diffuse-sphere", "a1-b2"])
def test_names_are_words_joined_by_hyphens(name: str) -> None:
    assert c.Adviser(name=name, summary="Fine.", advise=nothing).name == name


@pytest.mark.parametrize(
    "name",
    ["", "Big", "two words", "under_score", "-x", "x-", "1x", "ü", "a\n", 7, None],
)
def test_other_names_are_refused(name: Any) -> None:
    with pytest.raises(InputError, match=r"adviser name .*lower-case"):
        c.Adviser(name=name, summary="Fine.", advise=nothing)


@pytest.mark.parametrize(
    "summary", ["", "  ", "two\nlines", "bell\a", "\x1b[31mred", 5]
)
def test_a_summary_is_one_line_of_plain_text(summary: Any) -> None:
    with pytest.raises(InputError, match="adviser x: the summary must"):
        c.Adviser(name="x", summary=summary, advise=nothing)


def test_what_is_asked_must_be_callable() -> None:
    with pytest.raises(InputError, match="exporter x: export must be callable"):
        c.Exporter(name="x", summary="Fine.", export="text")  # type: ignore[arg-type]


def test_one_bare_word_is_no_tuple_of_words() -> None:
    with pytest.raises(InputError, match="kinds must be a tuple of words"):
        c.SessionReporter(name="x", summary="Fine.", report=nothing, kinds="streak")  # type: ignore[arg-type]


def test_lists_of_words_become_tuples() -> None:
    exporter = c.Exporter(
        name="x",
        summary="Fine.",
        export=nothing,
        accepts=["passes"],  # type: ignore[arg-type]
        suffixes=[".x"],  # type: ignore[arg-type]
    )
    assert (exporter.accepts, exporter.suffixes) == (("passes",), (".x",))


@pytest.mark.parametrize("suffix", ["ics", "*.ics", ".ICS"])
def test_a_suffix_is_a_dot_and_small_letters(suffix: str) -> None:
    with pytest.raises(InputError, match="suffix"):
        c.Exporter(name="x", summary="Fine.", export=nothing, suffixes=(suffix,))


def test_a_subject_is_what_can_be_shot() -> None:
    from passes import testing as kit

    for subject in (kit.passage(), kit.crossing(), kit.event()):
        assert isinstance(subject, c.Subject)
    assert not isinstance(kit.rig(), c.Subject)


def test_handed_over_mappings_are_copies_that_cannot_change() -> None:
    settings = {"limit": 1}
    query = c.ElementQuery(name="x", settings=settings)
    settings["limit"] = 2
    assert query.settings["limit"] == 1
    with pytest.raises(TypeError):
        query.settings["limit"] = 3  # type: ignore[index]
