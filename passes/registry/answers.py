"""Asking a contribution, and looking at the answer before anyone uses it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, overload

from passes import contributions as c

if TYPE_CHECKING:
    import click
    import numpy as np
    from numpy.typing import NDArray

    from passes.model import Advice, Report


@overload
def ask(item: c.ElementSource, request: c.ElementQuery) -> c.ElementBatch: ...
@overload
def ask(item: c.BrightnessModel, request: c.Illumination) -> c.Brightness: ...
@overload
def ask(item: c.Adviser, request: c.Briefing) -> Advice: ...
@overload
def ask(item: c.SessionReporter, request: c.SessionBriefing) -> Report: ...
@overload
def ask(item: c.Exporter, request: c.Answer) -> str: ...
@overload
def ask(item: c.Command, request: None = None) -> click.Command: ...
def ask(item: c.Contribution, request: Any = None) -> Any:
    """Call a contribution's one callable, and check what comes back.

    Raises TypeError or ValueError where the answer is of the wrong type or shape;
    whatever the callable raises comes through, so call this under a registry's
    :meth:`~passes.registry.Registry.ambient` or
    :meth:`~passes.registry.Registry.requested`.  An advice or a report that does not
    say whose it is gets the name of who gave it.
    """
    function: Callable[..., Any] = getattr(item, item.asks)
    answer = function() if isinstance(item, c.Command) else function(request)
    for kind, checked in _CHECKS.items():
        if isinstance(item, kind):
            return checked(item, request, answer)
    raise TypeError(f"{item!r} is of no kind that can be asked")


def _want(answer: object, kind: type, asks: str) -> None:
    if not isinstance(answer, kind):
        raise TypeError(f"{asks} gave {type(answer).__name__}, want {kind.__name__}")


def _batch(item: c.ElementSource, request: c.ElementQuery, answer: Any) -> Any:
    _want(answer, c.ElementBatch, item.asks)
    _want(answer.content, bytes, f"{item.asks}: content")
    if len(answer.content) > request.max_bytes:
        raise ValueError(f"{item.asks}: more than {request.max_bytes} bytes came")
    return answer


def _brightness(item: c.BrightnessModel, request: c.Illumination, answer: Any) -> Any:
    _want(answer, c.Brightness, item.asks)
    _check_values(answer.magnitude, request.range_km.shape, "magnitude")
    _check_values(answer.sigma, request.range_km.shape, "sigma")
    if (answer.sigma < 0.0).any():
        raise ValueError("sigma is below zero in places")
    for field in ("basis", "class_average"):
        if len(getattr(answer, field)) != len(request.facts):
            raise ValueError(
                f"{field} has {len(getattr(answer, field))} entries, "
                f"want one for each of {len(request.facts)} objects"
            )
    return answer


def _check_values(
    values: NDArray[np.float64], shape: tuple[int, ...], what: str
) -> None:
    import numpy as np

    if values.shape != shape:
        raise ValueError(f"{what} has shape {values.shape}, want {shape}")
    if np.isinf(values).any():
        raise ValueError(f"{what} holds infinities; unknown is nan")


def _advice(item: c.Adviser, request: c.Briefing, answer: Any) -> Any:
    from passes.model import Advice

    _want(answer, Advice, item.asks)
    _check_pictures(answer, item.asks)
    return answer if answer.adviser else replace(answer, adviser=item.name)


def _report(item: c.SessionReporter, request: c.SessionBriefing, answer: Any) -> Any:
    from passes.model import Report

    _want(answer, Report, item.asks)
    _check_pictures(answer, item.asks)
    if item.kinds and answer.kind not in item.kinds:
        known = ", ".join(item.kinds)
        raise ValueError(f"the report is of kind {answer.kind!r}, not one of: {known}")
    return answer if answer.reporter else replace(answer, reporter=item.name)


def _check_pictures(answer: Advice | Report, asks: str) -> None:
    from passes.model import Picture

    for one in answer.pictures:
        _want(one, Picture, f"{asks}: pictures")


def _text(item: c.Exporter, request: c.Answer, answer: Any) -> Any:
    _want(answer, str, item.asks)
    return answer


def _command(item: c.Command, request: None, answer: Any) -> Any:
    import click

    _want(answer, click.Command, item.asks)
    return answer


_CHECKS: dict[type[c.Contribution], Callable[[Any, Any, Any], Any]] = {
    c.ElementSource: _batch,
    c.BrightnessModel: _brightness,
    c.Adviser: _advice,
    c.SessionReporter: _report,
    c.Exporter: _text,
    c.Command: _command,
}
