"""An early crop that would hold a late one past its time: the choices, each with its dates."""

from __future__ import annotations

from datetime import timedelta
from shlex import quote

from strawbell.model.brief import Crowding
from strawbell.words.escaping import capital, clean, name
from strawbell.words.voice import Voice, day


def crowding_sentences(each: Crowding, voice: Voice) -> str:
    """Return what stands in the way of what, and what each way out of it comes to."""
    early, late = name(each.early), name(each.late)
    batch = quote(clean(each.batch))
    time = "today" if each.wanted_on <= voice.on else f"on {day(each.wanted_on)}"
    pull_on = each.wanted_on - timedelta(days=1)
    pulled = f"today and plant {late} tomorrow"
    if pull_on > voice.on:
        pulled = f"on {day(pull_on)} and plant {late} the next day"
    ripe = (
        "it is ripe"
        if each.pick_on <= voice.on
        else f"it is ripe from about {day(each.pick_on)} on"
    )
    since = "was" if each.wanted_on < voice.on else "is"
    return (
        f"{capital(late)} in {name(each.batch)} {since} meant to go in {_when(each, voice)}, and "
        f"{early} is expected to stand until {day(each.over_on)}. Choose one: "
        f"(1) Pull the {early} {pulled}; {ripe}. Then: strawbell record harvest "
        f"{quote(clean(each.early))} 12 --batch {batch} --last (12 pieces, or 1.5kg). "
        f"(2) Plant {late} {time} between the {early}, where it finds light, and cut the {early} "
        f"away as it grows. Then: strawbell record done {quote(clean(each.late_key.text()))}. "
        f"(3) Let {late} wait: it goes in about {day(each.over_on)} and is picked from about "
        f"{_pick(each)}."
    )


def crowding_headline(each: Crowding) -> str:
    """Return the choice for a subject."""
    return f"choose: {name(each.early)} or {name(each.late)}"


def _when(each: Crowding, voice: Voice) -> str:
    return "today" if each.wanted_on == voice.on else f"on {day(each.wanted_on)}"


def _pick(each: Crowding) -> str:
    """Return when a late crop that waits is picked, and whether a freeze comes before."""
    said = f"{day(each.late_pick_on)} to {day(each.late_pick_latest)} on"
    freeze = each.freeze_on
    if freeze is None or each.late_pick_latest < freeze:
        return said
    early = "before any is ripe" if each.late_pick_on >= freeze else "before all is ripe"
    return f"{said}, but a freeze about {day(freeze)} may end it {early}: better leave it out"
