"""The invented scenario that ships with the program: no network, clock or config."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib.resources import as_file, files
from typing import Any

from passes.config.reading import read_rigs, read_sites
from passes.model import Rig, Site


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """Everything the demo invents, read from the package."""

    date: date
    clock: datetime
    sites: dict[str, Site]
    rigs: dict[str, Rig]
    elements: str
    session: str
    settings: dict[str, dict[str, Any]]

    @classmethod
    def load(cls) -> Demo:
        """Read the scenario."""
        folder = files("passes") / "data" / "demo"

        def text(name: str) -> str:
            return (folder / name).read_text(encoding="utf-8")

        scenario = tomllib.loads(text("scenario.toml"))
        with as_file(folder / "magnitudes.csv") as table:
            settings = {"diffuse-sphere": {"table": str(table)}}
        with as_file(folder / "sizes.csv") as table:
            for plugin in ("imaging", "streaks", "transits"):
                settings[plugin] = {"sizes": str(table)}
        clock: datetime = scenario["clock"]
        sites = read_sites(tomllib.loads(text("sites.toml")), "the demo")
        first = scenario["site"]
        return cls(
            date=scenario["date"],
            clock=clock.astimezone(UTC),
            sites={first: sites.pop(first), **sites},
            rigs=read_rigs(tomllib.loads(text("rigs.toml")), "the demo"),
            elements=text("elements.tle"),
            session=text("session.toml"),
            settings=settings,
        )
