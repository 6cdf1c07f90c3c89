"""How installed plugins are found, ordered, chosen and left out."""

from collections.abc import Callable

import pytest

from passes import contributions as c
from passes.registry import Registry

Install = Callable[..., str]


def exporter(name: str) -> str:
    """A plugin with one exporter."""
    return f"""
    @hookimpl
    def passes_exporters():
        yield Exporter(name="{name}", summary="Counts.", export=lambda answer: "1")
    """


def names(registry: Registry) -> list[str]:
    return [listed.origin.plugin for listed in registry.listing()]


def test_our_own_come_first_by_the_same_door(install: Install) -> None:
    outsider = install("aaa", {"aaa": exporter("tally")})
    registry = Registry.from_entry_points(only=["passes", outsider])
    origins = [listed.origin for listed in registry.listing()]
    assert origins[-1].plugin == "aaa"
    assert {o.distribution for o in origins[:-1]} == {"passes"}
    own = [o.plugin for o in origins[:-1]]
    assert own == sorted(own)
    assert {"imaging", "twilight"} <= set(own)


def test_outsiders_come_by_name_whatever_the_path_says(install: Install) -> None:
    made = [install(f"passes-{n}", {n: exporter(n)}) for n in ("b", "c", "a")]
    assert names(Registry.from_entry_points(only=made)) == ["a", "b", "c"]


def test_only_compares_names_as_the_packaging_standard_does(install: Install) -> None:
    install("Passes.Some_Thing", {"x": exporter("x")})
    assert names(Registry.from_entry_points(only=["passes-some-thing"])) == ["x"]


def test_without_only_everyone_is_found(install: Install) -> None:
    install("passes-anyone", {"anyone": exporter("x")})
    assert "anyone" in names(Registry.from_entry_points())


def test_the_first_on_the_path_shadows_another_of_its_name(install: Install) -> None:
    install("passes-twice", {"old": exporter("old")}, version="1.0")
    install("passes-twice", {"new": exporter("new")}, version="2.0")
    registry = Registry.from_entry_points(only=["passes-twice"])
    assert [(o.origin.plugin, o.origin.version) for o in registry.listing()] == [
        ("new", "2.0")
    ]


def test_a_newer_version_without_plugins_shadows_too(install: Install) -> None:
    install("passes-gone", {"old": exporter("old")}, version="1.0")
    install("passes-gone", entry_points="[console_scripts]\n", version="2.0")
    assert names(Registry.from_entry_points(only=["passes-gone"])) == []


@pytest.mark.parametrize("text", ["[other]\nno equals sign", "\0\0", "[", "]=[\n=\n"])
def test_damaged_entry_points_of_strangers_do_not_matter(
    install: Install, text: str
) -> None:
    install("stranger", entry_points=text)
    good = install("passes-good", {"good": exporter("x")})
    registry = Registry.from_entry_points(only=["stranger", good])
    assert names(registry) == ["good"]
    assert registry.problems == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[passes.plugins]\nno equals sign", "import: "),
        ("[passes.plugins]\nx = not a module!", "names no module"),
        ("[passes.plugins]\nx = ", "names no module"),
        ("[passes.plugins]\na,b = json", "letters, digits"),
        ("[passes.plugins]\nx = json:nothing", "AttributeError"),
    ],
)
def test_our_own_group_damaged_is_told(install: Install, text: str, words: str) -> None:
    bad = install("passes-bad", entry_points=text)
    good = install("passes-good", {"good": exporter("x")})
    registry = Registry.from_entry_points(only=[bad, good])
    assert [p.item.name for p in registry.of(c.Exporter)] == ["x"]
    (problem,) = registry.problems
    assert words in problem.line()
    assert problem.line().isprintable()


def test_metadata_without_a_name_is_told_with_its_folder(install: Install) -> None:
    install("passes-nameless", {"x": exporter("x")}, metadata="Version: 9.9\n")
    registry = Registry.from_entry_points(only=["passes"])
    (line,) = [str(p) for p in registry.problems if "nameless" in str(p)]
    assert "passes_nameless-9.9.dist-info" in line
    assert "gives no name" in line


def test_disabled_plugins_are_not_even_imported(
    install: Install, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = "raise RuntimeError"
    made = install(
        "passes-x", {"one": bad, "two": bad, "three": bad, "four": exporter("x")}
    )
    monkeypatch.setenv("PASSES_DISABLE_PLUGINS", "one, two")
    registry = Registry.from_entry_points(only=[made], disabled=["three", "wrod"])
    states = {o.origin.plugin: o.state for o in registry.listing()}
    off = "disabled"
    assert states == {"one": off, "two": off, "three": off, "four": "working"}
    assert registry.problems == ()
    assert registry.unknown_disabled == ("wrod",)


@pytest.mark.parametrize(("value", "strict"), [("1", True), ("0", False), ("", False)])
def test_the_environment_can_make_every_problem_an_error(
    install: Install, monkeypatch: pytest.MonkeyPatch, value: str, strict: bool
) -> None:
    from passes.errors import PluginFailed

    made = install("passes-x", {"bad": "raise RuntimeError"})
    monkeypatch.setenv("PASSES_STRICT_PLUGINS", value)
    if strict:
        with pytest.raises(PluginFailed):
            Registry.from_entry_points(only=[made])
    else:
        assert len(Registry.from_entry_points(only=[made]).problems) == 1


def test_hooks_are_called_when_their_kind_is_first_asked_for(install: Install) -> None:
    source = """
    @hookimpl
    def passes_advisers():
        raise RuntimeError("asked")
    """
    registry = Registry.from_entry_points(only=[install("passes-x", {"x": source})])
    assert registry.of(c.Exporter) == ()
    assert registry.problems == ()
    assert registry.of(c.Adviser) == ()
    assert registry.of(c.Adviser) == ()  # asked once all the same
    assert len(registry.problems) == 1
