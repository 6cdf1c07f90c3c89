"""Every bundled plugin, through the door that outsiders use."""

from importlib import metadata

import pytest
from loopback import sends, serving

from passes import testing as kit
from passes.registry import Registry

BUNDLED = sorted(
    metadata.distribution("passes").entry_points.select(group="passes.plugins"),
    key=lambda point: point.name,
)


@pytest.mark.parametrize("point", BUNDLED, ids=lambda point: point.name)
def test_a_bundled_plugin_holds_and_changes_nothing_it_is_handed(
    point: metadata.EntryPoint,
) -> None:
    checkup = kit.check_plugin(point.load())
    assert checkup.findings == ()
    assert checkup.ran or checkup.skipped


def test_the_source_that_needs_a_network_holds_when_it_is_asked() -> None:
    (point,) = (one for one in BUNDLED if one.name == "web-source")
    with serving() as server:
        server.says(sends(kit.element_text().encode()))
        sources = {"http": {"url": server.url}}
        checkup = kit.check_plugin(point.load(), sources=sources, online=True)
    assert checkup.findings == ()
    assert len(checkup.ran) == len(server.seen) == 2


def test_all_bundled_plugins_load_without_a_fault() -> None:
    listed = Registry.from_entry_points(only=["passes"], strict=True).listing()
    assert [one.origin.plugin for one in listed] == [point.name for point in BUNDLED]
    assert {one.state for one in listed} == {"working"}
    assert all(one.provided for one in listed)
