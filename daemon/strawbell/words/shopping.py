"""What is still to be bought, as a table, as JSON and as a sentence for the evening."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from strawbell.model.feeds import FeedForm, Package
from strawbell.model.garden import Garden
from strawbell.model.supplies import Need, Supply
from strawbell.words.escaping import clean_lines, name, table, wrap
from strawbell.words.json_v1 import VERSION, Json
from strawbell.words.nouns import feed_name
from strawbell.words.voice import Voice, day


def supplies_screen(wanted: Iterable[Need], garden: Garden, today: date) -> str:
    """Return the list as `strawbell supplies` prints it, in the order it is needed."""
    voice, wanted = Voice.of(garden, today), tuple(wanted)
    rows = [
        (
            day(need.needed_by),
            name(need.name),
            _amount(need, garden, voice),
            _packages(need, voice),
            "" if need.cost is None else f"{need.cost:.2f}",
        )
        for need in wanted
    ]
    shown = name(garden.name)
    if not rows:
        return clean_lines(f"{shown}: nothing more is needed.\n")
    head = ("Needed by", "What", "Amount", "Packages", "Cost")
    notes = ["Amounts are those of the plan as it stands; water is without the rain that may come."]
    notes += [said for need in wanted if (said := _stock(need, voice))]
    priced = [need.cost for need in wanted if need.cost is not None]
    if priced:
        notes.append(f"What has a price comes to {sum(priced):.2f}.")
    return clean_lines(f"{shown}\n\n{table(head, rows)}\n\n{wrap(' '.join(notes))}\n")


def supplies_json(wanted: Iterable[Need], garden: Garden, today: date) -> Json:
    """Return the list as JSON."""
    return {
        "version": VERSION,
        "garden": garden.name,
        "date": today.isoformat(),
        "supplies": [
            {
                "kind": need.kind.value,
                "name": need.name,
                "kg": None if need.kg is None else round(need.kg, 3),
                "litres": None if need.litres is None else round(need.litres, 1),
                "package_kg": need.package_kg,
                "package_l": need.package_l,
                "packages": need.packages,
                "buy": [
                    {"count": each.count, "kg": each.package.kg, "litres": each.package.litres}
                    for each in need.buy
                ],
                "in_stock_kg": None if need.stock_kg is None else round(need.stock_kg, 3),
                "lasts_until": None if need.lasts_until is None else need.lasts_until.isoformat(),
                "cost": None if need.cost is None else round(need.cost, 2),
                "needed_by": need.needed_by.isoformat(),
                "last_on": need.last_on.isoformat(),
            }
            for need in wanted
        ],
    }


def supply_sentence(need: Need, garden: Garden, today: date) -> str:
    """Return one sentence for the evening note."""
    voice = Voice.of(garden, today)
    packages = _packages(need, voice)
    many = f" ({packages})" if packages else ""
    what = f"{_amount(need, garden, voice)} of {feed_name(need.name, voice.tongue)}{many}"
    return f"{what} will be needed from {voice.date_said(need.needed_by)} on."


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
    return f"{mass} ({volume})" if need.name in _liquids(garden) else mass


def _liquids(garden: Garden) -> frozenset[str]:
    feeds = (feed for batch in garden.batches for feed in batch.feeds())
    return frozenset(feed.name for feed in feeds if feed.form is FeedForm.LIQUID)


def _packages(need: Need, voice: Voice) -> str:
    if need.packages is None:
        return ""
    if need.packages == 0:
        return "what is at hand will do"
    if need.buy:
        return " + ".join(f"{each.count} x {_size(each.package, voice)}" for each in need.buy)
    size = _size(Package(need.package_kg, need.package_l), voice)
    return f"{need.packages} x {size}" if size else str(need.packages)


def _size(package: Package, voice: Voice) -> str:
    if package.kg is not None:
        return voice.measures.mass(package.kg * 1000)
    return "" if package.litres is None else voice.measures.volume(package.litres * 1000)


def _stock(need: Need, voice: Voice) -> str:
    """Return how long what is at hand lasts, "" where nobody has counted it."""
    if need.stock_kg is None:
        return ""
    if need.stock_kg == 0.0:
        return f"Nothing of {name(need.name)} is at hand."
    left = f"{voice.measures.mass(need.stock_kg * 1000)} of {name(need.name)} at hand"
    if need.is_at_hand:
        return f"{left} lasts to the end of the plan."
    if need.lasts_until is None:
        return f"{left} is not enough for the next feeding, {voice.date_said(need.needed_by)}."
    until = voice.date_said(need.lasts_until)
    return f"{left} lasts through {until}; more is needed by {day(need.needed_by)}."
