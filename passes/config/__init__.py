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
from passes.config.writing import edit, remove, table_of

__all__ = [
    "Config",
    "Defaults",
    "default_path",
    "edit",
    "from_table",
    "load",
    "read_rigs",
    "read_sites",
    "remove",
    "table_of",
    "to_table",
]
