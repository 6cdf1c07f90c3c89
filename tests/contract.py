"""What is promised to others, as lines that can be compared with those kept.

``python tests/contract.py`` prints what differs from the snapshot; with ``--renew`` it
writes a new one, but only where ``passes/contract.py`` was raised as its rule asks.
"""

from __future__ import annotations

import inspect
import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import cached_property
from pathlib import Path
from types import ModuleType
from typing import Any

import click

Lines = dict[str, list[str]]
SNAPSHOT = Path(__file__).parent / "boundary" / "contract_snapshot.json"
PARTS = ("API", "PLUGINS", "JSON", "CONFIGURATION", "COMMANDS")


def versions() -> dict[str, list[int]]:
    """The versions that are claimed."""
    from passes import contract

    return {part: list(getattr(contract, part)) for part in PARTS}


def contract() -> Lines:
    """Every promise, a line each, sorted, by part."""
    made = {
        "API": [*_modules("passes.api", "passes.model")],
        "PLUGINS": [
            *_modules("passes.contributions", "passes.options", "passes.testing"),
            *_hooks(),
        ],
        "JSON": [*_shapes()],
        "CONFIGURATION": [*_configuration()],
        "COMMANDS": [*_commands(), *_exit_codes()],
    }
    return {part: sorted(set(lines)) for part, lines in made.items()}


# --- names of modules ------------------------------------------------------------


def _modules(*names: str) -> Iterator[str]:
    from importlib import import_module

    for name in names:
        module = import_module(name)
        for offered in module.__all__:
            yield from _member(f"{name}.{offered}", getattr(module, offered), module)


def _member(name: str, value: Any, module: ModuleType) -> Iterator[str]:
    if is_dataclass(value) and isinstance(value, type):
        yield from (f"{name}.{_field(one)}" for one in fields(value))
        yield from _methods(name, value)
    elif inspect.isclass(value):
        yield f"{name}: class"
        yield from _methods(name, value)
    elif inspect.isroutine(value):
        yield f"{name}{_signature(value)}"
    else:
        yield f"{name}: {value!r}"


def _field(one: Field[Any]) -> str:
    given = one.default is not MISSING or one.default_factory is not MISSING
    kind = one.type if isinstance(one.type, str) else inspect.formatannotation(one.type)
    return f"{one.name}: {kind}{' (may be left out)' if given else ''}"


def _methods(name: str, kind: type) -> Iterator[str]:
    """Public methods and properties of a class of ours."""
    for attribute, value in inspect.getmembers(kind):
        owner = next((c for c in kind.__mro__ if attribute in vars(c)), object)
        if attribute.startswith("_") or not owner.__module__.startswith("passes"):
            continue
        if isinstance(value, property | cached_property):
            yield f"{name}.{attribute}: property"
        elif inspect.isroutine(value):
            yield f"{name}.{attribute}{_signature(value)}"


def _signature(function: Any) -> str:
    """Names, kinds and defaults; what a default looks like is no promise."""
    parts = []
    for one in inspect.signature(function).parameters.values():
        star = {one.VAR_POSITIONAL: "*", one.VAR_KEYWORD: "**"}.get(one.kind, "")
        only = " (by name)" if one.kind is one.KEYWORD_ONLY else ""
        default = "" if one.default is one.empty else " = …"
        parts.append(f"{star}{one.name}{default}{only}")
    return f"({', '.join(parts)})"


def _hooks() -> Iterator[str]:
    from passes import hookspecs
    from passes.registry import KINDS

    yield f"entry points: {hookspecs.ENTRY_POINT_GROUP}"
    for hook, kind in KINDS.items():
        yield f"hook {hook}: {kind.__name__}"


# --- JSON ------------------------------------------------------------------------


def _shapes() -> Iterator[str]:
    import passes
    import passes_plugins

    folders = [Path(passes.__file__).parent / "cli" / "schemas"]
    folders += Path(next(iter(passes_plugins.__path__))).glob("*/schemas")
    for folder in folders:
        for path in folder.glob("*.json"):
            schema = json.loads(path.read_text("utf-8"))
            yield from _shape(schema, f"{folder.parent.name}/{path.stem}")


def _shape(schema: Any, where: str) -> Iterator[str]:
    """One line for each key, with its type and whether it is always there."""
    if not isinstance(schema, dict):
        return
    needed = schema.get("required", ())
    for key, inner in schema.get("properties", {}).items():
        always = ", always" if key in needed else ""
        yield f"{where}.{key}: {_type(inner)}{always}"
        yield from _shape(inner, f"{where}.{key}")
    for name, inner in schema.get("$defs", {}).items():
        yield from _shape(inner, f"{where}#{name}")
    if "items" in schema:
        yield from _shape(schema["items"], f"{where}[]")
    for word in ("allOf", "anyOf", "oneOf"):
        for inner in schema.get(word, ()):
            yield from _shape(inner, where)


