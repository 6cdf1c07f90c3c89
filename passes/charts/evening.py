"""The sky of a night and its course: what is drawn of the passes worth having."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

import numpy as np

from passes.charts.clockface import clock, compass, zone_of, zone_words
from passes.charts.nightbar import Bar, Planned, night_figure
from passes.charts.paper import headed
from passes.charts.skydisc import East, SkyDisc, sky_figure
from passes.charts.skykey import Entry, height_in, key
from passes.charts.skypath import Path, draw_line, draw_number, write_times
from passes.charts.theme import Palette
from passes.model import Night, Passage, Site, Span, Sub, Track

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from passes.contributions import Services

#: More paths than this on one disc cannot be told apart.
MOST_PATHS = 16
#: More bars than this make no picture.
MOST_BARS = 24
TITLE = "Passes of the night at"
_STEPS = 120
_MARK_EVERY_S = (60.0, 120.0, 300.0, 900.0, 3600.0)
_MOST_MARKS = 8
#: Times written on all paths of a disc together, and on one of them.
_MOST_WORDS, _MOST_WORDS_EACH = 14, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A place and a night to draw."""

    site: Site
    night: Night
    window: Span
    demo: bool = False

    @property
    def zone(self) -> tzinfo:
        """The site's time zone."""
        return zone_of(self.site.zone)

    @property
    def place(self) -> str:
        """The site and the evening in a few words."""
        name = self.site.name or (
            f"{self.site.latitude_deg:.2f}°, {self.site.longitude_deg:.2f}°"
        ).replace("-", "−")
        return f"{name}, {self.night.date:%d %B %Y}".replace(" 0", " ")


def sampled(services: Services, passage: Passage) -> Track:
    """A pass sampled finely enough to be drawn."""
    return services.track(passage, _step_s(passage))


def _step_s(passage: Passage) -> float:
    length_s = (passage.end - passage.start).total_seconds()
    return max(1.0, length_s / _STEPS)


