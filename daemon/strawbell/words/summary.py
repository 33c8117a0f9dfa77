"""What a season came to, as text to skim; unknown is said, never 0."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from strawbell.model.garden import Garden
from strawbell.model.season import (
    BatchSummary,
    Chances,
    CropSummary,
    FeedingDay,
    FeedingFate,
    FeedUse,
    Hint,
    Summary,
)
from strawbell.words.catalogue import Place
from strawbell.words.escaping import clean, clean_lines, cut, name, wrap
from strawbell.words.reasons import in_tens
from strawbell.words.voice import Voice

LABEL_COLUMN, LABEL_LIMIT = 14, 24
"""Width of what stands left of a fact, and the most it is widened to for a long name
[characters]."""
TEXT_LIMIT = 60
"""Longest note of a cost shown [characters]."""

Fact = tuple[str, str]
"""What a fact is about, and the fact."""


def summary_screen(found: Summary, garden: Garden) -> str:
    """Return the summary as `strawbell summary` prints it."""
    voice = Voice.of(garden, found.last)
    say, shown = voice.say, name(found.garden)
    if found.first is None:
        return clean_lines(say("summary.none", garden=shown) + "\n")
    told = wrap(journal_words(found, voice))
    season = say("summary.head", garden=shown, day=voice.tongue.long_day(found.last))
    parts = [f"{season}\n\n{told}"]

    def part(head: str, facts: Iterable[Fact]) -> None:
        parts.append(f"{head}\n{_lines(facts)}")

    for each in found.batches:
        part(batch_heading(each, voice), batch_facts(each, voice))
    if chances := chances_text(found.chances, voice):
        parts.append(chances)
    if found.feeds:
        part(say("summary.feed"), feed_facts(found.feeds, voice))
    part(say("summary.costs"), cost_facts(found, voice))
    hints = hint_sentences(found.hints, voice)
    said = "\n".join(wrap(hint, "  - ", "    ") for hint in hints)
    none = wrap(say("summary.no-hints"))
    parts.append(f"{say('summary.next')}\n{said}" if said else none)
    return clean_lines("\n\n".join(parts) + "\n")


def journal_words(found: Summary, voice: Voice) -> str:
    """Return since when the journal speaks, and on which days nothing could be told."""
    if found.kept_since is None:
        return voice.say("summary.not-kept")
    missed = found.not_told
    return voice.say(
        "summary.kept",
        mornings=found.mornings_told,
        since=voice.day(found.kept_since),
        missed=len(missed),
        first=voice.day(missed[0]) if missed else None,
    )


def chances_text(kept: Chances, voice: Voice) -> str:
    """Return how each chance that was told came out, with the needless holds; "" for none."""
    parts = []
    for of, chances in (("rain", kept.rain), ("freeze", kept.freeze)):
        facts = [
            (
                in_tens(each.tenths / 10, voice.tongue),
                voice.say(
                    "summary.chance",
                    of=of,
                    times=each.times,
                    came=each.came,
                    held=each.held,
                    needless=each.needless,
                ),
            )
            for each in chances
        ]
        if facts:
            parts.append(f"{voice.say('summary.chances', of=of)}\n{_lines(facts)}")
    return "\n\n".join(parts)


def batch_heading(each: BatchSummary, voice: Voice) -> str:
    """Return the name of a batch with its size and first day."""
    begun = voice.day(each.start_on)
    return voice.say("summary.batch", batch=name(each.batch), bales=each.bales, day=begun)


def batch_facts(each: BatchSummary, voice: Voice) -> tuple[Fact, ...]:
    """Return everything the journal says of a batch, one fact a line."""
    say, litres = voice.say, each.water_l
    water = None if litres is None else voice.measures.water(litres)
    facts = [
        (say("summary.feedings-label"), feeding_words(each, voice)),
        (say("summary.nitrogen-label"), _nitrogen(each, voice)),
        (say("summary.conditioning-label"), _conditioning(each, voice)),
        (say("summary.water-label"), say("summary.water", amount=water)),
        (say("summary.frost-label"), _nights(each, voice)),
        (say("summary.hot-label"), say("summary.hot-days", **_span(each.hot_dry_days, voice))),
        (say("summary.core-label"), _core(each, voice)),
        *((cut(name(crop.label), LABEL_LIMIT), crop_words(crop, voice)) for crop in each.crops),
    ]
    if each.spread_on is not None:
        spread = say("summary.straw", day=voice.day(each.spread_on))
        facts.append((say("summary.straw-label"), spread))
    return tuple(facts)


def feeding_words(each: BatchSummary, voice: Voice) -> str:
    """Return how many feedings were given, held and missed, in one line."""
    given, say = each.given, voice.say
    numbers = (
        (FeedingFate.CONFIRMED, "confirmed"),
        (FeedingFate.TOLD, "told"),
        (FeedingFate.SUPPOSED, "supposed"),
    )
    parts = (
        say(f"given.{row}", n=number)
        for fate, row in numbers
        if (number := sum(one.fate is fate for one in given))
    )
    return say(
        "summary.feedings",
        given=len(given),
        parts=voice.tongue.listing(parts),
        missed=len(each.missed),
        held=_held(each.held, voice),
    )


def _held(held: tuple[FeedingDay, ...], voice: Voice) -> str:
    rain = sum(one.held_for_rain for one in held)
    freeze = sum(one.held_for_freeze for one in held)
    both = sum(one.held_for_rain and one.held_for_freeze for one in held)
    waited = sum(one.unanswered for one in held)
    other = len(held) - rain - freeze + both - waited
    kinds = ((rain, "rain"), (freeze, "freeze"), (waited, "answer"), (other, "other"))
    parts = (voice.say(f"held.{row}", n=number) for number, row in kinds if number)
    return voice.say("summary.held", days=len(held), parts=voice.tongue.listing(parts), both=both)


def _nitrogen(each: BatchSummary, voice: Voice) -> str:
    known = [one.nitrogen_per_bale_g for one in each.given if one.nitrogen_per_bale_g is not None]
    total = sum(known) if each.nitrogen_per_bale_g is None else each.nitrogen_per_bale_g
    shown = voice.measures.mass(total) if each.given else None
    missing = 0 if each.nitrogen_per_bale_g is not None else len(each.given) - len(known)
    return voice.say("summary.nitrogen", known=shown, unknown=missing)


def _conditioning(each: BatchSummary, voice: Voice) -> str:
    done, planned = each.conditioned_on, each.conditioned_by_plan
    late = (done - planned).days if done and planned else 0
    return voice.say(
        "summary.conditioned",
        done=None if done is None else voice.day(done),
        planned=None if planned is None else voice.day(planned),
        late=max(late, 0),
    )


def _nights(each: BatchSummary, voice: Voice) -> str:
    ends = _span(each.frost_nights, voice)
    return voice.say("summary.nights", mild=len(each.mild_nights), **ends)


def _span(dates: tuple[date, ...], voice: Voice) -> dict[str, Place]:
    ends = (voice.day(dates[0]), voice.day(dates[-1])) if dates else (None, None)
    return {"n": len(dates), "first": ends[0], "last": ends[1]}


def _core(each: BatchSummary, voice: Voice) -> str:
    found = each.readings
    if found is None:
        return voice.say("summary.core", n=0, first=None, highest=None, last=None)
    first, highest, last = (
        voice.say(
            "summary.reading",
            warmth=voice.measures.temperature(one.temperature_c),
            day=voice.day(one.on),
        )
        for one in (found.first, found.highest, found.last)
    )
    return voice.say("summary.core", n=found.count, first=first, highest=highest, last=last)


def crop_words(crop: CropSummary, voice: Voice) -> str:
    """Return what became of a planting, with masses and pieces apart."""

    def day(on: date | None) -> str | None:
        return None if on is None else voice.day(on)

    planted, picked, last = crop.planted_on, crop.first_harvest_on, crop.last_harvest_on
    given_up = planted is None and crop.over_on is not None
    noted = voice.tongue.listing(harvest_amounts(crop.kg, crop.pieces, voice))
    return voice.say(
        "summary.crop",
        planted=day(planted),
        standing=crop.standing,
        over=day(crop.over_on),
        picked=day(picked),
        told=day(crop.picking_told_on),
        last=None if last == picked else day(last),
        noted="silent" if given_up else noted,
        harvests=crop.harvests,
    )


def harvest_amounts(kg: float | None, pieces: float | None, voice: Voice) -> tuple[str, ...]:
    """Return what was noted of a crop: its mass, its pieces, or both, never added up."""
    amounts = []
    if kg is not None:
        amounts.append(voice.measures.mass(kg * 1000))
    if pieces is not None:
        amounts.append(voice.say("back.pieces", count=round(pieces)))
    return tuple(amounts)


def feed_facts(feeds: Iterable[FeedUse], voice: Voice) -> tuple[Fact, ...]:
    """Return how much of each feed was given, and what that cost by its price."""
    return tuple(
        (
            cut(name(use.feed), LABEL_LIMIT),
            voice.say(
                "summary.feed-used",
                mass=voice.measures.mass(None if use.kg is None else use.kg * 1000),
                cost=None if use.cost is None else money(use.cost, voice),
            ),
        )
        for use in feeds
    )


def money(amount: float, voice: Voice) -> str:
    """Return an amount of money, whose currency nobody named."""
    return voice.tongue.number(amount, 2, padded=True)


def cost_facts(found: Summary, voice: Voice) -> tuple[Fact, ...]:
    """Return what was noted as spent, and its sum; feed by price is not in it."""
    say, total = voice.say, found.cost_noted
    if total is None:
        return ((say("summary.all-label"), say("summary.no-costs")),)
    lines = [
        (
            money(each.amount, voice),
            say(
                "summary.cost",
                day=voice.day(each.on),
                text=cut(clean(each.text), TEXT_LIMIT),
                batch=each.batch and name(each.batch),
            ),
        )
        for each in found.costs
    ]
    return (*lines, (money(total, voice), say("summary.cost-total")))


def hint_sentences(hints: Iterable[Hint], voice: Voice) -> tuple[str, ...]:
    """Return what to do differently, each with what the journal shows."""
    return tuple(_hint(hint, voice) for hint in hints)


def _hint(hint: Hint, voice: Voice) -> str:
    def number(figure: str) -> int:
        return round(hint.figures.get(figure, 0.0))

    said = voice.tongue.of(
        "hint",
        hint.code,
        late=number("late_days"),
        held=number("held_days"),
        number=number("day") if "day" in hint.figures else None,
        days=number("days"),
        on=None if hint.on is None else voice.day(hint.on),
        missed=number("missed"),
        given=number("given"),
        crop=name(hint.crop or ""),
        after=number("days_after") if "days_after" in hint.figures else None,
    )
    return voice.say("summary.hint", batch=name(hint.batch), hint=said) if hint.batch else said


def _lines(facts: Iterable[Fact]) -> str:
    facts = tuple(facts)
    wide = max((LABEL_COLUMN, *(len(label) for label, _ in facts)))
    return "\n".join(wrap(fact, f"  {label:<{wide}} ", " " * (wide + 3)) for label, fact in facts)
