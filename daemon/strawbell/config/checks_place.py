"""Coordinates and time zones that cannot belong together."""

from __future__ import annotations

from collections.abc import Iterator

from strawbell.config.checks_context import Context
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

_ALLOWED = 'a name of the tz database, such as "Europe/Zurich"'


def places(context: Context) -> Iterator[Mistake]:
    """Yield what is odd about each garden's place."""
    for path, garden in context.gardens():
        zone = _zone(context, path, garden)
        if zone is not None:
            yield zone
        yield from _coordinates(context, path, garden, sound=zone is None)


def _zone(context: Context, path: Path, garden: GardenSection) -> Mistake | None:
    name = garden.time_zone
    if is_abbreviation(name):
        what = "an abbreviation is no time zone: it does not say when clocks change"
    elif not is_known(name):
        what = "there is no such time zone"
    else:
        return None
    unsure = context.doubtful(((*path, "latitude"), (*path, "longitude")))
    meant = suggestion(name, None if unsure else (garden.latitude, garden.longitude))
    remedy = f'Did you mean "{meant}"?' if meant else ""
    return Mistake(what, (*path, "time_zone"), shown(name), _ALLOWED, remedy)


def _coordinates(
    context: Context, path: Path, garden: GardenSection, *, sound: bool
) -> Iterator[Mistake]:
    latitude, longitude = (*path, "latitude"), (*path, "longitude")
    reads = (latitude, longitude, (*path, "time_zone"))
    found = f"{garden.latitude:g} north, {garden.longitude:g} east"
    if garden.latitude == 0 and garden.longitude == 0:
        yield Mistake(
            "the garden lies in the sea off Africa, where both coordinates are 0",
            latitude,
            found,
            "the garden's own coordinates in degrees",
            "Look them up on a map.",
            warning=True,
            reads=reads[:2],
        )
    elif sound and looks_swapped(garden.latitude, garden.longitude, garden.time_zone):
        yield Mistake(
            "latitude and longitude look swapped: the other way round they lie near "
            f"{garden.time_zone}",
            latitude,
            found,
            "degrees north, then degrees east",
            f"If so, write latitude = {garden.longitude:g} and longitude = {garden.latitude:g}.",
            warning=True,
            reads=reads,
        )
    elif sound and not garden.time_zone.startswith(("Etc/", "UTC")):
        gap_h = hours_from_sun(garden.longitude, garden.time_zone, context.today.year)
        if gap_h > OFFSET_DOUBT_H:
            yield Mistake(
                f"the longitude lies {gap_h:.0f} h away from the clock of {garden.time_zone}",
                longitude,
                f"{garden.longitude:g} degrees east",
                "degrees east; west of Greenwich is negative",
                "Look at the sign and the time zone.",
                warning=True,
                reads=reads,
            )
