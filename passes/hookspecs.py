"""The whole plugin boundary: six questions the host asks each plugin once."""

from collections.abc import Iterable

import pluggy

from passes import contributions as c

NAMESPACE = "passes"
ENTRY_POINT_GROUP = "passes.plugins"
hookspec = pluggy.HookspecMarker(NAMESPACE)
hookimpl = pluggy.HookimplMarker(NAMESPACE)


@hookspec
def passes_element_sources() -> Iterable[c.ElementSource]:
    """Offer places to get orbital elements from."""
    return ()


@hookspec
def passes_brightness_models() -> Iterable[c.BrightnessModel]:
    """Offer models of how bright an object looks in full sunlight."""
    return ()


@hookspec
def passes_advisers() -> Iterable[c.Adviser]:
    """Offer advice on how to shoot one pass or transit with one rig."""
    return ()


@hookspec
def passes_session_reporters() -> Iterable[c.SessionReporter]:
    """Offer reports on a session, such as which subs a satellite will mark."""
    return ()


@hookspec
def passes_exporters() -> Iterable[c.Exporter]:
    """Offer formats in which an answer can be written."""
    return ()


@hookspec
def passes_commands() -> Iterable[c.Command]:
    """Offer extra commands for the command line."""
    return ()
