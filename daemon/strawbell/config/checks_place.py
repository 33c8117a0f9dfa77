"""Coordinates and time zones that cannot belong together."""

from __future__ import annotations

from collections.abc import Iterator

from strawbell.config.checks_context import Context, finding
from strawbell.config.gardens import GardenSection
from strawbell.config.mistakes import Mistake, shown
from strawbell.config.outline import Path
from strawbell.config.zones import (
    OFFSET_DOUBT_H,
    hours_from_sun,
    is_abbreviation,
    is_known,
    looks_swapped,
    suggestion,
)


def places(context: Context) -> Iterator[Mistake]:
    """Yield what is odd about each garden's place."""
    for path, garden in context.gardens():
        zone = _zone(context, path, garden)
        if zone is not None:
            yield zone
        yield from _coordinates(context, path, garden, sound=zone is None)


def _zone(context: Context, path: Path, garden: GardenSection) -> Mistake | None:
    name = garden.time_zone
    abbreviated = is_abbreviation(name)
    if not abbreviated and is_known(name):
        return None
    unsure = context.doubtful(((*path, "latitude"), (*path, "longitude")))
    meant = suggestion(name, None if unsure else (garden.latitude, garden.longitude))
    remedy = f'Did you mean "{meant}"?' if meant else ""
    what = "zone-abbreviation" if abbreviated else "no-such-zone"
    return finding(what, (*path, "time_zone"), shown(name), meant=remedy)


def _coordinates(
    context: Context, path: Path, garden: GardenSection, *, sound: bool
) -> Iterator[Mistake]:
    latitude, longitude, zone = garden.latitude, garden.longitude, garden.time_zone
    found = f"{latitude:g} north, {longitude:g} east"
    where: Path = (*path, "latitude")
    if latitude == 0 and longitude == 0:
        yield finding("in-the-sea", where, found, reads=["longitude"])
    elif sound and looks_swapped(latitude, longitude, zone):
        given = {"zone": zone, "latitude": f"{longitude:g}", "longitude": f"{latitude:g}"}
        yield finding("swapped", where, found, reads=["longitude", "time_zone"], **given)
    elif sound and not zone.startswith(("Etc/", "UTC")):
        gap_h = hours_from_sun(longitude, zone, context.today.year)
        if gap_h > OFFSET_DOUBT_H:
            yield finding(
                "far-from-its-clock",
                (*path, "longitude"),
                f"{longitude:g} degrees east",
                gap=f"{gap_h:.0f}",
                zone=zone,
                reads=["latitude", "time_zone"],
            )
