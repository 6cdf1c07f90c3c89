"""The registry: loads plugins one by one, asks each hook once, keeps the books."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from functools import partial
from time import perf_counter
from typing import Any, TypeVar

import pluggy

from passes import contributions as c
from passes import hookspecs
from passes.errors import InputError, PluginFailed, UnknownName
from passes.registry.checks import check_hooks, check_offer, drain
from passes.registry.discovery import installed
from passes.registry.guard import Failure, caught, to_stderr, watched
from passes.registry.records import Listed, Origin, Problem, Provided, State, describe

C = TypeVar("C", bound=c.Contribution)
T = TypeVar("T")

#: Every hook and the kind of contribution it offers.
KINDS: dict[str, type[c.Contribution]] = {
    "passes_element_sources": c.ElementSource,
    "passes_brightness_models": c.BrightnessModel,
    "passes_advisers": c.Adviser,
    "passes_session_reporters": c.SessionReporter,
    "passes_exporters": c.Exporter,
    "passes_commands": c.Command,
}
DISABLE = "PASSES_DISABLE_PLUGINS"
STRICT = "PASSES_STRICT_PLUGINS"
_HOOK_OF = {kind: hook for hook, kind in KINDS.items()}


class Registry:
    """Plugins, what they offer, and what went wrong with them.

    ``strict`` turns every problem into :class:`PluginFailed` at once (but not
    slowness, which depends on the machine).  ``commands`` are the names of the
    program's own commands, which no plugin may take.  Hooks are called when a kind
    is first asked for.  A call that takes more than ``slow_after_s`` is named through
    ``say`` while it runs.  Not safe for use by several threads together.
    """

    def __init__(
        self,
        *,
        strict: bool = False,
        commands: Iterable[str] = (),
        slow_after_s: float = 10.0,
        say: Callable[[str], None] = to_stderr,
    ) -> None:
        self._strict = strict
        self._commands = frozenset(commands)
        self._slow_after_s = slow_after_s
        self._say = say
        self._manager = pluggy.PluginManager(hookspecs.NAMESPACE)
        self._manager.add_hookspecs(hookspecs)
        self._origins: dict[str, Origin] = {}
        self._states: dict[Origin, State] = {}
        self._load_s: dict[Origin, float] = {}
        self._asked: set[tuple[str, str]] = set()
        self._offered: dict[str, dict[str, Provided[Any]]] = {h: {} for h in KINDS}
        self._problems: list[Problem] = []
        self._lines: set[str] = set()
        self._told = 0
        self.unknown_disabled: tuple[str, ...] = ()

    @classmethod
    def from_entry_points(
        cls,
        only: Iterable[str] | None = None,
        disabled: Iterable[str] = (),
        strict: bool = False,
        *,
        commands: Iterable[str] = (),
        slow_after_s: float = 10.0,
        say: Callable[[str], None] = to_stderr,
    ) -> Registry:
        """Load the installed plugins: our own distribution's first, then by name.

        ``only`` names distributions (tests must not depend on what else happens to
        be installed); ``disabled`` names plugins that are not even imported, as
        does the environment variable ``PASSES_DISABLE_PLUGINS=a,b``;
        ``PASSES_STRICT_PLUGINS=1`` is the same as ``strict``.
        """
        registry = cls(
            strict=strict or os.environ.get(STRICT, "") not in ("", "0"),
            commands=commands,
            slow_after_s=slow_after_s,
            say=say,
        )
        blocked = {*disabled, *os.environ.get(DISABLE, "").replace(",", " ").split()}
        found, unread = installed(only)
        for problem in unread:
            registry._states[problem.origin] = "absent"
            registry._note(problem)
        for plugin in found:
            if plugin.origin.plugin in blocked:
                registry._states[plugin.origin] = "disabled"
            else:
                registry.add(plugin.load, plugin.origin)
        known = {plugin.origin.plugin for plugin in found}
        registry.unknown_disabled = tuple(sorted(blocked - known))
        return registry

    # --- what is there -------------------------------------------------------

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What went wrong so far, in order; a fault that repeats is listed once."""
        return tuple(self._problems)

    def news(self) -> tuple[str, ...]:
        """One line for each problem that this method has not yet told."""
        fresh = self._problems[self._told :]
        self._told = len(self._problems)
        return tuple(problem.line() for problem in fresh)

    def of(self, kind: type[C]) -> tuple[Provided[C], ...]:
        """All contributions of a kind, by name."""
        hook = _HOOK_OF[kind]
        for plugin in self._origins:
            if (hook, plugin) not in self._asked:
                self._asked.add((hook, plugin))
                self._collect(hook, plugin)
        return tuple(provided for _, provided in sorted(self._offered[hook].items()))

    def named(self, kind: type[C], name: str) -> Provided[C]:
        """The contribution of that name; UnknownName lists those there are."""
        for provided in self.of(kind):
            if provided.item.name == name:
                return provided
        raise UnknownName(kind.word, name, (p.item.name for p in self.of(kind)))

    def listing(self) -> tuple[Listed, ...]:
        """Every plugin found, with what it offers and what is wrong with it."""
        offers = [provided for kind in KINDS.values() for provided in self.of(kind)]
        return tuple(
            Listed(
                origin=origin,
                state=self._states[origin],
                load_s=self._load_s.get(origin, 0.0),
                provided=tuple(p for p in offers if p.origin == origin),
                problems=tuple(p for p in self._problems if p.origin == origin),
            )
            for origin in self._states
        )

    # --- running -------------------------------------------------------------

    def ambient(
        self, provided: Provided[C], run: Callable[[C], Iterable[T]]
    ) -> tuple[T, ...]:
        """Gather from something nobody named: on failure, note it and go on.

        ``run`` gets the contribution and gives an iterable, which is drained here so
        that a fault half-way is caught here; ``lambda item: (ask(item, request),)``
        also checks the answer.  After a failure the tuple is empty.
        """
        outcome = self._call(
            provided.origin, _doing(provided), lambda: tuple(run(provided.item))
        )
        if isinstance(outcome, Failure):
            self._note(Problem(provided.origin, "run", outcome.error))
            return ()
        return outcome

    def requested(self, provided: Provided[C], run: Callable[[C], T]) -> T:
        """Run something the user named: on failure, say who failed and stop.

        Raises PluginFailed.
        """
        outcome = self._call(
            provided.origin, _doing(provided), partial(run, provided.item)
        )
        if isinstance(outcome, Failure):
            raise PluginFailed(
                f"{_doing(provided)}, from plugin {provided.origin}, failed: "
                f"{describe(outcome.error)}"
            ) from outcome.error
        return outcome

    # --- loading -------------------------------------------------------------

    def add(self, load: Callable[[], object], origin: Origin) -> bool:
        """Import and register one plugin; whether it is in.

        ``load`` returns the module (or object) whose functions are the hooks.
        """
        if origin.plugin in self._origins:
            holder = self._origins[origin.plugin]
            self._clash(origin, f"the name is taken by plugin {holder}")
            self._states.setdefault(origin, "absent")
            return False
        self._states[origin] = "absent"
        began = perf_counter()
        plugin = self._call(origin, "import", load)
        self._load_s[origin] = perf_counter() - began
        if isinstance(plugin, Failure):
            self._note(Problem(origin, "import", plugin.error))
            return False
        outcome = self._call(
            origin, "register", partial(self._register, plugin, origin)
        )
        if isinstance(outcome, Failure):
            self._note(Problem(origin, "register", outcome.error))
            return False
        self._origins[origin.plugin] = origin
        self._states[origin] = "working"
        return True

    def _register(self, plugin: object, origin: Origin) -> None:
        check_hooks(self._manager, plugin, KINDS)
        try:
            self._manager.register(plugin, origin.plugin)
        except Exception:
            # Older pluggy leaves a plugin that it refused half registered.
            if self._manager.get_plugin(origin.plugin) is plugin:
                self._manager.unregister(plugin, origin.plugin)
            raise

    def _collect(self, hook: str, plugin: str) -> None:
        """Ask one plugin one question, and keep the answers that are good."""
        origin, kind = self._origins[plugin], KINDS[hook]
        for implementation in getattr(self._manager.hook, hook).get_hookimpls():
            if implementation.plugin_name != plugin:
                continue
            answers = self._call(origin, hook, partial(drain, implementation.function))
            if isinstance(answers, Failure):
                self._note(Problem(origin, "collect", answers.error))
                continue
            for item in answers:
                self._keep(hook, kind, origin, item)

    def _keep(
        self, hook: str, kind: type[c.Contribution], origin: Origin, item: object
    ) -> None:
        checked = caught(partial(check_offer, hook, kind, item))
        if isinstance(checked, Failure):
            self._note(Problem(origin, "collect", checked.error))
            return
        name = checked.name
        if kind is c.Command and name in self._commands:
            self._clash(origin, f"command {name} is the program's own")
        elif name in self._offered[hook]:
            holder = self._offered[hook][name].origin
            self._clash(origin, f"{kind.word} {name} is taken by plugin {holder}")
        else:
            self._offered[hook][name] = Provided(origin, checked)

    # --- guarding ------------------------------------------------------------

    def _call(self, origin: Origin, doing: str, run: Callable[[], T]) -> T | Failure:
        """Run plugin code alone: caught, watched, its prints turned to stderr."""
        began = perf_counter()

        def on_slow() -> None:
            self._say(
                f"plugin {origin}: {doing} is taking more than "
                f"{self._slow_after_s:g} s; {DISABLE}={origin.plugin} leaves it out"
            )

        with watched(self._slow_after_s, on_slow):
            outcome = caught(run)
        took_s = perf_counter() - began
        if took_s > self._slow_after_s:
            late = PluginFailed(f"{doing} took {took_s:.1f} s")
            self._problems.append(Problem(origin, "slow", late))
        return outcome

    def _clash(self, origin: Origin, text: str) -> None:
        self._note(Problem(origin, "clash", InputError(text)))

    def _note(self, problem: Problem) -> None:
        line = problem.line()
        if line not in self._lines:  # an adviser may fail alike for every pass
            self._lines.add(line)
            self._problems.append(problem)
        if self._states.get(problem.origin) == "working":
            self._states[problem.origin] = "faulty"
        if self._strict:
            raise PluginFailed(line) from problem.error


def _doing(provided: Provided[Any]) -> str:
    return f"{provided.item.word} {provided.item.name}"
