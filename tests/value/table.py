"""The figures of the judge as a page, with the targets that were missed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

SHOWN = (
    ("leached_g", "leached [g N]"),
    ("second_g", "the same by the second model [g N]"),
    ("air_g", "to the air [g N]"),
    ("lost_g", "leached and to the air [g N]"),
    ("kept_percent", "nitrogen there when ready, of the plan's [%]"),
    ("ready_day", "ready after [d]"),
    ("unfinished", "of these not ready by day 42"),
    ("planted_day", "tomatoes planted after [d]"),
    ("growing_days_missed", "growing days missed [d]"),
    ("plants_lost", "plantings lost to frost"),
    ("covers", "covers"),
    ("covers_for_nothing", "of these for nothing"),
    ("frosts_uncovered", "frosts without a cover"),
    ("held_days", "days a feeding waited"),
    ("poured_l", "poured [L]"),
    ("drained_l", "drained [L]"),
    ("messages_conditioning", "messages a week until planting"),
    ("messages_season", "messages a week from then on"),
    ("loss", "loss in one sum"),
)
"""The measures shown, by place as well only the first and the last."""
BY_PLACE = ("leached_g", "lost_g", "ready_day", "growing_days_missed", "loss")


@dataclass(frozen=True, slots=True)
class Wanted:
    """Shares that are to be saved of what the calendar loses, or of what the oracle saves."""

    leached: float
    lost: float
    loss: float


WANTED: Mapping[str, Wanted] = {
    "Strawbell": Wanted(0.50, 0.28, 0.45),
    "Strawbell, tarp": Wanted(0.60, 0.45, 0.60),
}


WHY = {
    "messages a week until": "The sequence feeds on seven of its eleven days, and each feeding is "
    "told on its own morning, since rain or a freeze may hold it; a late start has hardly a day "
    "between. The planting is told on the evening before it, too.",
    "messages a week in season": "Where planting waits long, few days of the season are left, and "
    "the first of them are the busy ones.",
    "loss in one sum": "Planting waits in cool springs for frosts that mostly stay away.",
}
"""Why targets of a kind are missed; a kind that is met is not shown."""
WORST = (
    "Tomatoes wait weeks for nights that may freeze or are chilly, in a spring that a calendar "
    "plants through; what they lose by it in growth is more than covers would have cost."
)
"""Why the worst season is the worst."""


@dataclass(frozen=True, slots=True)
class Target:
    """What was to be reached, and what came out."""

    what: str
    wanted: str
    got: float | None
    met: bool | None


def table_of(document: Mapping[str, Any]) -> str:
    """Return the page."""
    return "\n".join(_lines(document)) + "\n"


def targets(document: Mapping[str, Any]) -> Iterator[Target]:
    """Yield every target with what came out; None where it could not be asked."""
    rows = {
        (row["feed"], row["measure"]): row for row in document["seasons"] if row["place"] == "all"
    }
    for feed, policy in product(document["sizes"]["springs"], WANTED):
        if (feed, "loss") in rows:
            yield from _of_the_season(document, rows, feed, policy)
    tops = {(row["kind"], row["policy"]): row for row in document["tops"]}
    for kind, dry_h, waterings in (("rooted", 3.0, 30.0), ("seed", 12.0, 36.0)):
        if (kind, "Strawbell") in tops:
            row = tops[kind, "Strawbell"]
            yield _most(f"top over {kind} plants: dry hours in three weeks", row["dry_h"], dry_h)
            yield _most(f"top over {kind} plants: waterings", row["waterings"], waterings)
    covers = document["covers"]["Strawbell"]
    yield _least("frost covers: share of frosts covered", covers["pod"], 0.95)
    yield _most("frost covers: frosts of 1 degC and more missed", covers["missed_far"], 0.01)
    yield _most("frost covers: leaf over 2 degC above the limit", covers["needless_far"], 0.35)
    for event, row in document["chances"].items():
        what = f"chance of {event}: unreliable part over {row['decisions']} mornings"
        yield _most(what, row["rel"], 0.01)


def _of_the_season(
    document: Mapping[str, Any], rows: Mapping[tuple[str, str], Any], feed: str, policy: str
) -> Iterator[Target]:
    wanted = WANTED[policy]
    ours = {name: rows[feed, name]["policies"][policy] for name, _ in SHOWN}
    worst = {name: rows[feed, name]["worst"][policy] for name, _ in SHOWN}
    plain_ready = rows[feed, "ready_day"]["policies"]["calendar"]["mean"]
    who = f"{policy}, {feed.lower()}"
    yield _least(f"{who}: leached, saved", ours["leached_g"]["saves"][0], wanted.leached)
    yield _least(f"{who}: leached and to the air, saved", ours["lost_g"]["saves"][0], wanted.lost)
    for name, what in (("leached_g", "worst draw"), ("second_g", "second model, worst draw")):
        draws = [each[f"{policy}: {name}"] for each in document["draws"] if each["feed"] == feed]
        yield _least(f"{who}: leached, saved, {what}", min(draws), 0.25)
    worse = worst["leached_g"]["worse_percent"]
    yield _most(f"{who}: seasons in 100 that leach over 5 % more", worse, 2.0)
    later = round(ours["ready_day"]["mean"] - plain_ready, 3)
    yield _most(f"{who}: ready later than the calendar, mean [d]", later, 0.0)
    yield _most(f"{who}: the same, worst season [d]", worst["ready_day"]["by"], 3.0)
    loss = rows[feed, "loss"]["policies"]
    share = loss[policy]["of_the_best"][0]
    yield _least(f"{who}: loss in one sum, of what the oracle saves", share, wanted.loss)
    more = round(loss["attentive"]["mean"] - loss[policy]["mean"], 3)
    yield _least(f"{who}: loss saved over the attentive grower", more, 0.0)
    yield _most(
        f"{who}: messages a week until planting", ours["messages_conditioning"]["mean"], 4.5
    )
    yield _most(f"{who}: messages a week in season", ours["messages_season"]["mean"], 3.0)


def _least(what: str, got: float | None, wanted: float) -> Target:
    return Target(what, f"at least {wanted:g}", got, None if got is None else got >= wanted)


def _most(what: str, got: float | None, wanted: float) -> Target:
    return Target(what, f"at most {wanted:g}", got, None if got is None else got <= wanted)


def _lines(document: Mapping[str, Any]) -> Iterator[str]:
    sizes = document["sizes"]
    counted = ", ".join(f"{number} on {feed}" for feed, number in sizes["springs"].items())
    yield "# What the advice is worth"
    yield ""
    yield "Written by `python -m tests.value.judge --write`; how, is in the modules beside it."
    yield f"Springs: {counted}, each with {sizes['draws']} bales out of the ranges of the balance"
    yield f"({sizes['oracle draws']} of them for the oracle). Places: {', '.join(sizes['places'])}."
    yield "In brackets a 90 % interval of a bootstrap over springs that share no weather."
    yield "Grams and litres are of one bale to day 28, told water included; a bale that is not"
    yield "ready by day 42 counts with all 42."
    yield ""
    yield "## Targets"
    yield ""
    found = list(targets(document))
    yield "| target | wanted | came out | |"
    yield "|---|---|---|---|"
    for each in found:
        met = "not asked" if each.met is None else "met" if each.met else "**missed**"
        yield f"| {each.what} | {each.wanted} | {_figure(each.got)} | {met} |"
    missed = [each for each in found if each.met is False]
    yield ""
    yield f"{len(missed)} of {len(found)} missed."
    for kind, why in WHY.items():
        of_it = [each for each in missed if kind in each.what]
        if of_it:
            yield ""
            yield f"* {kind}, {len(of_it)} missed: {why}"
    losses = [
        (row["worst"]["Strawbell"], row["feed"])
        for row in document["seasons"]
        if (row["place"], row["measure"]) == ("all", "loss")
    ]
    worst, feed = max(losses, key=lambda each: each[0]["by"])
    yield ""
    yield f"Worst season: {worst['where']} on {feed.lower()}, {worst['by']:+g} a bale beside the"
    yield f"calendar. {WORST}"
    for feed in sizes["springs"]:
        yield from _feed(document, feed)
    yield from _beside(document)


def _feed(document: Mapping[str, Any], feed: str) -> Iterator[str]:
    rows = [row for row in document["seasons"] if row["feed"] == feed]
    if not rows:
        return
    policies = [
        each
        for each in (
            "calendar",
            "calendar by deficit",
            "attentive",
            *WANTED,
            "oracle",
            "oracle, tarp",
        )
        if each in rows[0]["policies"]
    ]
    by = {(row["place"], row["measure"]): row for row in rows}
    yield ""
    yield f"## {feed}"
    yield ""
    yield f"| measure | {' | '.join(policies)} | worst beside the calendar |"
    yield "|---" * (len(policies) + 2) + "|"
    for name, label in SHOWN:
        row = by["all", name]
        cells = (_cell(row["policies"][policy]) for policy in policies)
        worst = row["worst"]["Strawbell"]
        yield f"| {label} | {' | '.join(cells)} | {worst['by']:+g}, {worst['where']} |"
    yield ""
    yield "Strawbell beside the calendar by place, and what it saves:"
    yield ""
    labels = dict(SHOWN)
    yield f"| place | {' | '.join(labels[name] for name in BY_PLACE)} |"
    yield "|---" * (len(BY_PLACE) + 1) + "|"
    for place in dict.fromkeys(row["place"] for row in rows):
        cells = []
        for name in BY_PLACE:
            plain, ours = (by[place, name]["policies"][who] for who in ("calendar", "Strawbell"))
            worse = " **worse**" if ours["mean"] > plain["mean"] else ""
            cells.append(f"{plain['mean']:.1f} -> {ours['mean']:.1f}{worse}")
        yield f"| {place} | {' | '.join(cells)} |"


def _beside(document: Mapping[str, Any]) -> Iterator[str]:
    yield ""
    yield "## Tops, first three weeks"
    yield ""
    yield "| kind | policy | dry [h] | worst [h] | waterings |"
    yield "|---|---|---|---|---|"
    for row in document["tops"]:
        cells = (row[name] for name in ("kind", "policy", "dry_h", "worst_h", "waterings"))
        yield f"| {' | '.join(map(str, cells))} |"
    covers = document["covers"]
    yield ""
    yield f"## Frost covers: {covers['nights']} nights, {covers['frosts']} with frost at the leaf"
    yield ""
    yield "| policy | covers | frosts covered | missed by 1 degC | needless | by over 2 degC |"
    yield "|---|---|---|---|---|---|"
    for who in ("attentive", "Strawbell"):
        row = covers[who]
        cells = (row[name] for name in ("covers", "pod", "missed_far", "needless", "needless_far"))
        yield f"| {who} | {' | '.join(map(_figure, cells))} |"
    yield ""
    yield "## Chances"
    yield ""
    yield "| event | mornings | base rate | Brier | skill | unreliable |"
    yield "|---|---|---|---|---|---|"
    for event, row in document["chances"].items():
        names: Sequence[str] = ("decisions", "base", "brier", "skill", "rel")
        yield f"| {event} | {' | '.join(_figure(row[name]) for name in names)} |"


def _cell(cell: Mapping[str, Any]) -> str:
    return f"{cell['mean']:.2f} ({cell['low']:.2f} to {cell['high']:.2f})"


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:g}"
