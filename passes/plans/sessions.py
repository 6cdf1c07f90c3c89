"""The plan of a deep-sky session: targets, groups, overheads; TOML both ways."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import datetime
from math import inf, nan
from pathlib import Path
from typing import Any

from passes import toml
from passes.errors import InputError
from passes.model import Overheads, Target
from passes.plans.reading import Table

#: No plan lists more subs than this, no file is longer.
MOST_SUBS, _MOST_BYTES = 20_000, 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """So many like exposures; of one target, or of each in turn."""

    count: int
    exposure_s: float
    filter: str = ""
    gain: str = ""
    target: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSub:
    """One exposure whose start is fixed already, and the chores just before it."""

    start: datetime
    exposure_s: float
    target: str = ""
    filter: str = ""
    gain: str = ""
    before: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A session as planned; ``subs`` fixes each start, else ``groups`` are run off.

    ``where`` names the file in messages.  ``rotations`` says which targets state a
    position angle (the others take the rig's).
    """

    where: str = "plan"
    site: str = ""
    rig: str = ""
    start: datetime | None = None
    dither_arcsec: float = nan
    targets: tuple[Target, ...] = ()
    rotations: frozenset[str] = frozenset()
    groups: tuple[Group, ...] = ()
    overheads: Overheads = field(default_factory=Overheads)
    subs: tuple[PlannedSub, ...] = ()


def read_plan(path: str | Path) -> Plan:
    """Read a plan file; InputError names the file, the place and the reason."""
    try:
        with Path(path).open("rb") as file:
            content = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path}: {error.strerror or error}") from error
    if len(content) > _MOST_BYTES:
        raise InputError(f"{path}: too long for a plan (over 2 MB)")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{path}: is no UTF-8 text, so no plan") from None
    return read_plan_text(text, str(path))


def read_plan_text(text: str, where: str = "plan") -> Plan:
    """Read a plan; InputError says which value cannot be used and why."""
    table = _toml_table(text, where)
    session = Table(table["session"], f"{where}: [session]", _SESSION)
    targets, rotations = _targets(table["target"], where)
    groups = _groups(table, session, targets, where)
    subs = _subs(table.get("sub"), targets, where)
    if not groups and not subs:
        raise InputError(
            f"{where}: nothing to expose; give subs and exposure_s under [session], "
            "or [[group]]s"
        )
    return Plan(
        where=where,
        site=session.text("site"),
        rig=session.text("rig"),
        start=session.time("start") if not subs or "start" in session else None,
        dither_arcsec=session.number("dither_arcsec", 0.0, 3600.0, 0.0, "″"),
        targets=targets,
        rotations=rotations,
        groups=groups,
        overheads=_overheads(table, session, where),
        subs=subs,
    )


def _toml_table(text: str, where: str) -> dict[str, Any]:
    """The plan's tables, those there that must be there and no others."""
    try:
        table = toml.tables(text)
    except toml.NotToml as error:
        hint = "; hours run from 00 to 23" if "T24:" in text else ""
        raise InputError(f"{where}: not TOML: {error}{hint}") from error
    top = Table(table, where, ("session", "target", "group", "overheads", "sub"))
    for key in ("session", "target"):
        if key not in top:
            raise InputError(f"{where}: the table [{key}] is missing")
    return table


_SESSION = (
    *("site", "rig", "start", "subs", "exposure_s", "gap_s", "dither_arcsec"),
    *("filter", "gain"),
)
_TARGET = ("name", "ra_deg", "dec_deg", "position_angle_deg")
_GROUP = ("filter", "gain", "exposure_s", "count", "target")
_SUB = ("start", "exposure_s", "target", "filter", "gain", "before")
#: What may stand between two subs and takes time of its own.
CHORES = ("flip", "focus", "dither")


def _listed(value: Any, where: str) -> list[Any]:
    """One table, or several."""
    if isinstance(value, dict):
        return [value]
    if isinstance(value, list) and value:
        return value
    raise InputError(f"{where}: want a table of keys")


def _targets(value: Any, where: str) -> tuple[tuple[Target, ...], frozenset[str]]:
    found: list[Target] = []
    turned = set()
    for i, one in enumerate(_listed(value, f"{where}: [target]"), 1):
        table = Table(one, f"{where}: [target] {i}", _TARGET)
        name = table.text("name", f"target {i}")
        if any(other.name == name for other in found):
            raise InputError(f"{where}: two targets are named {name!r}")
        if "position_angle_deg" in table:
            turned.add(name)
        found.append(
            Target(
                name=name,
                ra_deg=table.angle("ra_deg", 0.0, 360.0, hours=True) % 360.0,
                dec_deg=table.angle("dec_deg", -90.0, 90.0, hours=False),
                position_angle_deg=table.number(
                    "position_angle_deg", -360.0, 360.0, 0.0, "°"
                ),
            )
        )
    return tuple(found), frozenset(turned)


