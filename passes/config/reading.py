"""Reading the configuration file: one clear line for whatever is wrong with it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from passes.config.horizon import check_horizon
from passes.config.records import from_table, unknown
from passes.errors import ConfigError, InputError, UnknownName
from passes.model import Rig, Site
from passes.model._frozen import hold_mapping

Table = Mapping[str, Any]

#: No list of sites and rigs is this long; a larger file is something else.
_MAX_BYTES = 256 * 1024
#: Nobody asks a source less often than once a year.
_LONGEST_HOURS = 8784.0
_SECTIONS = ("sites", "rigs", "sources", "plugins", "defaults")


@dataclass(frozen=True, slots=True, kw_only=True)
class Defaults:
    """What is meant when nothing is said on the command line; empty is no choice."""

    site: str = ""
    rigs: tuple[str, ...] = ()
    archive: str = ""
    brightness: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Config:
    """What the file holds; ``path`` is where it stands or would stand.

    ``plugins`` and ``sources`` keep their tables as they are: what they mean is the
    plugin's business.
    """

    path: Path | None = None
    sites: Mapping[str, Site] = field(default_factory=dict)
    rigs: Mapping[str, Rig] = field(default_factory=dict)
    sources: Mapping[str, Table] = field(default_factory=dict)
    plugins: Mapping[str, Table] = field(default_factory=dict)
    defaults: Defaults = field(default_factory=Defaults)

    def __post_init__(self) -> None:
        hold_mapping(self, "sites", "rigs", "sources", "plugins")

    def site(self, name: str) -> Site:
        """One site by name; UnknownName lists the others."""
        if name not in self.sites:
            raise UnknownName("site", name, self.sites)
        return self.sites[name]

    def rig(self, name: str) -> Rig:
        """One rig by name; UnknownName lists the others."""
        if name not in self.rigs:
            raise UnknownName("rig", name, self.rigs)
        return self.rigs[name]

    @property
    def default_site(self) -> Site | None:
        """The site meant when none is named: the chosen one, or the only one."""
        if self.defaults.site:
            return self.sites[self.defaults.site]
        return next(iter(self.sites.values())) if len(self.sites) == 1 else None

    def settings(self, plugin: str) -> Table:
        """A plugin's own table, empty where the file has none."""
        return self.plugins.get(plugin, {})


def default_path() -> Path | None:
    """Where the file stands unless named; None where there is no home folder."""
    from platformdirs import user_config_path

    path = user_config_path("passes", appauthor=False) / "passes.toml"
    return path if path.is_absolute() else None


def load(path: Path | None = None) -> Config:
    """Read the file at ``path``, or the person's own; one that is absent is empty.

    Raises ConfigError (file, key, what is wrong) where it cannot be used.
    """
    path = path or default_path()
    if path is None:
        return Config()
    return load_text(read_bytes(path) or b"", path)


def load_text(content: bytes, path: Path) -> Config:
    """What a file of this content would hold at ``path``; ConfigError as for load."""
    tables = parsed(content, path)
    check_sections(tables, path)
    where = str(path)
    sources = _named(tables, "sources", where)
    config = Config(
        path=path,
        sites=read_sites(tables, where),
        rigs=read_rigs(tables, where),
        sources={name: _source(*table) for name, table in sources.items()},
        plugins={name: t for name, (t, _) in _named(tables, "plugins", where).items()},
        defaults=from_table(
            Defaults, tables.get("defaults", {}), f"{path}: [defaults]"
        ),
    )
    _check_defaults(config)
    return config


def read_sites(tables: Table, where: str) -> dict[str, Site]:
    """The sites of a parsed document, ``[sites.NAME]``; ``where`` is for messages."""
    named = _named(tables, "sites", where)
    return {name: _site(name, *table) for name, table in named.items()}


def read_rigs(tables: Table, where: str) -> dict[str, Rig]:
    """The rigs of a parsed document, ``[rigs.NAME]``; ``where`` is for messages."""
    named = _named(tables, "rigs", where)
    return {name: from_table(Rig, *table, name=name) for name, table in named.items()}


def read_bytes(path: Path) -> bytes | None:
    """The file's content, None where it is absent; ConfigError where unreadable."""
    try:
        with path.open("rb") as file:
            content = file.read(_MAX_BYTES + 1)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise ConfigError(
            f"{path}: cannot be read: {error.strerror or error}"
        ) from error
    if len(content) > _MAX_BYTES:
        raise ConfigError(
            f"{path}: over {_MAX_BYTES // 1024} KiB, no such file is ours"
        )
    return content


def parsed(content: bytes, path: Path) -> dict[str, Any]:
    """The tables of a file's content; ConfigError says where it is damaged."""
    from passes import toml

    try:
        return toml.tables(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise ConfigError(f"{path}: not UTF-8 text (byte {error.start})") from error
    except toml.NotToml as error:
        raise ConfigError(f"{path}: {error}") from error


def check_sections(tables: Table, path: Path) -> None:
    """Refuse sections that nobody knows, and those that are no tables."""
    for name, table in tables.items():
        if name not in _SECTIONS:
            raise ConfigError(f"{path}: {unknown('section', name, _SECTIONS)}")
        _check_table(table, f"{path}: [{name}]")


def _check_table(value: Any, where: str) -> None:
    if not isinstance(value, dict):
        raise ConfigError(f"{where}: want a table of names, not one value")


def _named(tables: Table, section: str, origin: str) -> dict[str, tuple[Table, str]]:
    """The tables of one section by name, each with the place it stands at."""
    found = {}
    for name, table in tables.get(section, {}).items():
        where = f"{origin}: [{section}.{name}]"
        if not name.strip() or not name.isprintable():
            raise ConfigError(
                f"{origin}: [{section}]: the name {name!r} cannot be typed"
            )
        _check_table(table, where)
        found[name] = (table, where)
    return found


def _site(name: str, table: Table, where: str) -> Site:
    site = from_table(Site, table, where, name=name)
    _check_zone(site.zone, where)
    try:
        check_horizon(site.horizon, f"{where}.horizon")
    except InputError as error:
        raise ConfigError(str(error)) from error
    return site


def _check_zone(zone: str, where: str) -> None:
    from zoneinfo import ZoneInfo

    try:
        ZoneInfo(zone)
    except (KeyError, ValueError, OSError) as error:
        raise ConfigError(
            f"{where}.zone: no time zone {zone!r}; want one such as 'Europe/Rome'"
        ) from error


def _source(table: Table, where: str) -> Table:
    for key in ("kind", "url"):
        if key in table and not isinstance(table[key], str):
            raise ConfigError(f"{where}.{key}: want text in quotes")
    hours = table.get("every_hours", 1)
    number = isinstance(hours, int | float) and not isinstance(hours, bool)
    if not number or not 0.0 < hours <= _LONGEST_HOURS:
        reason = f"want a number above zero, to {_LONGEST_HOURS:g}"
        raise ConfigError(f"{where}.every_hours: {reason}")
    return table


def _check_defaults(config: Config) -> None:
    site, rigs = config.defaults.site, config.defaults.rigs
    where = f"{config.path}: [defaults]"
    if site and site not in config.sites:
        raise ConfigError(f"{where}.site: no site is named {site!r} in this file")
    for rig in rigs:
        if rig not in config.rigs:
            raise ConfigError(f"{where}.rigs: no rig is named {rig!r} in this file")
