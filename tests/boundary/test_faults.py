"""A zoo of bad plugins: each is named, and all the rest goes on."""

from collections.abc import Callable

import pytest

from passes import contributions as c
from passes.errors import PluginFailed
from passes.registry import Registry

Load = Callable[..., Registry]

GOOD = """
@hookimpl
def passes_exporters():
    yield Exporter(name="tally", summary="Counts.", export=lambda answer: "1")
"""
#: Plugin source -> stage at which it is caught, and words that must be told.
ABSENT = {
    "raises-on-import": (
        "raise RuntimeError('no luck')",
        "import",
        "RuntimeError: no luck",
    ),
    "exits-on-import": ("import sys; sys.exit('bye')", "import", "SystemExit: bye"),
    "outcast": (
        "class Odd(BaseException): pass\nraise Odd('neither')",
        "import",
        "Odd: neither",
    ),
    "not-python": ("def broken(:", "import", "SyntaxError"),
    "needs-absent-module": ("import surely_not_there", "import", "surely_not_there"),
    "mute-error": (
        """
        class Mute(Exception):
            def __str__(self):
                raise RuntimeError
        raise Mute
        """,
        "import",
        "cannot describe itself",
    ),
    "offers-nothing": ("x = 1", "register", "offers nothing"),
    "misspelt-hook": (
        "@hookimpl\ndef passes_exporter(): return []",
        "register",
        "did you mean passes_exporters?",
    ),
    "made-up-hook": (
        "@hookimpl\ndef passes_zzz(): return []",
        "register",
        "there are passes_element_sources",
    ),
    "unmarked-hook": (
        GOOD + "\ndef passes_advisers(): return []",
        "register",
        "passes_advisers is not marked",
    ),
    "hook-with-argument": (
        "@hookimpl\ndef passes_exporters(services): return []",
        "register",
        "must take no arguments, not (services)",
    ),
    "wrapper": (
        "@hookimpl(wrapper=True)\ndef passes_exporters():\n    return (yield)",
        "register",
        "wrapper",
    ),
    "old-wrapper": (
        "@hookimpl(hookwrapper=True)\ndef passes_exporters():\n    yield",
        "register",
        "wrapper",
    ),
    "asynchronous": (
        "@hookimpl\nasync def passes_exporters(): return []",
        "register",
        "asynchronous",
    ),
}


@pytest.mark.parametrize("name", ABSENT)
def test_a_plugin_that_cannot_be_used_is_named_and_left_out(
    load: Load, name: str
) -> None:
    source, stage, words = ABSENT[name]
    registry = load({name: source, "zz-good": GOOD})
    assert [p.item.name for p in registry.of(c.Exporter)] == ["tally"]
    (problem,) = registry.problems
    assert (problem.origin.plugin, problem.stage) == (name, stage)
    assert words in problem.line()
    assert problem.line().startswith(f"plugin {name} (passes-menagerie 9.9): {stage}: ")
    states = {listed.origin.plugin: listed.state for listed in registry.listing()}
    assert states == {name: "absent", "zz-good": "working"}


def test_a_refused_plugin_leaves_no_hook_behind(load: Load) -> None:
    half = GOOD + "\n@hookimpl\ndef passes_adviser(): return []"
    registry = load({"half": half})
    assert registry.of(c.Exporter) == ()
    assert [p.stage for p in registry.problems] == ["register"]


def test_a_hook_for_a_later_version_may_be_marked_as_optional(load: Load) -> None:
    later = GOOD + "\n@hookimpl(optionalhook=True)\ndef passes_later(): return []"
    registry = load({"later": later})
    assert [p.item.name for p in registry.of(c.Exporter)] == ["tally"]
    assert registry.problems == ()


#: A bad `passes_advisers` -> words that must be told.
BAD_OFFERS = {
    "raises": ("raise ValueError('half a thought')", "ValueError: half a thought"),
    "exits": ("raise SystemExit(3)", "SystemExit: 3"),
    "dies-half-way": (
        "yield Adviser(name='x', summary='X.', advise=print); 1 / 0",
        "ZeroDivisionError",
    ),
    "gives-none": ("return None", "the hook gave NoneType"),
    "gives-one": (
        "return Adviser(name='x', summary='X.', advise=print)",
        "the hook gave Adviser, want an iterable",
    ),
    "gives-text": ("return 'adviser'", "the hook gave str"),
    "never-ends": (
        "while True: yield Adviser(name='x', summary='X.', advise=print)",
        "more than 1000",
    ),
    "wrong-type": (
        "return [print]",
        "offered builtin_function_or_method, want Adviser",
    ),
    "wrong-kind": (
        "return [Exporter(name='x', summary='X.', export=print)]",
        "offered Exporter, want Adviser",
    ),
    "bad-name": (
        "return [Adviser(name='No Good', summary='X.', advise=print)]",
        "adviser name 'No Good'",
    ),
    "two-lines": (
        "return [Adviser(name='x', summary='a\\nb', advise=print)]",
        "one line",
    ),
    "unchecked-subclass": (
        """
    class Odd(Adviser):
        def __post_init__(self): pass
    return [Odd(name=None, summary='X.', advise=print)]
    """,
        "adviser name None",
    ),
}


