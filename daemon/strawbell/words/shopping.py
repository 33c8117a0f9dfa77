"""What is still to be bought, as a table and as a sentence for the evening."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from strawbell.model.feeds import FeedForm, Need, Package, Supply
from strawbell.model.garden import Garden
from strawbell.words.escaping import clean_lines, name, table, wrap
from strawbell.words.summary import money
from strawbell.words.voice import Voice, feed_name


def supplies_screen(wanted: Iterable[Need], garden: Garden, today: date) -> str:
    """Return the list as `strawbell supplies` prints it, in the order it is needed."""
    voice, wanted = Voice.of(garden, today), tuple(wanted)
    say = voice.say
    rows = [
        (
            voice.day(need.needed_by),
            _called(need, voice),
            _amount(need, garden, voice),
            _packages(need, voice),
            "" if need.cost is None else money(need.cost, voice),
        )
        for need in wanted
    ]
    shown = name(garden.name)
    if not rows:
        return clean_lines(say("supplies.none", garden=shown) + "\n")
    head = (
        say("supplies.needed-by"),
        say("supplies.what"),
        say("supplies.amount"),
        say("supplies.packages"),
        say("supplies.cost"),
    )
    notes = [say("supplies.note")]
    notes += [said for need in wanted if (said := _stock(need, voice))]
    priced = [need.cost for need in wanted if need.cost is not None]
    if priced:
        notes.append(say("supplies.total", cost=money(sum(priced), voice)))
    return clean_lines(f"{shown}\n\n{table(head, rows)}\n\n{wrap(' '.join(notes))}\n")


def supply_sentence(need: Need, garden: Garden, today: date) -> str:
    """Return what to have ready by when, in one sentence."""
    voice = Voice.of(garden, today)
    return voice.say(
        "supplies.sentence",
        amount=_amount(need, garden, voice),
        feed=feed_name(need.name, voice.tongue),
        packages=_packages(need, voice),
        near=voice.nearness(need.needed_by),
        day=voice.day(need.needed_by),
    )


def _called(need: Need, voice: Voice) -> str:
    """Return a feed as the grower calls it, what every plan needs in the words of the locale."""
    return name(need.name) if need.kind is Supply.FEED else feed_name(need.name, voice.tongue)


def _amount(need: Need, garden: Garden, voice: Voice) -> str:
    """Return a feed as its package counts it, and a liquid both ways where none is known."""
    volume = voice.measures.volume(None if need.litres is None else need.litres * 1000)
    if need.kind is not Supply.FEED or need.kg is None:
        return volume
    mass = voice.measures.mass(need.kg * 1000)
    if need.litres is None or need.package_kg is not None:
        return mass
    if need.package_l is not None:
        return volume
    if need.name not in _liquids(garden):
        return mass
    return voice.say("supplies.both", mass=mass, volume=volume)


def _liquids(garden: Garden) -> frozenset[str]:
    feeds = (feed for batch in garden.batches for feed in batch.feeds())
    return frozenset(feed.name for feed in feeds if feed.form is FeedForm.LIQUID)


def _packages(need: Need, voice: Voice) -> str:
    if need.packages is None:
        return ""
    if need.packages == 0:
        return voice.say("supplies.enough")
    if need.buy:
        sizes = ((each.count, _size(each.package, voice)) for each in need.buy)
        return " + ".join(voice.say("supplies.package", count=n, size=size) for n, size in sizes)
    size = _size(Package(need.package_kg, need.package_l), voice)
    if not size:
        return voice.measures.number(need.packages, 0)
    return voice.say("supplies.package", count=need.packages, size=size)


def _size(package: Package, voice: Voice) -> str:
    if package.kg is not None:
        return voice.measures.mass(package.kg * 1000)
    return "" if package.litres is None else voice.measures.volume(package.litres * 1000)


def _stock(need: Need, voice: Voice) -> str:
    """Return how long what is at hand lasts, "" where nobody has counted it."""
    if need.stock_kg is None:
        return ""
    if need.stock_kg == 0.0:
        return voice.say("supplies.nothing", name=_called(need, voice))
    feed, mass = _called(need, voice), voice.measures.mass(need.stock_kg * 1000)
    by, until = need.needed_by, need.lasts_until
    if need.is_at_hand:
        return voice.say("supplies.end", mass=mass, name=feed)
    if until is None:
        near, day = voice.nearness(by), voice.day(by)
        return voice.say("supplies.few", mass=mass, name=feed, near=near, day=day)
    return voice.say(
        "supplies.lasts",
        mass=mass,
        name=feed,
        near=voice.nearness(until),
        until=voice.day(until),
        day=voice.day(by),
    )