def _groups(
    table: dict[str, Any], session: Table, targets: tuple[Target, ...], where: str
) -> tuple[Group, ...]:
    """The groups; in a simple plan ``[session]`` holds the only one."""
    simple = "subs" in session or "exposure_s" in session
    if "group" not in table:
        return (_simple(session),) if simple else ()
    if simple:
        raise InputError(
            f"{where}: [[group]] and subs, exposure_s of [session] say it twice"
        )
    found = []
    for i, one in enumerate(_listed(table["group"], f"{where}: [[group]]"), 1):
        group = Table(one, f"{where}: [[group]] {i}", _GROUP)
        found.append(
            Group(
                count=group.whole("count", 1, MOST_SUBS),
                exposure_s=group.number("exposure_s", 1e-3, 86400.0, unit=" s"),
                filter=group.text("filter"),
                gain=group.text("gain"),
                target=_named(group, targets),
            )
        )
    return tuple(found)


def _simple(session: Table) -> Group:
    return Group(
        count=session.whole("subs", 1, MOST_SUBS),
        exposure_s=session.number("exposure_s", 1e-3, 86400.0, unit=" s"),
        filter=session.text("filter"),
        gain=session.text("gain"),
    )


def _named(table: Table, targets: tuple[Target, ...]) -> str:
    name = table.text("target")
    if name and all(name != one.name for one in targets):
        known = ", ".join(one.name for one in targets)
        raise InputError(f"{table.where}: no target {name!r} (there are: {known})")
    return name


def _subs(
    value: Any, targets: tuple[Target, ...], where: str
) -> tuple[PlannedSub, ...]:
    found = []
    for i, one in enumerate(_listed(value, f"{where}: [[sub]]") if value else [], 1):
        sub = Table(one, f"{where}: [[sub]] {i}", _SUB)
        found.append(
            PlannedSub(
                start=sub.time("start"),
                exposure_s=sub.number("exposure_s", 1e-3, 86400.0, unit=" s"),
                target=_named(sub, targets),
                filter=sub.text("filter"),
                gain=sub.text("gain"),
                before=sub.words("before", CHORES),
            )
        )
    return tuple(sorted(found, key=lambda one: one.start))


def _overheads(table: dict[str, Any], session: Table, where: str) -> Overheads:
    known = tuple(place.name for place in fields(Overheads))
    given = Table(table.get("overheads", {}), f"{where}: [overheads]", known)
    gap_s = session.number("gap_s", 0.0, 7200.0, 0.0, " s")
    if "gap_s" in session and "download_s" in given:
        raise InputError(f"{where}: gap_s and download_s say the same; give one")
    return Overheads(
        download_s=given.number("download_s", 0.0, 7200.0, gap_s, " s"),
        dither_every=given.whole("dither_every", 1, MOST_SUBS, 1),
        settle_s=given.number("settle_s", 0.0, 7200.0, 0.0, " s"),
        focus_every_min=given.number("focus_every_min", 1.0, 1440.0, 1440.0, " min"),
        focus_s=given.number("focus_s", 0.0, 7200.0, 0.0, " s"),
        flip_s=given.number("flip_s", 0.0, 7200.0, 0.0, " s"),
        flip_within_min=given.number("flip_within_min", 0.0, 360.0, 0.0, " min"),
        start_jitter_s=given.number("start_jitter_s", 0.0, 600.0, 3.0, " s"),
    )


# --- and back ------------------------------------------------------------------


def plan_text(plan: Plan) -> str:
    """A plan as TOML that :func:`read_plan_text` reads back to the same plan."""
    lines = ["[session]"]
    lines += _keys(site=plan.site, rig=plan.rig, start=plan.start)
    if plan.dither_arcsec > 0.0:
        lines += _keys(dither_arcsec=plan.dither_arcsec)
    for target in plan.targets:
        lines += ["", "[[target]]"]
        lines += _keys(name=target.name, ra_deg=target.ra_deg, dec_deg=target.dec_deg)
        if target.name in plan.rotations:
            lines += _keys(position_angle_deg=target.position_angle_deg)
    lines += ["", "[overheads]"]
    lines += _keys(
        **{p.name: getattr(plan.overheads, p.name) for p in fields(Overheads)}
    )
    for group in plan.groups:
        lines += ["", "[[group]]"]
        lines += _keys(**_values(group))
    for sub in plan.subs:
        lines += ["", "[[sub]]"]
        lines += _keys(**_values(sub))
    return "\n".join(lines) + "\n"


def _values(record: Any) -> dict[str, Any]:
    return {place.name: getattr(record, place.name) for place in fields(record)}


def _keys(**values: Any) -> list[str]:
    return [f"{key} = {_toml(value)}" for key, value in values.items() if _said(value)]


def _said(value: Any) -> bool:
    return value not in (None, "", inf, ())


def _toml(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + "".join(c if c.isprintable() else " " for c in escaped) + '"'
    return repr(value)
