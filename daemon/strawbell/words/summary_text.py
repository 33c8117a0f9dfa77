"""What a season came to, as text to skim; unknown is said, never 0."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date

from strawbell.model.garden import Garden
from strawbell.model.summary import (
    BatchSummary,
    ChanceKept,
    CropSummary,
    FeedingDay,
    FeedingFate,
    FeedUse,
    Hint,
    HintCode,
    Summary,
)
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import clean, clean_lines, count, cut, listing, name, wrap
from strawbell.words.reasons import in_tens
from strawbell.words.units import Measures
from strawbell.words.voice import Voice, day, long_day

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
    shown = name(found.garden)
    if found.first is None:
        return clean_lines(f"{shown}: no batch has begun yet.\n")
    parts = [f"{shown}, season so far, {long_day(found.last)}\n\n{wrap(journal_words(found))}"]
    for each in found.batches:
        facts = _lines(batch_facts(each, voice))
        parts.append(f"{batch_heading(each)}\n{facts}")
    if found.rain_chances:
        parts.append(f"Chances of heavy rain\n{_lines(chance_facts(found.rain_chances))}")
    if found.feeds:
        parts.append(f"Feed used\n{_lines(feed_facts(found.feeds, voice.measures))}")
    parts.append(f"Costs noted\n{_lines(cost_facts(found))}")
    hints = hint_sentences(found.hints)
    said = "\n".join(wrap(hint, "  - ", "    ") for hint in hints)
    parts.append(f"Next year\n{said}" if said else wrap(NO_HINTS))
    return clean_lines("\n\n".join(parts) + "\n")


NO_HINTS = "Next year: the journal shows nothing that should be done differently."
NOTHING_NOTED = "none; `strawbell record cost` keeps them"


def journal_words(found: Summary) -> str:
    """Return since when the journal speaks, and on which days nothing could be told."""
    if found.kept_since is None:
        return "No morning has been told yet: what follows is what the plan supposes."
    told = f"{count(found.mornings_told, 'morning')} told since {day(found.kept_since)}"
    if not found.not_told:
        return f"{told}; none was left out."
    days = count(len(found.not_told), "day")
    since = day(found.not_told[0])
    when = f"{since}" if len(found.not_told) == 1 else f"the first {since}"
    return f"{told}; nothing could be told on {days} ({when})."


def chance_facts(kept: tuple[ChanceKept, ...]) -> tuple[Fact, ...]:
    """Return how each chance that was told came out, and how many holds were for nothing."""
    facts = []
    for each in kept:
        mornings = count(each.times, "morning")
        said = f"told on {mornings}, and it rained so on {each.came}"
        if each.held:
            said += f"; {count(each.held, 'hold')}, {each.held_dry} of them needless"
        facts.append((in_tens(each.tenths / 10), said))
    return tuple(facts)


def batch_heading(each: BatchSummary) -> str:
    """Return the name of a batch with its size and first day."""
    return f"{name(each.batch)}: {count(each.bales, 'bale')}, begun {day(each.start_on)}"


def batch_facts(each: BatchSummary, voice: Voice) -> tuple[Fact, ...]:
    """Return everything the journal says of a batch, one fact a line."""
    measures = voice.measures
    facts = [
        ("Feedings", feeding_words(each)),
        ("Nitrogen", _nitrogen(each, measures)),
        ("Conditioning", _conditioning(each)),
        (
            "Water",
            "no amount was told"
            if each.water_l is None
            else f"{measures.water(each.water_l)} advised for all its bales together",
        ),
        ("Frost", _nights(each)),
        ("Hot and dry", _days(each.hot_dry_days, "day", "warned of")),
        ("Core", _core(each, measures)),
        *((cut(name(crop.label), LABEL_LIMIT), crop_words(crop, measures)) for crop in each.crops),
    ]
    if each.spread_on is not None:
        facts.append(("Straw", f"spread {day(each.spread_on)}"))
    return tuple(facts)


def feeding_words(each: BatchSummary) -> str:
    """Return how many feedings were given, held and missed, in one line."""
    given = each.given
    kinds = (
        (FeedingFate.CONFIRMED, "{} confirmed"),
        (FeedingFate.TOLD, "{} told"),
        (FeedingFate.SUPPOSED, "{} by plan before the journal"),
    )
    parts = [
        words.format(number)
        for fate, words in kinds
        if (number := sum(one.fate is fate for one in given))
    ]
    said = f"{len(given)} given" + (f" ({listing(parts)})" if parts else "")
    said += f"; {len(each.missed)} missed" if each.missed else "; none missed"
    return f"{said}; {_held(each.held)}"


def _held(held: tuple[FeedingDay, ...]) -> str:
    if not held:
        return "none held"
    rain = sum(one.held_for_rain for one in held)
    freeze = sum(one.held_for_freeze for one in held)
    both = sum(one.held_for_rain and one.held_for_freeze for one in held)
    waited = sum(one.unanswered for one in held)
    other = len(held) - rain - freeze + both - waited
    kinds = (
        (rain, "rain"),
        (freeze, "a freeze"),
        (waited, "want of your answer"),
        (other, "other reasons"),
    )
    parts = [f"{number} for {what}" for number, what in kinds if number]
    twice = f", {both} of them for both" if both else ""
    return f"held on {count(len(held), 'day')}: {listing(parts)}{twice}"


def _nitrogen(each: BatchSummary, measures: Measures) -> str:
    if not each.given:
        return "none given yet"
    total = each.nitrogen_per_bale_g
    if total is not None:
        return f"{measures.mass(total)} to each bale"
    known = [one.nitrogen_per_bale_g for one in each.given if one.nitrogen_per_bale_g is not None]
    unknown = len(each.given) - len(known)
    return (
        f"{measures.mass(sum(known))} to each bale, and that of "
        f"{count(unknown, 'feeding')} {BRITISH.say('amount.unknown')}"
    )


def _conditioning(each: BatchSummary) -> str:
    done, planned = each.conditioned_on, each.conditioned_by_plan
    if done is None:
        return "not done yet" + (f"; by plan until {day(planned)}" if planned else "")
    late = (done - planned).days if planned else 0
    if late <= 0:
        return f"done {day(done)}, as planned"
    return f"done {day(done)}, {count(late, 'day')} later than planned"


def _nights(each: BatchSummary) -> str:
    said = _days(each.frost_nights, "night", "warned of")
    return f"{said}; {len(each.mild_nights)} of them needless" if each.mild_nights else said


def _days(dates: tuple[date, ...], noun: str, verb: str) -> str:
    if not dates:
        return f"no {noun} {verb}"
    span = day(dates[0]) if len(dates) == 1 else f"{day(dates[0])} to {day(dates[-1])}"
    return f"{count(len(dates), noun)} {verb}, {span}"


def _core(each: BatchSummary, measures: Measures) -> str:
    if each.readings is None:
        return f"{BRITISH.say('amount.unknown')}: nothing was measured"
    found = each.readings
    if found.count == 1:
        only = found.first
        return f"1 reading: {measures.temperature(only.temperature_c)} on {day(only.on)}"
    said = (
        f"{what} {measures.temperature(one.temperature_c)} on {day(one.on)}"
        for what, one in (
            ("first", found.first),
            ("highest", found.highest),
            ("last", found.last),
        )
    )
    return f"{found.count} readings: {', '.join(said)}"


def crop_words(crop: CropSummary, measures: Measures) -> str:
    """Return what became of a planting, with masses and pieces apart."""
    if crop.planted_on is None and crop.over_on is not None:
        return f"not in the bales; given up on {day(crop.over_on)}"
    if crop.planted_on is None:
        return f"not in the bales yet{_noted(crop, measures)}"
    parts = [f"in the bales since {day(crop.planted_on)}" if crop.standing else _stood(crop)]
    if crop.first_harvest_on is not None:
        parts.append(f"first harvest {day(crop.first_harvest_on)}")
    elif crop.picking_told_on is not None:
        parts.append(f"picking told from {day(crop.picking_told_on)} on")
    if crop.last_harvest_on is not None and crop.last_harvest_on != crop.first_harvest_on:
        parts.append(f"last harvest {day(crop.last_harvest_on)}")
    return "; ".join(parts) + _noted(crop, measures)


def _stood(crop: CropSummary) -> str:
    since = BRITISH.say("amount.unknown") if crop.planted_on is None else day(crop.planted_on)
    over = BRITISH.say("amount.unknown") if crop.over_on is None else day(crop.over_on)
    return f"in the bales {since} to {over}"


def _noted(crop: CropSummary, measures: Measures) -> str:
    amounts = harvest_amounts(crop, measures)
    if not amounts:
        return "; harvest not noted"
    return f"; {listing(amounts)} noted in {count(crop.harvests, 'harvest')}"


def harvest_amounts(crop: CropSummary, measures: Measures) -> tuple[str, ...]:
    """Return what was noted of a crop: its mass, its pieces, or both, never added up."""
    amounts = []
    if crop.kg is not None:
        amounts.append(measures.mass(crop.kg * 1000))
    if crop.pieces is not None:
        amounts.append(count(round(crop.pieces), "piece"))
    return tuple(amounts)


def feed_facts(feeds: Iterable[FeedUse], measures: Measures) -> tuple[Fact, ...]:
    """Return how much of each feed was given, and what that cost by its price."""
    facts = []
    for use in feeds:
        mass = BRITISH.say("amount.unknown") if use.kg is None else measures.mass(use.kg * 1000)
        cost = "cost unknown" if use.cost is None else f"{use.cost:.2f} by the price of its package"
        facts.append((cut(name(use.feed), LABEL_LIMIT), f"{mass}, {cost}"))
    return tuple(facts)


def cost_facts(found: Summary) -> tuple[Fact, ...]:
    """Return what was noted as spent, and its sum; feed by price is not in it."""
    total = found.cost_noted
    if total is None:
        return (("All", NOTHING_NOTED),)
    lines = [
        (
            f"{each.amount:.2f}",
            f"{day(each.on)}, {cut(clean(each.text), TEXT_LIMIT)}"
            + (f" ({name(each.batch)})" if each.batch else ""),
        )
        for each in found.costs
    ]
    return (*lines, (f"{total:.2f}", "in all, without the feed above: that may be in it"))


def hint_sentences(hints: Iterable[Hint]) -> tuple[str, ...]:
    """Return what to do differently, each with what the journal shows."""
    return tuple(_hint(hint) for hint in hints)


def _hint(hint: Hint) -> str:
    said = _HINTS[hint.code](hint)
    return f"{name(hint.batch)}: {said}" if hint.batch else said


def _number(hint: Hint, figure: str) -> int:
    return round(hint.figures.get(figure, 0.0))


def _days_of(hint: Hint, figure: str = "days") -> str:
    return count(_number(hint, figure), "day")


def _held_by_freeze(hint: Hint) -> str:
    return (
        f"conditioning ended {_days_of(hint, 'late_days')} later than planned, with"
        f" {_days_of(hint, 'held_days')} of holds for a freeze. Start that much earlier, or after"
        " the frosts (`strawbell start-when` shows their dates)."
    )


def _held_by_rain(hint: Hint) -> str:
    return (
        f"conditioning ended {_days_of(hint, 'late_days')} later than planned, with"
        f" {_days_of(hint, 'held_days')} of holds for rain. Leave room for it in the plan, or keep"
        " a cover at hand so that feed is not washed out."
    )


def _held_in_a_row(hint: Hint) -> str:
    which = f"the feeding of day {_number(hint, 'day')}" if "day" in hint.figures else "a feeding"
    since = f" from {day(hint.on)} on" if hint.on else ""
    return (
        f"{which} waited {_days_of(hint)} in a row{since}. A start a week or two away from such"
        " weather would keep the sequence together."
    )


def _unanswered(hint: Hint) -> str:
    return (
        f"the sequence waited {_days_of(hint)} for your answer about a feeding that could not be"
        " told. Each brief asks; one `strawbell record done` or `record missed` moves it on."
    )


def _missed(hint: Hint) -> str:
    missed, given = _number(hint, "missed"), _number(hint, "given")
    return (
        f"{count(missed, 'feeding')} missed beside {given} given. Have feed and time ready before"
        " the first day (`strawbell supplies`), or set `[times] morning` to when you are there."
    )


def _planted_late(hint: Hint) -> str:
    return (
        f"{name(hint.crop or '')} went in {_days_of(hint, 'late_days')} after the wished date."
        " Start conditioning that much earlier."
    )


def _autumn_frost(hint: Hint) -> str:
    crop = name(hint.crop or "")
    when = f", {day(hint.on)}" if hint.on else ""
    better = "Start earlier next year, take a faster sort, or keep covers ready."
    if "days_after" in hint.figures:
        days = _days_of(hint, "days_after")
        return f"{crop} was in use for {days} after the first frost of autumn{when}. {better}"
    return f"{crop} was still in the bales at the first frost of autumn{when}. {better}"


def _hot_tops(hint: Hint) -> str:
    return (
        f"{_days_of(hint)} dried out the tops. Mulch them after the first weeks, or lay a drip"
        " line on a timer."
    )


def _hot_tops_mulched(hint: Hint) -> str:
    return f"{_days_of(hint)} dried out the tops although mulched. A drip line would carry them."


def _not_measured(hint: Hint) -> str:
    del hint
    return (
        "planting waited for a core that was computed only. A probe thermometer settles it in a"
        " minute (`strawbell record temperature`)."
    )


def _not_told(hint: Hint) -> str:
    return (
        f"On {_days_of(hint)} nothing could be told. Let Strawbell run where it is always on"
        " (`strawbell unit`)."
    )


_HINTS: Mapping[HintCode, Callable[[Hint], str]] = {
    HintCode.HELD_BY_FREEZE: _held_by_freeze,
    HintCode.HELD_BY_RAIN: _held_by_rain,
    HintCode.HELD_IN_A_ROW: _held_in_a_row,
    HintCode.UNANSWERED: _unanswered,
    HintCode.FEEDINGS_MISSED: _missed,
    HintCode.PLANTED_LATE: _planted_late,
    HintCode.AUTUMN_FROST: _autumn_frost,
    HintCode.HOT_TOPS: _hot_tops,
    HintCode.HOT_TOPS_MULCHED: _hot_tops_mulched,
    HintCode.NOT_MEASURED: _not_measured,
    HintCode.NOT_TOLD: _not_told,
}


def _lines(facts: Iterable[Fact]) -> str:
    facts = tuple(facts)
    wide = max((LABEL_COLUMN, *(len(label) for label, _ in facts)))
    return "\n".join(wrap(fact, f"  {label:<{wide}} ", " " * (wide + 3)) for label, fact in facts)
