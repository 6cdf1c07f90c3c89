"""What must hold of the light on any pass, whatever the night."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from one_satellite import START, catalogue

from passes.api import Site, find_passes
from passes.contributions import Brightness, BrightnessModel
from passes.elements import Catalogue
from passes.errors import PluginFailed
from passes.finder import search_passes
from passes.forecast import light_passes
from passes.forecast.guard import GuardedModel
from passes.forecast.light import Lighting
from passes.forecast.sampled import Sampled
from passes.hookspecs import hookimpl
from passes.registry import Origin, Registry

SITE = Site(
    latitude_deg=41.0, longitude_deg=-2.4, height_m=1150.0, sky_mag_arcsec2=21.7
)
DAY = timedelta(hours=24)


@pytest.fixture(scope="module")
def passages():
    return find_passes(catalogue(), SITE, START, START + DAY)


def test_a_sequence_of_element_sets_serves_as_well(passages):
    again = find_passes(list(catalogue()), SITE, START, START + DAY)
    assert [one.id for one in again] == [one.id for one in passages]
    assert not isinstance(list(catalogue()), Catalogue)


def test_spans_nest_and_the_brightest_moment_is_lit(passages):
    assert len(passages) > 10
    for one in passages:
        for inner, outer in ((one.visible, one.sunlit), (one.visible, one.clear)):
            for span in inner:
                assert any(
                    wide.start <= span.start and span.end <= wide.end for wide in outer
                )
        for span in (*one.sunlit, *one.clear):
            assert one.start <= span.start <= span.end <= one.end
        if one.brightest is None:
            assert not one.sunlit
        else:
            margin = timedelta(seconds=1)
            assert any(
                s.start - margin <= one.brightest.time <= s.end + margin
                for s in one.sunlit
            )


def test_documents_say_what_records_say(passages):
    for one, document in zip(passages, passages.documents(), strict=True):
        assert document["id"] == one.id
        assert document["flags"] == list(one.flags)
        assert len(document["visible"]) == len(one.visible)
        for name in ("rise", "culmination", "set", "brightest"):
            record = getattr(one, name)
            assert (document[name] is None) == (record is None)
            if record is not None:
                stamp = record.time.isoformat(timespec="milliseconds")
                assert abs(int(document[name]["time"][-4:-1]) - int(stamp[20:23])) <= 1
                assert document[name]["range_km"] == round(record.range_km, 3)
        assert document["element_age_days"] == round(one.element_age_days, 3)


def test_no_sample_is_brighter_than_the_brightest_moment():
    """Also beside the Earth's shadow, where magnitudes fall within seconds."""
    table = search_passes(catalogue(), SITE, START, START + 9 * DAY)
    model = GuardedModel(Registry.from_entry_points(), None, lambda plugin: {})
    sampled = Sampled(table, model)
    seen = sampled.magnitudes(sampled.samples.passage, sampled.thin()).seen
    sampled_best = -sampled.most(-seen)
    found = Lighting(sampled).light().brightest.magnitude
    known = np.isfinite(sampled_best)
    assert known.sum() > 60
    assert np.all(found[known] <= sampled_best[known] + 1e-4)


def test_a_mask_shortens_what_is_clear_and_changes_no_identity(passages):
    walled = replace(SITE, horizon=((0.0, 25.0), (180.0, 25.0)))
    masked = find_passes(catalogue(), walled, START, START + DAY)
    assert [one.id for one in masked] == [one.id for one in passages]
    for before, after in zip(passages, masked, strict=True):
        assert (before.rise, before.set) == (after.rise, after.set)
        length = sum(span.duration_s for span in after.clear)
        assert length <= sum(span.duration_s for span in before.clear) + 1e-6
        top = before.culmination.altitude_deg if before.culmination else 0.0
        if 10.0 < top < 25.0 and not before.further_culminations:
            assert not after.clear


def test_sun_below_replaces_twilight(passages):
    table = search_passes(catalogue(), SITE, START, START + DAY)
    for deepest in (-3.0, 6.0, 30.0):
        model = GuardedModel(Registry.from_entry_points(), None, lambda plugin: {})
        some = light_passes(table, model, sun_below_deg=deepest)
        for one in some:
            if one.visible and one.brightest:
                assert one.sun_altitude_deg < -deepest + 4.0
    assert not any(one.visible for one in some if one.sun_altitude_deg > -30.0)


def registry_with(magnitude):
    """Only one brightness model: the one that stands in for the usual."""

    class Plugin:
        @hookimpl
        def passes_brightness_models(self):
            yield BrightnessModel(
                name="diffuse-sphere", summary="A stand-in.", magnitude=magnitude
            )

    registry = Registry()
    registry.add(Plugin, Origin(plugin="stand-in", distribution="tests", version="1"))
    return registry


def constant(value):
    def magnitude(asked):
        shape = asked.range_km.shape
        many = len(asked.facts)
        return Brightness(
            magnitude=np.full(shape, value),
            sigma=np.zeros(shape),
            basis=("constant",) * many,
            class_average=(False,) * many,
        )

    return magnitude


def test_magnitudes_lose_what_the_air_and_the_penumbra_take():
    table = search_passes(catalogue(), SITE, START, START + DAY)
    model = GuardedModel(registry_with(constant(2.0)), None, lambda plugin: {})
    for one in light_passes(table, model):
        if one.brightest is not None:
            bright = one.brightest
            assert bright.magnitude_above_atmosphere >= 2.0 - 1e-9
            air = bright.magnitude - bright.magnitude_above_atmosphere
            # Kasten and Young 1989: airmass 1 overhead to 5.6 at 10 degrees
            assert 0.1 < air < 0.21 * 5.7


def test_a_default_model_that_fails_gives_a_flagged_guess(monkeypatch):
    monkeypatch.delenv("PASSES_STRICT_PLUGINS", raising=False)

    def broken(asked):
        raise RuntimeError("no table")

    registry = registry_with(broken)
    table = search_passes(catalogue(), SITE, START, START + DAY)
    some = light_passes(table, GuardedModel(registry, None, lambda plugin: {}))
    assert {"model_failed", "class_magnitude"} <= set(some[0].flags)
    assert any(one.brightest is not None for one in some)
    assert "no table" in registry.problems[0].line()


def test_a_model_asked_for_by_name_stops_with_the_culprit(monkeypatch):
    monkeypatch.delenv("PASSES_STRICT_PLUGINS", raising=False)
    registry = registry_with(lambda asked: "bright")
    table = search_passes(catalogue(), SITE, START, START + DAY)
    model = GuardedModel(registry, "diffuse-sphere", lambda plugin: {})
    with pytest.raises(PluginFailed, match="stand-in"):
        light_passes(table, model)