def _type(schema: Any) -> str:
    if not isinstance(schema, dict):
        return "any"
    kind = schema.get(
        "type", schema.get("$ref", schema.get("enum", schema.get("const")))
    )
    if kind is None:
        words = ("allOf", "anyOf", "oneOf")
        inner = [_type(one) for word in words for one in schema.get(word, ())]
        return " or ".join(inner) or "any"
    return " or ".join(map(str, kind)) if isinstance(kind, list) else str(kind)


# --- configuration ---------------------------------------------------------------


def _configuration() -> Iterator[str]:
    from passes.config.reading import _SECTIONS, Defaults
    from passes.model import Rig, Site
    from passes.registry.core import DISABLE, STRICT

    yield from (f"[{section}]" for section in _SECTIONS)
    yield from _table("[sites.NAME]", Site)
    yield from _table("[rigs.NAME]", Rig)
    yield from _table("[defaults]", Defaults)
    yield from (f"environment: {name}" for name in (DISABLE, STRICT, "PASSES_DEBUG"))


def _table(where: str, kind: type) -> Iterator[str]:
    from typing import get_args, get_type_hints

    hints = get_type_hints(kind)
    for one in fields(kind):  # type: ignore[arg-type]
        if one.name == "name" and where.endswith(".NAME]"):
            continue
        yield f"{where} {_field(one)}"
        for inner in (hints[one.name], *get_args(hints[one.name])):
            if is_dataclass(inner) and isinstance(inner, type):
                yield from _table(f"{where} {one.name}:", inner)


# --- the command line ------------------------------------------------------------


def _commands() -> Iterator[str]:
    from passes.cli import cli
    from passes.options import program

    ctx = click.Context(cli, info_name="passes")
    program(ctx)
    yield from _command(cli, ctx, "passes")


def _command(command: click.Command, ctx: click.Context, path: str) -> Iterator[str]:
    for one in command.params:
        if not getattr(one, "hidden", False):
            yield f"{path} {_parameter(one)}"
    if isinstance(command, click.Group):
        for name in command.list_commands(ctx):
            below = command.get_command(ctx, name)
            assert below is not None
            inner = click.Context(below, info_name=name, parent=ctx)
            yield f"{path} {name}"
            yield from _command(below, inner, f"{path} {name}")


def _parameter(one: click.Parameter) -> str:
    words = "/".join(one.opts) if isinstance(one, click.Option) else one.name or ""
    choices = getattr(one.type, "choices", ())
    facts = [
        "flag" if getattr(one, "is_flag", False) else "",
        f"one of {', '.join(map(str, choices))}" if choices else "",
        f"{one.nargs} values" if one.nargs > 1 else "",
        "many" if one.multiple or one.nargs < 0 else "",
        "needed" if one.required else "",
    ]
    return f"{words}: {'; '.join(fact for fact in facts if fact) or 'one value'}"


def _exit_codes() -> Iterator[str]:
    from passes import errors

    for name, kind in inspect.getmembers(errors, inspect.isclass):
        if issubclass(kind, errors.PassesError):
            yield f"exit code {kind.exit_code}: {name}"


# --- comparing -------------------------------------------------------------------


def kept() -> dict[str, Any]:
    """The snapshot: versions, and the lines of each part."""
    found: dict[str, Any] = json.loads(SNAPSHOT.read_text("utf-8"))
    return found


def changes(old: Mapping[str, list[str]], new: Mapping[str, list[str]]) -> Lines:
    """What differs, by part: ``-`` what is gone, ``+`` what has come."""
    found: Lines = {}
    for part in new:
        before, now = set(old.get(part, ())), set(new[part])
        lines = [f"- {line}" for line in sorted(before - now)]
        lines += [f"+ {line}" for line in sorted(now - before)]
        if lines:
            found[part] = lines
    return found


def unraised(
    differ: Lines, before: Mapping[str, list[int]], now: Mapping[str, list[int]]
) -> list[str]:
    """Parts whose version is not what their changes ask for, and what is asked."""
    wrong = []
    for part, lines in differ.items():
        major, minor = before.get(part, [0, 0])
        gone = any(line.startswith("-") for line in lines)
        least = [major + 1, 0] if gone and major else [major, minor + 1]
        if now[part] < least:
            why = "something is gone" if gone else "something was added"
            wrong.append(f"{part} must be at least {tuple(least)}: {why}")
    return wrong


def main(args: list[str]) -> int:
    """Print what differs; renew the snapshot where that is asked for and allowed."""
    found, now = contract(), versions()
    old = kept() if SNAPSHOT.exists() else {"versions": {}, "lines": {}}
    differ = changes(old["lines"], found)
    for part, lines in differ.items():
        sys.stdout.write("\n".join([f"{part} {now[part]}", *lines, ""]))
    if "--renew" not in args:
        return 1 if differ else 0
    wrong = unraised(differ, old["versions"], now)
    if wrong:
        sys.stderr.write("\n".join([*wrong, "raise it in passes/contract.py", ""]))
        return 1
    text = json.dumps({"versions": now, "lines": found}, indent=1, ensure_ascii=False)
    SNAPSHOT.write_text(text + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
