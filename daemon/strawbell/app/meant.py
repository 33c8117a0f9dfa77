"""Which garden and which moment somebody means who says little."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden
from strawbell.season.local_time import zone_of
from strawbell.words.catalogue import BRITISH, Tongue
from strawbell.words.escaping import clean
from strawbell.words.units import Measures


def tongue_of(garden: Garden) -> Tongue:
    """Return the locale that a garden is spoken to in."""
    return Measures(garden.units).tongue


def refusal(said: str, where: str, typed: str | None = None, remedy: str = "") -> GrowerError:
    """Return a refusal: a whole sentence, where and what was typed, and what may help."""
    shown = where if typed is None else f'{where} "{clean(typed)}"'
    return GrowerError(Problem(said, shown, remedy=remedy))


def quoted(names: Iterable[str], tongue: Tongue, style: str = "standard") -> str:
    """Return names as they are said in a sentence, each in quotation marks."""
    return tongue.listing((f'"{clean(each)}"' for each in names), style)


def nearest(typed: str, known: Iterable[str], tongue: Tongue) -> str:
    """Return the question whether the known name nearest to what was typed is meant, or ""."""
    from difflib import get_close_matches  # most names are known

    near = get_close_matches(typed, tuple(known), n=1)
    return tongue.say("refusal.near", near=near[0]) if near else ""


def gardens_meant(gardens: Sequence[Garden], name: str | None) -> tuple[Garden, ...]:
    """Return the garden of a name, or all; an unknown name is met with the nearest one."""
    if name is None:
        return tuple(gardens)
    found = tuple(garden for garden in gardens if garden.name.lower() == name.lower())
    if found:
        return found
    names = [garden.name for garden in gardens]
    tongue = tongue_of(gardens[0]) if gardens else BRITISH
    said = tongue.say("refusal.no-garden", names=quoted(names, tongue))
    raise refusal(said, "--garden", name, nearest(name, names, tongue))


def one_garden(gardens: Sequence[Garden], name: str | None) -> Garden:
    """Return the one garden a word is about; with several, its name has to be given."""
    found = gardens_meant(gardens, name)
    if len(found) == 1:
        return found[0]
    raise no_one_garden(found)


def no_one_garden(gardens: Sequence[Garden]) -> GrowerError:
    """Return the refusal of a word that may be about any of several gardens."""
    tongue = tongue_of(gardens[0]) if gardens else BRITISH
    names = quoted((garden.name for garden in gardens), tongue)
    return refusal(tongue.say("refusal.several-gardens", names=names), "--garden")


def moment_meant(at: datetime | None, garden: Garden, now: datetime) -> datetime:
    """Return the moment asked about, in UTC: `at`, without an offset garden-local; else `now`."""
    if at is None:
        return now
    if at.tzinfo is None:
        at = at.replace(tzinfo=zone_of(garden.place.time_zone))
    return at.astimezone(UTC)
