"""Which garden and which moment somebody means who says little."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.season.local_time import zone_of


def gardens_meant(gardens: Sequence[Garden], name: str | None) -> tuple[Garden, ...]:
    """Return the garden of a name, or all; an unknown name is met with the nearest one."""
    if name is None:
        return tuple(gardens)
    found = tuple(garden for garden in gardens if garden.name.lower() == name.lower())
    if found:
        return found
    names = [garden.name for garden in gardens]
    from difflib import get_close_matches  # most names are known

    near = get_close_matches(name, names, n=1)
    raise GrowerError(
        Problem(
            what="there is no such garden",
            where="--garden",
            found=repr(name),
            allowed=", ".join(repr(each) for each in names),
            remedy=f"Did you mean {near[0]!r}?" if near else "",
        )
    )


def one_garden(gardens: Sequence[Garden], name: str | None) -> Garden:
    """Return the one garden a word is about; with several, its name has to be given."""
    found = gardens_meant(gardens, name)
    if len(found) == 1:
        return found[0]
    raise no_one_garden(found)


def no_one_garden(gardens: Sequence[Garden]) -> GrowerError:
    """Return the refusal of a word that may be about any of several gardens."""
    return GrowerError(
        Problem(
            what="there are several gardens",
            where="--garden",
            allowed=", ".join(repr(garden.name) for garden in gardens),
            remedy="Say which one is meant with --garden NAME.",
        )
    )


def moment_meant(at: datetime | None, garden: Garden, now: datetime) -> datetime:
    """Return the moment asked about, in UTC: `at`, without an offset garden-local; else `now`."""
    if at is None:
        return now
    if at.tzinfo is None:
        at = at.replace(tzinfo=zone_of(garden.place.time_zone))
    return at.astimezone(UTC)
