"""Everything the program refuses, as one tree of exceptions.

::

    PassesError
    ├── InputError          a value the caller gave is impossible
    │   ├── ElementsError   an element set (or its file) could not be read
    │   └── EphemerisError  an operator's ephemeris could not be read
    ├── ConfigError         the configuration file is damaged or wrong
    ├── ArchiveError        the archive of element sets cannot be used
    ├── OutsideEphemeris    a time falls outside the packaged planetary ephemeris
    ├── NothingToSearch     no element sets to work on
    ├── UnknownName         a site, rig, object or contribution nobody has heard of
    └── PluginFailed        a contribution the user asked for by name has failed

A message is one or two lines: what is wrong, where, and what to do next.
"""

from collections.abc import Iterable


class PassesError(Exception):
    """Base of every error that is meant for the user's eyes."""

    exit_code = 1


class InputError(PassesError, ValueError):
    """A value given by the caller is impossible; says which and why."""

    exit_code = 2


class ElementsError(InputError):
    """An element set, or the file that should hold some, could not be read.

    ``where`` is ``file:line`` (or ``file`` alone), ``reason`` says what is wrong.
    """

    exit_code = 1

    def __init__(self, where: str, reason: str) -> None:
        super().__init__(f"{where}: {reason}")
        self.where = where
        self.reason = reason


class EphemerisError(InputError):
    """An operator's ephemeris could not be read.

    ``where`` is ``file:line`` (or ``file`` alone), ``reason`` says what is wrong.
    """

    exit_code = 1

    def __init__(self, where: str, reason: str) -> None:
        super().__init__(f"{where}: {reason}")
        self.where = where
        self.reason = reason


class ConfigError(PassesError):
    """The configuration file cannot be used as it stands."""


class ArchiveError(PassesError):
    """The archive of element sets cannot be opened, read or written."""


class OutsideEphemeris(PassesError):
    """A time lies outside the span of the packaged planetary ephemeris."""


class NothingToSearch(PassesError):
    """There are no element sets to search; says how to provide some."""


class UnknownName(PassesError, LookupError):
    """The user named something that does not exist; lists what does.

    ``near`` holds names like it, where there are too many to list them all.
    """

    exit_code = 2

    def __init__(
        self,
        kind: str,
        name: str,
        known: Iterable[str] = (),
        *,
        near: Iterable[str] | None = None,
    ) -> None:
        self.kind, self.name = kind, name
        self.known = tuple(known if near is None else near)
        listed = f" (known: {', '.join(self.known) or 'none'})"
        if near is not None:
            listed = f" (like it: {', '.join(self.known)})" if self.known else ""
        super().__init__(f"no {kind} named {name!r}{listed}")


class PluginFailed(PassesError):
    """A contribution that was asked for by name failed; names the culprit."""
