"""Files full of names: element sets, configuration, plan, ephemeris, sizes, schedule.

The orbits are those of the demo's invented station and of one object that crosses the
field of its plan, so that every list of the program has a row for each name.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import tomlkit

from passes.elements import omm_text, read

DEMO = files("passes") / "data" / "demo"
DATE = "2029-03-17"
#: The catalogue numbers of the clones: of the station, and of what crosses the field.
STATION, CROSSING = 81_000, 82_000
_OF = {STATION: 80_001, CROSSING: 80_011}
#: Dimensions that let the clones of the station count as worth a transit, metres.
_SIZE = "60,40,0.5,10"


def tame(names: Mapping[str, str]) -> dict[str, str]:
    """As many names that mean no harm; where there is none, there is none."""
    return {
        label: f"TAME {i:02d}" if name.strip() else name
        for i, (label, name) in enumerate(names.items())
    }


def records(names: Mapping[str, str]) -> list[dict[str, Any]]:
    """Orbit mean-elements messages, two objects for each name."""
    known = read([str(DEMO / "elements.tle")]).catalogue
    by_number = {r["NORAD_CAT_ID"]: r for r in json.loads(omm_text(known))}
    return [
        {
            **by_number[original],
            "NORAD_CAT_ID": clone + i,
            "OBJECT_NAME": name,
            "OBJECT_ID": name[:40],
        }
        for i, name in enumerate(names.values())
        for clone, original in _OF.items()
    ]


@dataclass(frozen=True)
class Scene:
    """Where the files are, and what the site and the rigs are called."""

    folder: Path
    elements: Path
    config: Path
    plan: Path
    site: str
    rig: str

    def filled(self, args: str) -> list[str]:
        """A command line in which ELEMENTS, PLAN, SITE and RIG are filled in."""
        words = {
            "ELEMENTS": str(self.elements),
            "PLAN": str(self.plan),
            "SITE": self.site,
            "RIG": self.rig,
        }
        given = [words.get(word, word) for word in args.split()]
        return ["--config", str(self.config), *given]


def write(folder: Path, names: Mapping[str, str]) -> Scene:
    """Write the files; names of sites and rigs are those that can be typed."""
    folder.mkdir(parents=True, exist_ok=True)
    typed = [name for name in names.values() if name.strip() and name.isprintable()]
    site = "+".join(name[:300] for name in typed)
    valid = [name for name in names.values() if "\ud800" not in name]
    scene = Scene(
        folder=folder,
        elements=folder / "elements.json",
        config=folder / "passes.toml",
        plan=folder / "plan.toml",
        site=site,
        rig=f"field {site}",
    )
    scene.elements.write_text(json.dumps(records(names)), encoding="utf-8")
    sizes = folder / "sizes.csv"
    sizes.write_text(_sizes(names), encoding="utf-8", errors="replace")
    config = _config(scene, valid, sizes)
    scene.config.write_text(tomlkit.dumps(config), encoding="utf-8")
    plan = _demo("session.toml")
    plan["session"] |= {"site": site, "rig": scene.rig}
    plan["target"]["name"] = " ".join(name[:100] for name in valid)
    scene.plan.write_text(tomlkit.dumps(plan), encoding="utf-8")
    return scene


def _config(scene: Scene, names: list[str], sizes: Path) -> dict[str, Any]:
    """The demo's site and rigs under other names, and what rigs call their parts."""
    rigs = _demo("rigs.toml")["rigs"]
    for rig in rigs.values():
        for part in ("gains", "filters", "modes"):
            for i, one in enumerate(rig.get(part, ())):
                one["name"] = names[i % len(names)] + f" {i}"
    site = _demo("sites.toml")["sites"]["quillmoor"]
    return {
        "sites": {scene.site: site},
        "rigs": {f"{kind} {scene.site}": rig for kind, rig in rigs.items()},
        "plugins": {
            name: {"sizes": str(sizes)} for name in ("transits", "imaging", "streaks")
        },
    }


def _demo(name: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / name).read_text(encoding="utf-8"))


def _sizes(names: Mapping[str, str]) -> str:
    """A person's table of sizes, in which words are as bad as names."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out)
    head = "object,catalog_number,name,length_m,width_m,filled_fraction,structure_m"
    writer.writerow([*head.split(","), "structure", "source"])
    for i, name in enumerate(names.values()):
        word = name.replace("\0", "")
        for clone in _OF:
            writer.writerow([word, clone + i, "", *_SIZE.split(","), word, word])
    return out.getvalue()
