"""Every reason as one sentence, as a neighbour would say it; its numbers stand in `why`."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from datetime import time

from strawbell.model.brief import Reason, ReasonCode
from strawbell.words.units import UNKNOWN
from strawbell.words.voice import Voice

TEN = 10
WARM_HOURS = (time(11), time(15))
"""The warmest hours of a day of early spring (common practice)."""


def reason_sentence(reason: Reason, voice: Voice) -> str:
    """Return one reason as a sentence; numbers that are not known are left out."""
    return _SENTENCES[reason.code](reason, voice)


def reason_sentences(reasons: Iterable[Reason], voice: Voice) -> tuple[str, ...]:
    """Return the reasons as sentences, each of them once."""
    return tuple(dict.fromkeys(reason_sentence(reason, voice) for reason in reasons))


def gravest_frost(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return the reasons, of those of the same frost only the one with the highest limit.

    All are covered; the same night told once for each crop would be noise.
    """
    kept: dict[object, Reason] = {}
    for reason in reasons:
        same: object = reason
        if reason.code is ReasonCode.FROST:
            same = (reason.code, reason.value, reason.at)
            before = kept.get(same)
            if before is not None and (before.threshold or 0.0) >= (reason.threshold or 0.0):
                continue
        kept[same] = reason
    return tuple(kept.values())


def in_tens(chance: float) -> str:
    """Return a chance in tens, as people read it best: "about 3 in 10"; never none, never all."""
    tens = tens_of(chance)
    if tens < 1:
        return "fewer than 1 in 10"
    return f"about {tens} in 10" if tens < TEN else "more than 9 in 10"


def tens_of(chance: float) -> int:
    """Return a chance as a count in ten."""
    return round(chance * TEN)


def reason_headline(reason: Reason, voice: Voice) -> str:
    """Return a reason in a few words for a subject: "frost tonight", "heavy rain on the way"."""
    words = _HEADLINES[reason.code]
    if reason.at is not None and reason.code in _TIMED:
        return f"{words} {voice.about(reason.at)}"
    return words


def chance_figure(reason: Reason) -> tuple[str, str] | None:
    """Return a chance as a large figure and what it is of, None where none is known."""
    if reason.chance is None or not 1 <= tens_of(reason.chance) < TEN:
        return None
    what = {ReasonCode.HEAVY_RAIN: "for heavy rain", ReasonCode.FREEZE: "for frost"}
    said = what.get(reason.code)
    return None if said is None else (f"{tens_of(reason.chance)} in 10", said)


def number_of(value: float | None, unit: str, voice: Voice) -> str:
    """Return a reason's number in the grower's units, from the unit the reason names."""
    measures = voice.measures
    shown: dict[str, Callable[[float | None], str]] = {
        "mm": measures.rain,
        "degC": measures.temperature,
        "percent": measures.percent,
        "h": measures.hours,
        "g": measures.mass,
        "L": measures.water,
        "cm": measures.length,
    }
    if unit == "day":
        return measures.number(value, 0)
    if unit in shown:
        return shown[unit](value)
    plain = measures.number(value, 1)
    return plain if not unit or plain == UNKNOWN else measures.joined(plain, unit)


def _about(reason: Reason, voice: Voice) -> str:
    """Return the value of a reason as it is said: degrees and millimetres whole."""
    if reason.value is None:
        return ""
    if reason.unit == "degC":
        whole = voice.measures.whole_degrees(reason.value)
        return voice.measures.joined(whole, voice.measures.degree_unit)
    if reason.unit == "mm":
        return voice.measures.whole_rain(reason.value)
    return number_of(reason.value, reason.unit, voice)


def _limit(reason: Reason, voice: Voice) -> str:
    if reason.threshold is None:
        return ""
    if reason.unit == "mm":
        return voice.measures.whole_rain(reason.threshold)
    return number_of(reason.threshold, reason.unit, voice)


