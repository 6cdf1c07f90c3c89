"""Running the program as a user types it, with a home folder of its own."""

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result

from passes.cli import cli
from passes.model import Brightest, Moment, Night, Note, Passage, Site, Span
from passes.registry import Origin, Registry

Run = Callable[..., Result]


@pytest.fixture(autouse=True)
def home(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """A home folder with nothing in it, and no choices from the environment."""
    folder = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(folder / ".config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / ".local" / "share"))
    for name in ("PASSES_DEBUG", "NO_COLOR", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    return folder


@pytest.fixture
def run() -> Run:
    """Type a command line; ``obj`` stands in for the services."""

    def typed(*args: str, obj: Any = None, **more: Any) -> Result:
        return CliRunner().invoke(cli, args, obj=obj, prog_name="passes", **more)

    return typed


@pytest.fixture
def with_plugin(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Registry]:
    """Install an invented plugin: hooks by name, each giving its contributions."""

    def install(**hooks: list[Any]) -> Registry:
        from passes.hookspecs import hookimpl

        marked = {
            name: hookimpl(_giving(name, offers)) for name, offers in hooks.items()
        }
        registry = Registry()
        origin = Origin("zoo", "passes-zoo", "9.9")
        assert registry.add(lambda: SimpleNamespace(**marked), origin)
        monkeypatch.setattr(Registry, "from_entry_points", lambda **_: registry)
        return registry

    return install


def _giving(name: str, offers: list[Any]) -> Callable[[], list[Any]]:
    def hook() -> list[Any]:
        return offers

    hook.__name__ = name
    return hook


@pytest.fixture
def evening() -> SimpleNamespace:
    """An invented answer of ``tonight``: a station in view, a train, one unlit."""
    site = Site(
        name="ridge", latitude_deg=37.1, longitude_deg=-3.4, zone="Europe/Madrid"
    )
    window = Span(start=at("19:00"), end=at("23:59"))
    night = Night(
        site=site,
        date=date(2025, 9, 14),
        window=window,
        dark=Span(start=at("20:10"), end=at("23:30")),
        moon_up=(Span(start=at("22:50"), end=at("23:59")),),
        moon_illuminated=0.47,
    )
    lamps = ("TEST STATION", "TEST TRAIN 1", "TEST DARK R/B")
    first, second, third = (passage(80001 + i, name) for i, name in enumerate(lamps))
    seen = Span(start=at("20:18:30"), end=at("20:22:10"))
    train = ("TEST TRAIN 1", "TEST TRAIN 2", "TEST TRAIN 3")
    rows = (
        row(first, brightest(first, -2.14), seen, "shadow"),
        row(second, brightest(second, 3.9), seen, "horizon", train),
        row(third, None, None, ""),
    )
    classes = {"station": 1, "payload": 3, "rocket body": 1}
    searched = SimpleNamespace(
        objects=5,
        classes=classes,
        skipped=(),
        rejected=(),
        median_age_days=0.61,
        oldest_age_days=3.2,
    )
    note = Note(text="an invented note")
    return SimpleNamespace(
        site=site,
        night=night,
        window=window,
        searched=searched,
        rows=rows,
        passages=(first, second, third),
        notes=(note,),
        demo=False,
        document=lambda: {"passes": ["stand-in"], "demo": False},
        records=lambda: iter([{"id": first.id, "magnitude": -2.14}]),
    )


def at(clock: str) -> datetime:
    """A time of the invented evening, UTC."""
    return datetime.fromisoformat(f"2025-09-14T{clock}+00:00")


def passage(number: int, name: str) -> Passage:
    """An invented pass."""
    top = Moment(time=at("20:20:05"), altitude_deg=54.2, azimuth_deg=301, range_km=512)
    return Passage(
        id=f"{number}-20250914T2020",
        catalog_number=number,
        name=name,
        start=at("20:16:40"),
        end=at("20:23:20"),
        culmination=top,
        timing_sigma_s=3.4,
        timing_bound_s=7.0,
        element_age_days=0.62,
    )


def brightest(one: Passage, magnitude: float) -> Brightest:
    """Its brightest moment, at the top."""
    top = one.culmination
    assert top is not None
    return Brightest(
        time=top.time,
        altitude_deg=top.altitude_deg,
        azimuth_deg=top.azimuth_deg,
        range_km=top.range_km,
        magnitude=magnitude,
        magnitude_above_atmosphere=magnitude - 0.2,
        magnitude_sigma=0.44,
        magnitude_basis="invented",
        phase_angle_deg=70.0,
        angular_rate_deg_s=0.82,
    )


def row(
    one: Passage,
    best: Brightest | None,
    span: Span | None,
    ended_by: str,
    group: tuple[str, ...] = (),
) -> SimpleNamespace:
    """A row of the answer."""
    return SimpleNamespace(
        passage=one, best=best, span=span, worth=1.0, ended_by=ended_by, group=group
    )
