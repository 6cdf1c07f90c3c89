"""What a plugin must look like, and what each of its hooks may offer."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Collection, Iterable
from itertools import islice
from typing import Any

import pluggy

from passes.contributions import Contribution
from passes.errors import InputError

_MOST_OFFERS = 1000


def check_hooks(
    manager: pluggy.PluginManager, plugin: object, known: Collection[str]
) -> None:
    """Refuse a plugin whose hooks would be called wrongly, or never.

    pluggy accepts a misspelt hook and never calls it.  Raises InputError.
    """
    offered = 0
    for attribute in dir(plugin):
        options = manager.parse_hookimpl_opts(plugin, attribute)
        if options is not None:
            hook = options.get("specname") or attribute
            if hook in known:
                _check_form(hook, getattr(plugin, attribute), options)
                offered += 1
            elif not options.get("optionalhook"):
                raise InputError(_misspelt(hook, known))
        elif attribute in known and inspect.isroutine(getattr(plugin, attribute)):
            raise InputError(f"{attribute} is not marked with @hookimpl")
    if not offered:
        raise InputError(
            "it offers nothing: no function of it is marked with @hookimpl"
        )


def _check_form(hook: str, function: Any, options: Any) -> None:
    if options.get("wrapper") or options.get("hookwrapper"):
        raise InputError(f"{hook} is a wrapper; plugins only offer, they wrap nothing")
    if inspect.iscoroutinefunction(function) or inspect.isasyncgenfunction(function):
        raise InputError(f"{hook} is asynchronous; make it a plain function")
    needed = [
        name
        for name, parameter in inspect.signature(function).parameters.items()
        if parameter.default is parameter.empty
        and parameter.kind not in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD)
    ]
    if needed:
        raise InputError(f"{hook} must take no arguments, not ({', '.join(needed)})")


def _misspelt(hook: str, known: Collection[str]) -> str:
    from difflib import get_close_matches  # only the unlucky need it

    near = get_close_matches(hook, known, n=1)
    advice = f"did you mean {near[0]}?" if near else f"there are {', '.join(known)}"
    return f"there is no hook {hook}; {advice}"


def drain(hook: Callable[[], object]) -> list[object]:
    """All that a hook offers; a generator is run to its end here.

    Raises TypeError where it offers no iterable, ValueError where it never stops.
    """
    offered = hook()
    if isinstance(offered, str | bytes) or not isinstance(offered, Iterable):
        raise TypeError(
            f"the hook gave {type(offered).__name__}, want an iterable of contributions"
        )
    answers = list(islice(offered, _MOST_OFFERS + 1))
    if len(answers) > _MOST_OFFERS:
        raise ValueError(f"the hook offers more than {_MOST_OFFERS} contributions")
    return answers


def check_offer(hook: str, kind: type[Contribution], item: object) -> Contribution:
    """One thing that a hook offered, if it is what that hook is for.

    Raises TypeError for another kind, InputError for fields of no use (a subclass
    may have done without the checks of its base).
    """
    if not isinstance(item, kind):
        raise TypeError(f"{hook} offered {type(item).__name__}, want {kind.__name__}")
    kind.__post_init__(item)
    return item