def below(limit_c: float, voice: Voice) -> str:
    """Return a temperature to stay below, in whole degrees and never above it: "37 °C"."""
    shown = limit_c * 1.8 + 32 if voice.measures.us else limit_c
    return voice.measures.joined(str(math.floor(shown)), voice.measures.degree_unit)


def _at(reason: Reason, voice: Voice) -> str:
    return "" if reason.at is None else f" {voice.at(reason.at)}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _heavy_rain(reason: Reason, voice: Voice) -> str:
    end = voice.horizon(voice.rules.rain_look_ahead_h)
    washes = "it would wash feed out of the bales"
    if reason.unit == "percent":
        return f"Rain is likely by {end}; {washes}."
    if reason.chance is None:
        return f"Heavy rain by {end}{_in_brackets(_about(reason, voice))}; {washes}."
    limit = _limit(reason, voice)
    much = f" ({limit} or more)" if limit else ""
    said = _sentence(f"{in_tens(reason.chance)} for heavy rain{much} by {end}; {washes}")
    return said + _wait(reason)


def _in_brackets(text: str) -> str:
    return f" ({text})" if text else ""


def _rain_possible(reason: Reason, voice: Voice) -> str:
    end = voice.horizon(voice.rules.rain_look_ahead_h)
    chance = reason.chance or 0.0
    is_likely = chance * 100.0 >= voice.rules.rain_hold_chance_percent
    why = "but the feed has waited long enough" if is_likely else "too little to wait for"
    return _sentence(f"{in_tens(chance)} for heavy rain by {end}, {why}")


def _under_tarp(reason: Reason, voice: Voice) -> str:
    end = voice.horizon(voice.rules.rain_look_ahead_h)
    chance = "heavy rain" if reason.chance is None else f"{in_tens(reason.chance)} for heavy rain"
    return _sentence(f"{chance} by {end}: feed before it comes, and the tarp keeps it off")


def _freeze(reason: Reason, voice: Voice) -> str:
    cold = _in_brackets(_about(reason, voice))
    idle = "frozen straw takes up neither feed nor water"
    frost = "frost" if reason.chance is None else f"{in_tens(reason.chance)} for frost"
    return _sentence(f"{frost}{cold}{_at(reason, voice)}; {idle}") + _wait(reason)


def _warm_hours(reason: Reason, voice: Voice) -> str:
    cold, (first, last) = _in_brackets(_about(reason, voice)), WARM_HOURS
    between = f"between {voice.clock(first)} and {voice.clock(last)}"
    return f"Frost{cold}{_at(reason, voice)}: do it {between}, in the warmest hours."


def _wait(reason: Reason) -> str:
    """Return what a day of waiting costs, where that is known."""
    if reason.wait_costs_days is None:
        return ""
    return (
        " Waiting puts all that follows back a day."
        if reason.wait_costs_days
        else (" Waiting costs you nothing yet.")
    )


def _frozen(_reason: Reason, _voice: Voice) -> str:
    return "The bales are frozen: they take up neither feed nor water."


def _frost(reason: Reason, voice: Voice) -> str:
    cold = _about(reason, voice)
    on_leaves = f"about {cold} on the leaves" if cold else "frost on the leaves"
    if reason.chance is not None:
        cold = _in_brackets(cold)
        on_leaves = f"{in_tens(reason.chance)} for frost on the leaves{cold}"
    return _sentence(f"{on_leaves}{_at(reason, voice)}")


def _frost_later(reason: Reason, voice: Voice) -> str:
    when = "" if reason.at is None else f" {voice.day_said(voice.local(reason.at).date())}"
    likely = "Frost is possible" if reason.chance is None else f"{in_tens(reason.chance)} for frost"
    return _sentence(f"{likely}{when}, too far off to wait for: keep fleece at hand")


