"""An early crop that would hold a late one past its time: the choices, each with its dates."""

from __future__ import annotations

from datetime import timedelta
from shlex import quote

from strawbell.model.brief import Crowding
from strawbell.words.escaping import clean, name
from strawbell.words.voice import Voice


def crowding_sentences(each: Crowding, voice: Voice) -> str:
    """Return what stands in the way of what, and what each way out of it comes to."""
    early, batch, wanted = quote(clean(each.early)), quote(clean(each.batch)), each.wanted_on
    pull_on, freeze = wanted - timedelta(days=1), each.freeze_on
    if freeze is not None and each.late_pick_latest < freeze:
        freeze = None
    return voice.say(
        "crowding.line",
        early=name(each.early),
        late=name(each.late),
        batch=name(each.batch),
        past=wanted < voice.on,
        near=voice.nearness(wanted),
        day=voice.day(wanted),
        over=voice.day(each.over_on),
        pull=voice.day(pull_on) if pull_on > voice.on else None,
        ripe=voice.day(each.pick_on) if each.pick_on > voice.on else None,
        harvest=f"strawbell record harvest {early} 12 --batch {batch} --last",
        now=wanted <= voice.on,
        done=f"strawbell record done {quote(clean(each.late_key.text()))}",
        pick=voice.day(each.late_pick_on),
        pick_latest=voice.day(each.late_pick_latest),
        freeze=None if freeze is None else voice.day(freeze),
        all_early=freeze is not None and each.late_pick_on >= freeze,
    )


def crowding_headline(each: Crowding, voice: Voice) -> str:
    """Return the choice for a subject."""
    return voice.say("crowding.headline", early=name(each.early), late=name(each.late))
