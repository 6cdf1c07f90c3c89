"""The check of a whole plugin: every callable, on sample records."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from typing import Any

from passes import contributions as c
from passes.errors import PassesError
from passes.model import Session
from passes.registry import KINDS, Origin, Registry, ask
from passes.registry.guard import Failure, caught
from passes.registry.records import describe, one_line
from passes.testing import places, requests, sightings
from passes.testing.inspection import fingerprint, look
from passes.testing.running import run as typed

Settings = Mapping[str, Any]
Case = tuple[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkup:
    """What a check found: ``findings`` is empty for a plugin that holds.

    ``ran`` lists each call that was made, ``skipped`` what was not tried and why.
    """

    findings: tuple[str, ...]
    ran: tuple[str, ...]
    skipped: tuple[str, ...] = ()

    def require(self) -> None:
        """Raise AssertionError listing the findings, if there are any."""
        if self.findings:
            raise AssertionError("\n".join(self.findings))


def check_plugin(
    plugin: object,
    *,
    settings: Settings | None = None,
    sources: Mapping[str, Settings] | None = None,
    answers: Iterable[c.Answer] = (),
    online: bool = False,
) -> Checkup:
    """Register a plugin (a module) and run every callable of it on sample records.

    Looks at registration, type and shape of every answer, numbers and times inside
    it, whether what was handed over has changed, and whether anything was printed to
    stdout.  Each kind is tried on full records and on bare ones (a rig of which little
    is known, a session with nothing in it, no samples at all); sources are asked again
    with the validators they gave, and what came is read as the program would.  Of a
    command only the help is asked for.

    ``settings`` is the plugin's table of the configuration; ``sources`` has, by name,
    the table of an element source.  ``answers`` are further things for exporters to
    write, where a kind that they accept has no sample here.  Sources that need a
    network are asked only with ``online``.  Raises nothing for the plugin's faults:
    they are the findings.
    """
    check = _Check(
        settings=settings or {},
        sources=sources or {},
        answers=tuple(answers),
        online=online,
    )
    registry = Registry()
    name = getattr(plugin, "__name__", type(plugin).__name__)
    registry.add(lambda: plugin, Origin(name.rsplit(".", 1)[-1]))
    for kind in KINDS.values():
        for provided in registry.of(kind):
            check.contribution(provided.item)
    return Checkup(
        findings=(*registry.news(), *check.findings),
        ran=tuple(check.ran),
        skipped=tuple(check.skipped),
    )


@dataclass(slots=True)
class _Check:
    settings: Settings
    sources: Mapping[str, Settings]
    answers: tuple[c.Answer, ...]
    online: bool
    findings: list[str] = field(default_factory=list)
    ran: list[str] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)

    def contribution(self, item: c.Contribution) -> None:
        """Run one contribution on every case made for its kind."""
        for kind, run in _RUNS.items():
            if isinstance(item, kind):
                run(self, item)

    def run(self, item: c.Contribution, case: str, request: Any) -> Any:
        """Ask once, and note what is wrong; the answer, or None after a failure."""
        what = f"{item.word} {item.name}, {case}"
        before, printed = fingerprint(request), io.StringIO()
        call: Callable[..., Any] = ask
        with redirect_stdout(printed):
            answer = caught(lambda: call(item, request))
        self.ran.append(what)
        if isinstance(answer, Failure):
            if not _may_refuse(item, answer.error):
                self.find(what, f"failed: {describe(answer.error)}")
            answer = None
        else:
            for finding in look(answer):
                self.find(what, finding)
        if fingerprint(request) != before:
            self.find(what, "changed what it was handed")
        if printed.getvalue():
            self.find(what, f"printed to stdout: {printed.getvalue()!r}")
        return answer

    def find(self, what: str, finding: str) -> None:
        self.findings.append(one_line(f"{what}: {finding}"))


def _may_refuse(item: c.Contribution, error: BaseException) -> bool:
    """A source may say in words of ours that its settings will not do."""
    return isinstance(item, c.ElementSource) and isinstance(error, PassesError)


def _run_source(check: _Check, item: c.ElementSource) -> None:
    if item.online and not check.online:
        check.skipped.append(f"element source {item.name}: it needs a network")
        return
    from passes.elements import read_text

    given = {"name": item.name, "settings": check.sources.get(item.name, {})}
    batch = check.run(item, "asked once", requests.query(**given))
    if batch is None:
        return
    if not batch.unchanged:
        from passes.elements import read_text  # late: the kit loads no numpy

        unreadable = caught(lambda: read_text(batch.content, batch.origin or item.name))
        if isinstance(unreadable, Failure):
            told = f"what came is refused: {unreadable.error}"
            check.find(f"{item.word} {item.name}, asked once", told)
    again = requests.query(validators=batch.validators, **given)
    check.run(item, "asked again", again)


def _run_model(check: _Check, item: c.BrightnessModel) -> None:
    given = {"settings": check.settings}
    together = requests.illumination(**given)
    answer = check.run(item, "six samples", together)
    check.run(item, "no sample at all", requests.no_illumination())
    if answer is None:
        return
    import numpy as np

    for i in range(together.range_km.size):
        arrays = ("object_index", "range_km", "phase_angle_rad", "altitude_rad")
        one = requests.illumination(
            **given, **{name: getattr(together, name)[i : i + 1] for name in arrays}
        )
        alone = check.run(item, f"sample {i} alone", one)
        if alone is not None and not np.allclose(
            alone.magnitude, answer.magnitude[i : i + 1], equal_nan=True
        ):
            check.find(f"{item.word} {item.name}", f"sample {i} depends on the others")


def _advice_cases(settings: Settings) -> Iterator[Case]:
    given: dict[str, Any] = {"settings": settings}
    passage = sightings.passage()
    bare = sightings.passage(
        rise=None, culmination=None, set=None, brightest=None, sunlit=(), visible=()
    )
    yield "a passage", requests.briefing(**given)
    yield "a bare rig", requests.briefing(rig=places.bare_rig(), **given)
    yield "a passage never lit", requests.briefing(subject=bare, growth=None, **given)
    yield "a crossing", requests.briefing(subject=sightings.crossing(), **given)
    yield "an event", requests.briefing(subject=sightings.event(), **given)
    dark = sightings.unknown_track()
    yield "nothing known of it", requests.briefing(track=dark, subject=passage, **given)


def _run_adviser(check: _Check, item: c.Adviser) -> None:
    for case, request in _advice_cases(check.settings):
        advice = check.run(item, case, request)
        if advice is not None and advice.rig != request.rig.name:
            check.find(f"{item.word} {item.name}, {case}", "names another rig")


def _run_reporter(check: _Check, item: c.SessionReporter) -> None:
    given: dict[str, Any] = {"settings": check.settings}
    sessions = {
        "a full session": requests.session_briefing(**given),
        "a night alone": requests.session_briefing(
            session=Session(night=places.night()), crossings={}, **given
        ),
        "an empty session": requests.session_briefing(
            session=Session(), crossings={}, **given
        ),
    }
    for case, request in sessions.items():
        check.run(item, case, request)


def _run_exporter(check: _Check, item: c.Exporter) -> None:
    if not item.accepts:
        check.find(f"{item.word} {item.name}", "accepts no kind, so nothing reaches it")
    for kind in item.accepts:
        written = [answer for answer in check.answers if answer.kind == kind]
        sample = requests.answer(kind, settings=check.settings)
        written += [sample] if sample.items else []
        if not written:
            check.skipped.append(f"exporter {item.name}: no sample of {kind}")
        for answer in (*written, requests.answer(kind, (), check.settings)):
            check.run(item, f"{len(answer.items)} {kind}", answer)


def _run_command(check: _Check, item: c.Command) -> None:
    command = check.run(item, "loaded", None)
    if command is not None:
        result = typed(command, "--help")
        check.ran.append(f"command {item.name} --help")
        if result.exit_code:
            check.find(f"command {item.name} --help", f"exit {result.exit_code}")


_RUNS: dict[type[c.Contribution], Callable[[_Check, Any], None]] = {
    c.ElementSource: _run_source,
    c.BrightnessModel: _run_model,
    c.Adviser: _run_adviser,
    c.SessionReporter: _run_reporter,
    c.Exporter: _run_exporter,
    c.Command: _run_command,
}