def _hot_dry(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    if reason.unit == "mm":
        return f"Hardly any rain{_in_brackets(value)}."
    if reason.unit == "h":
        return f"Unwatered, the top stays damp for about {value or UNKNOWN}."
    return f"{value or 'Heat'} and no rain: unwatered, the top dries out in a day."


def _heat(reason: Reason, voice: Voice) -> str:
    """Return the heat of a day for plants, or, where its hour is known, as people feel it."""
    value = _about(reason, voice)
    if reason.at is not None:
        return f"It may feel like {value or 'great heat'}{_at(reason, voice)}."
    return f"{value or 'Heat'}: more than these plants like."


def _no_forecast(_reason: Reason, _voice: Voice) -> str:
    return "I've had no forecast."


def _stale_forecast(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    return f"My last forecast is {value} old." if value else "My last forecast is too old."


def _rain_unknown(_reason: Reason, _voice: Voice) -> str:
    return "The forecast leaves some hours of rain open: look at the sky first."


def _temperature_unknown(_reason: Reason, _voice: Voice) -> str:
    return "The forecast leaves some hours of cold open: look at a thermometer first."


def _too_hot_inside(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice) or "too hot"
    limit = reason.threshold
    safe = "" if limit is None else f"; roots are safe below {below(limit, voice)}"
    return f"It's {value} inside{safe}."


def _self_heating(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    return f"{value or 'Very hot'} inside: hot enough to smoulder."


def _not_told(_reason: Reason, _voice: Voice) -> str:
    return "I couldn't tell you on its day, so it counts as not done until you answer."


def _missed(_reason: Reason, _voice: Voice) -> str:
    return "You noted it as not done, so it's due again."


def _taken_back(_reason: Reason, _voice: Voice) -> str:
    return "I called for it, then took it back. Did it all the same? Note it as done."


def _unanswered(_reason: Reason, _voice: Voice) -> str:
    return "It was due before. Done already? Say so, and give nothing more: too much burns roots."


def _held_long(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    return f"It has waited {value} days." if value else "It has waited long."


def _first_weeks(_reason: Reason, _voice: Voice) -> str:
    return "Young roots still sit in the top of the bale and dry out with it."


def _not_ready(reason: Reason, voice: Voice) -> str:
    if reason.unit == "day":  # As older journals have it.
        return _short_of_days(reason, voice)
    value, limit = _about(reason, voice), reason.threshold
    hot = f"Probably still about {value} inside" if value else "Still hot inside"
    return f"{hot}; plant {'later' if limit is None else f'below {below(limit, voice)}'}."


def _short_of_days(reason: Reason, voice: Voice) -> str:
    value, limit = _about(reason, voice), _limit(reason, voice)
    if not value or not limit:
        return "The straw hasn't had its mild days yet."
    return f"The straw has had at most {value} of the {limit} mild days it needs."


def _feel_first(reason: Reason, voice: Voice) -> str:
    value, limit = _about(reason, voice), reason.threshold
    hot = f"about {value}" if value else "hot"
    cool = "body heat" if limit is None else below(limit, voice)
    return f"It may still be {hot} inside: feel or measure first, and plant only below {cool}."


def _washed_out(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    if reason.unit == "mm":
        return f"{value or 'Heavy rain'} fell on fresh feed and took part of it."
    return f"Rain has probably taken about {value or 'part'} of what you gave."


def _chilly_nights(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    return f"Nights {f'near {value}' if value else 'this cold'} would set them back for weeks."


def _cold_bed(reason: Reason, voice: Voice) -> str:
    value = _about(reason, voice)
    return f"The bed stays {f'at {value} or less' if value else 'cold'}; seed would rot in it."


def _season_over(reason: Reason, voice: Voice) -> str:
    value, left = _about(reason, voice), _limit(reason, voice)
    if not value or not left:
        return "Put in now it would come too late."
    frost = "is past" if reason.threshold == 0 else f"is due in about {left} days"
    return f"It needs {value} days to the first picking, and the first frost {frost}."


def _killing_ahead(reason: Reason, voice: Voice) -> str:
    cold = _in_brackets(_about(reason, voice))
    return f"A killing frost{cold}{_at(reason, voice)}: feed would be wasted."


_SENTENCES: Mapping[ReasonCode, Callable[[Reason, Voice], str]] = {
    ReasonCode.HEAVY_RAIN: _heavy_rain,
    ReasonCode.RAIN_POSSIBLE: _rain_possible,
    ReasonCode.UNDER_TARP: _under_tarp,
    ReasonCode.FREEZE: _freeze,
    ReasonCode.WARM_HOURS: _warm_hours,
    ReasonCode.FROZEN: _frozen,
    ReasonCode.FROST: _frost,
    ReasonCode.FROST_LATER: _frost_later,
    ReasonCode.HOT_DRY: _hot_dry,
    ReasonCode.HEAT: _heat,
    ReasonCode.NO_FORECAST: _no_forecast,
    ReasonCode.STALE_FORECAST: _stale_forecast,
    ReasonCode.RAIN_UNKNOWN: _rain_unknown,
    ReasonCode.TEMPERATURE_UNKNOWN: _temperature_unknown,
    ReasonCode.TOO_HOT_INSIDE: _too_hot_inside,
    ReasonCode.SELF_HEATING: _self_heating,
    ReasonCode.NOT_TOLD: _not_told,
    ReasonCode.MISSED: _missed,
    ReasonCode.TAKEN_BACK: _taken_back,
    ReasonCode.UNANSWERED: _unanswered,
    ReasonCode.HELD_LONG: _held_long,
    ReasonCode.FIRST_WEEKS: _first_weeks,
    ReasonCode.NOT_READY: _not_ready,
    ReasonCode.SHORT_OF_DAYS: _short_of_days,
    ReasonCode.FEEL_FIRST: _feel_first,
    ReasonCode.WASHED_OUT: _washed_out,
    ReasonCode.CHILLY_NIGHTS: _chilly_nights,
    ReasonCode.COLD_BED: _cold_bed,
    ReasonCode.SEASON_OVER: _season_over,
    ReasonCode.KILLING_AHEAD: _killing_ahead,
}

_HEADLINES: Mapping[ReasonCode, str] = {
    ReasonCode.HEAVY_RAIN: "heavy rain on the way",
    ReasonCode.RAIN_POSSIBLE: "rain possible",
    ReasonCode.UNDER_TARP: "the tarp keeps rain off",
    ReasonCode.FREEZE: "frost",
    ReasonCode.WARM_HOURS: "frost after a warm day",
    ReasonCode.FROZEN: "frozen bales",
    ReasonCode.FROST: "frost",
    ReasonCode.FROST_LATER: "frost possible",
    ReasonCode.HOT_DRY: "hot and dry",
    ReasonCode.HEAT: "heat",
    ReasonCode.NO_FORECAST: "no forecast",
    ReasonCode.STALE_FORECAST: "no forecast",
    ReasonCode.RAIN_UNKNOWN: "rain unknown",
    ReasonCode.TEMPERATURE_UNKNOWN: "cold unknown",
    ReasonCode.TOO_HOT_INSIDE: "too hot inside",
    ReasonCode.SELF_HEATING: "very hot inside",
    ReasonCode.NOT_TOLD: "a question first",
    ReasonCode.MISSED: "missed before",
    ReasonCode.TAKEN_BACK: "taken back",
    ReasonCode.UNANSWERED: "not answered",
    ReasonCode.HELD_LONG: "up to you now",
    ReasonCode.FIRST_WEEKS: "young roots",
    ReasonCode.NOT_READY: "still hot inside",
    ReasonCode.SHORT_OF_DAYS: "straw not ready",
    ReasonCode.FEEL_FIRST: "feel inside first",
    ReasonCode.WASHED_OUT: "washed out",
    ReasonCode.CHILLY_NIGHTS: "nights too cold",
    ReasonCode.COLD_BED: "bed too cold",
    ReasonCode.SEASON_OVER: "too late this year",
    ReasonCode.KILLING_AHEAD: "killing frost",
}

_TIMED = frozenset({ReasonCode.FREEZE, ReasonCode.FROST, ReasonCode.HOT_DRY, ReasonCode.HEAT})