def sky_chart(
    palette: Palette,
    scene: Scene,
    tracks: Sequence[Track],
    *,
    east: East = "left",
    left_out: int = 0,
) -> Figure:
    """The sky as a disc with the path of every track.

    ``left_out`` says how many passes are not drawn.
    """
    moon = _moon(scene, tracks)
    remarks = _remarks(scene, east, moon[2] if moon else "", left_out)
    below_in = height_in(len(tracks), remarks)
    figure, disc, below = sky_figure(palette, east, below_in)
    if scene.site.horizon:
        azimuth, altitude = zip(*scene.site.horizon, strict=True)
        disc.mask(azimuth, altitude)
    paths = [_path(one, i + 1, scene.zone) for i, one in enumerate(tracks)]
    for path in paths:
        draw_line(disc, path)
    if moon is not None:
        disc.moon(*moon[:2], "Moon")
    _suns(disc, scene, tracks)
    for path in paths:
        draw_number(disc, path)
    each = min(_MOST_WORDS_EACH, max(1, _MOST_WORDS // max(len(paths), 1)))
    for path in paths:
        write_times(disc, path, each)
    entries = [_entry(i + 1, one, scene.zone) for i, one in enumerate(tracks)]
    key(below, palette, entries, remarks)
    headed(figure, palette, f"The sky of {scene.place}", demo=scene.demo)
    return figure


def timeline_chart(
    palette: Palette,
    scene: Scene,
    passages: Iterable[Passage],
    *,
    subs: Sequence[Sub] = (),
    left_out: int = 0,
) -> Figure:
    """Twilight, Moon and passes of a night, and the subs planned for it.

    ``left_out`` says how many passes are not drawn.
    """
    bars = [_bar(one, scene.zone) for one in passages]
    planned = [
        Planned(span=Span(start=one.start, end=one.end), target=one.target.name)
        for one in subs
        if one.end > scene.window.start and one.start < scene.window.end
    ]
    return night_figure(
        palette,
        scene.night,
        scene.window,
        bars,
        scene.zone,
        planned=planned,
        title=f"The night of {scene.place}",
        left_out=left_out,
        demo=scene.demo,
    )


def _bar(passage: Passage, zone: tzinfo) -> Bar:
    best = passage.brightest
    words = [clock(passage.start, zone)]
    if best is not None and np.isfinite(best.magnitude):
        words.append(f"mag {best.magnitude:.1f}".replace("-", "−"))
    if passage.culmination is not None:
        words.append(f"{passage.culmination.altitude_deg:.0f}° high")
    return Bar(
        label=passage.name or str(passage.catalog_number),
        up=Span(start=passage.start, end=passage.end),
        visible=passage.visible,
        words=", ".join(words),
    )


def _path(track: Track, index: int, zone: tzinfo) -> Path:
    up = track.altitude_deg >= 0.0
    return Path(
        label=str(index),
        azimuth_deg=track.azimuth_deg,
        altitude_deg=track.altitude_deg,
        lit=track.lit_fraction > 0.0,
        magnitude=track.magnitude,
        marks=[(i, clock(t, zone)) for i, t in _marks(track) if up[i]],
    )


def _marks(track: Track) -> list[tuple[int, datetime]]:
    """Samples at whole minutes, as many as have room."""
    length_s = float(track.time_s[-1])
    step_s = next((s for s in _MARK_EVERY_S if length_s / s <= _MOST_MARKS), 3600.0)
    midnight = track.start.replace(hour=0, minute=0, second=0, microsecond=0)
    first_s = (track.start - midnight).total_seconds()
    at_s = np.arange(np.ceil(first_s / step_s) * step_s, first_s + length_s, step_s)
    nearest = np.abs(track.time_s[None, :] - (at_s - first_s)[:, None]).argmin(axis=1)
    return [
        (int(i), midnight + timedelta(seconds=float(s)))
        for i, s in zip(nearest, at_s, strict=True)
    ]


def _entry(index: int, track: Track, zone: tzinfo) -> Entry:
    """What the list below the disc says of one path."""
    best = "–"
    if np.isfinite(track.magnitude).any():
        best = f"{np.nanmin(track.magnitude):.1f}".replace("-", "−")
    ends = (float(track.azimuth_deg[i]) for i in (0, -1))
    return Entry(
        number=str(index),
        time=clock(track.start, zone),
        name=track.name or str(track.catalog_number),
        way=" to ".join(map(compass, ends)),
        magnitude=best,
    )


def _middle_of(track: Track) -> datetime:
    return track.start + timedelta(seconds=float(track.time_s[-1]) / 2)


def _suns(disc: SkyDisc, scene: Scene, tracks: Sequence[Track]) -> None:
    """The glow after sunset and before sunrise, at the pass nearest to day."""
    times = [_middle_of(one) for one in tracks] or [scene.window.start]
    middle = scene.window.start + (scene.window.end - scene.window.start) / 2
    for words, chosen in (
        ("glow, evening", [t for t in times if t <= middle]),
        ("glow, morning", [t for t in times if t > middle]),
    ):
        suns = [sun_altaz(scene.site, t) for t in chosen]
        if suns and max(suns)[0] > -18.0:
            disc.glow(max(suns)[1], words)


def _moon(scene: Scene, tracks: Sequence[Track]) -> tuple[float, float, str] | None:
    """Azimuth and altitude of the Moon at the first pass that it is up for, and when.

    None where it is up for none of them.
    """
    from passes.sky import moon_altaz

    for track in tracks:
        when = _middle_of(track)
        altitude, azimuth = moon_altaz(scene.site, when, [0.0])
        if float(altitude[0]) > 0.0:
            lit = 100.0 * scene.night.moon_illuminated
            words = f"Moon at {clock(when, scene.zone)}, {lit:.0f} % lit"
            return float(azimuth[0]), float(altitude[0]), words
    return None


def sun_altaz(site: Site, when: datetime) -> tuple[float, float]:
    """Altitude and azimuth of the Sun's centre, degrees, to a hundredth."""
    from passes.sky import gmst_rad, site_axes, sun_teme_km
    from passes.vectors import rotate_z, unit

    sun = rotate_z(sun_teme_km(when, [0.0]), -gmst_rad(when, [0.0]))
    east, north, up = site_axes(site) @ unit(sun[0])
    azimuth = float(np.degrees(np.arctan2(east, north))) % 360.0
    return float(np.degrees(np.arcsin(up))), azimuth


def _remarks(scene: Scene, east: East, moon: str, left_out: int) -> list[str]:
    """How the disc is to be held, and what stands on it beside paths."""
    held = "as on a map" if east == "right" else "as overhead, north away from you"
    words = [
        f"East is {east}, {held}",
        "dots: times; arrow: the way it goes",
        "shaded side: the Sun's glow",
    ]
    words += ["hatched rim: the site's horizon"] if scene.site.horizon else []
    words += [moon] if moon else []
    words += [f"times {zone_words(scene.window.start, scene.zone)}"]
    words += [f"{left_out} passes worth less are not drawn"] if left_out else []
    return words