@pytest.mark.parametrize("name", BAD_OFFERS)
def test_a_bad_offer_costs_only_that_hook(load: Load, name: str) -> None:
    body, words = BAD_OFFERS[name]
    source = f"{GOOD}\n@hookimpl\ndef passes_advisers():\n    {body}\n"
    registry = load({name: source})
    assert [p.item.name for p in registry.of(c.Exporter)] == ["tally"]
    assert registry.of(c.Adviser) == ()
    (problem,) = registry.problems
    assert problem.stage == "collect"
    assert words in problem.line()
    assert [listed.state for listed in registry.listing()] == ["faulty"]


def test_a_wrong_answer_costs_only_itself(load: Load) -> None:
    source = """
    @hookimpl
    def passes_advisers():
        yield Adviser(name="one", summary="One.", advise=print)
        yield "two"
        yield Adviser(name="three", summary="Three.", advise=print)
    """
    registry = load({"mixed": source})
    assert [p.item.name for p in registry.of(c.Adviser)] == ["one", "three"]
    assert len(registry.problems) == 1


def test_the_first_by_name_keeps_a_contested_name(load: Load) -> None:
    registry = load({"b-late": GOOD, "a-early": GOOD})
    (provided,) = registry.of(c.Exporter)
    assert provided.origin.plugin == "a-early"
    (problem,) = registry.problems
    assert (problem.origin.plugin, problem.stage) == ("b-late", "clash")
    assert "exporter tally is taken by plugin a-early (passes-menagerie 9.9)" in str(
        problem
    )


def test_no_plugin_takes_a_command_of_the_program(load: Load) -> None:
    source = """
    @hookimpl
    def passes_commands():
        yield Command(name="tonight", summary="Mine.", load=print)
        yield Command(name="tomorrow", summary="Mine too.", load=print)
    """
    registry = load({"greedy": source}, commands=["tonight"])
    assert [p.item.name for p in registry.of(c.Command)] == ["tomorrow"]
    assert "command tonight is the program's own" in registry.problems[0].line()


def test_plugins_of_one_name_do_not_mix(install: Callable[..., str]) -> None:
    one = install("passes-one", {"same": GOOD})
    two = install("passes-two", {"same": GOOD.replace("tally", "other")})
    registry = Registry.from_entry_points(only=[one, two])
    assert [p.item.name for p in registry.of(c.Exporter)] == ["tally"]
    (problem,) = registry.problems
    assert "the name is taken by plugin same (passes-one 9.9)" in problem.line()
    assert [listed.state for listed in registry.listing()] == ["working", "absent"]


def test_a_strict_registry_raises_at_once(load: Load) -> None:
    with pytest.raises(
        PluginFailed, match=r"plugin bad \(passes-menagerie 9\.9\): import"
    ):
        load({"bad": "raise RuntimeError"}, strict=True)
    registry = load({"later": "@hookimpl\ndef passes_advisers(): 1 / 0"}, strict=True)
    with pytest.raises(PluginFailed, match="collect: ZeroDivisionError"):
        registry.of(c.Adviser)


def test_hostile_words_reach_nobody_raw(load: Load) -> None:
    hostile = r"raise RuntimeError('\x1b[31mred\x07\n' + 'x' * 10_000)"
    (problem,) = load({"hostile": hostile}).problems
    line = problem.line()
    assert line.isprintable()
    assert len(line) <= 400
    assert "Traceback" in problem.detail()


def test_one_plugin_cannot_break_the_listing_of_another(load: Load) -> None:
    zoo = {name: source for name, (source, _, _) in ABSENT.items()}
    registry = load({**zoo, "zz-good": GOOD})
    listed = {one.origin.plugin: one for one in registry.listing()}
    assert set(listed) == {*ABSENT, "zz-good"}
    assert all(len(listed[name].problems) == 1 for name in ABSENT)
    assert [p.item.name for p in listed["zz-good"].provided] == ["tally"]
    assert len(registry.news()) == len(ABSENT)
    assert registry.news() == ()
