"""Rules about the boundary's code, held by looking at it."""

import ast
import inspect
from dataclasses import fields
from pathlib import Path

import pytest

from passes import contributions as c
from passes import hookspecs
from passes.registry import KINDS

HOOKS = {
    name: function
    for name, function in vars(hookspecs).items()
    if name.startswith("passes_")
}


def test_every_hook_has_a_kind() -> None:
    assert set(HOOKS) == set(KINDS)


def test_every_kind_of_contribution_has_a_hook() -> None:
    kinds = {
        kind
        for kind in vars(c).values()
        if inspect.isclass(kind)
        and issubclass(kind, c.Contribution)
        and kind is not c.Contribution
    }
    assert kinds == set(KINDS.values())


@pytest.mark.parametrize("hook", HOOKS)
def test_a_hook_says_what_it_is_for_and_takes_nothing(hook: str) -> None:
    assert inspect.getdoc(HOOKS[hook])
    assert not inspect.signature(HOOKS[hook]).parameters


@pytest.mark.parametrize("hook", HOOKS)
def test_a_hook_is_named_after_what_it_offers(hook: str) -> None:
    offered = KINDS[hook]
    assert hook == "passes_" + offered.word.replace(" ", "_") + "s"
    assert inspect.signature(HOOKS[hook]).return_annotation.__args__ == (offered,)


@pytest.mark.parametrize("kind", KINDS.values())
def test_a_kind_asks_one_of_its_own_fields(kind: type[c.Contribution]) -> None:
    assert kind.asks in {field.name for field in fields(kind)}
    assert inspect.getdoc(kind)


#: Calls that compute a verdict; as a statement of their own nobody hears it.
VERDICTS = {"allclose", "array_equal", "isclose", "all", "any", "equal", "issubset"}


def idle_checks(source: str) -> list[int]:
    """Lines where a test computes a verdict and then throws it away."""
    idle = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Expr):
            value = node.value
            name = getattr(getattr(value, "func", None), "attr", "") or getattr(
                getattr(value, "func", None), "id", ""
            )
            if isinstance(value, ast.Compare | ast.BoolOp) or name in VERDICTS:
                idle.append(node.lineno)
    return idle


def test_an_idle_check_is_seen() -> None:
    source = "import numpy as np\nnp.allclose(a, b)\nx == y\nall(z)\nassert all(z)\n"
    assert idle_checks(source) == [2, 3, 4]


def test_no_test_computes_a_verdict_and_throws_it_away(root: Path) -> None:
    idle = {
        str(path.relative_to(root)): lines
        for path in sorted((root / "tests").rglob("*.py"))
        if (lines := idle_checks(path.read_text(encoding="utf-8")))
    }
    assert idle == {}


def test_every_test_asserts_something(root: Path) -> None:
    """A test function without an assertion that can fail holds nothing."""
    files = sorted((root / "tests").rglob("*.py"))
    shared = {
        name
        for path in files
        if not path.name.startswith("test_")
        for name in loud_helpers(path.read_text(encoding="utf-8"))
    }
    silent = {
        f"{path.relative_to(root)}: {name}"
        for path in files
        if path.name.startswith("test_")
        for name in silent_tests(path.read_text(encoding="utf-8"), shared)
    }
    assert silent == set()


def test_a_silent_test_is_seen() -> None:
    source = """
def helper(x): assert x
def test_one(): helper(1)
def test_two(): print(1)
def test_three(): np.testing.assert_allclose(1, 1)
"""
    assert silent_tests(source) == ["test_two"]


def silent_tests(
    source: str, shared: frozenset[str] | set[str] = frozenset()
) -> list[str]:
    """Tests that neither assert nor call a helper (beside them or shared) that does."""
    loud = loud_helpers(source) | shared
    return [
        f.name
        for f in functions_of(source)
        if f.name.startswith("test_") and not asserts(f, loud)
    ]


def loud_helpers(source: str) -> set[str]:
    """Functions beside the tests that assert something themselves."""
    return {
        f.name
        for f in functions_of(source)
        if not f.name.startswith("test") and asserts(f, set())
    }


def functions_of(source: str) -> list[ast.FunctionDef]:
    return [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.FunctionDef)]


def asserts(function: ast.FunctionDef, loud: set[str]) -> bool:
    """Whether a function asserts, expects an error, or calls something that does."""
    for node in ast.walk(function):
        if isinstance(node, ast.Assert):
            return True
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", "") or getattr(node.func, "id", "")
            if name in loud or name.startswith(
                ("assert", "raises", "warns", "require")
            ):
                return True
    return False
