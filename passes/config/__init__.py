"""The person's own file: sites, rigs, sources, plugin settings and choices, in TOML."""

from passes.config.reading import (
    Config,
    Defaults,
    default_path,
    load,
    read_rigs,
    read_sites,
)
from passes.config.records import from_table, to_table

__all__ = [
    "Config",
    "Defaults",
    "default_path",
    "from_table",
    "load",
    "read_rigs",
    "read_sites",
    "to_table",
]
