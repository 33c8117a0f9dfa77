"""Every reason as a plain sentence with the numbers it rests on."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from types import MappingProxyType

from strawbell.model.brief import Reason, ReasonCode
from strawbell.words.units import UNKNOWN
from strawbell.words.voice import Voice

TEN = 10


def reason_sentence(reason: Reason, voice: Voice) -> str:
    """Return one reason as a sentence; numbers that are not known are left out."""
    return _SENTENCES[reason.code](reason, voice)


def reason_sentences(reasons: Iterable[Reason], voice: Voice) -> tuple[str, ...]:
    """Return the reasons as sentences, each of them once."""
    return tuple(dict.fromkeys(reason_sentence(reason, voice) for reason in reasons))


def in_tens(chance: float) -> str:
    """Return a chance in tens, as people read it best: "about 3 in 10"; never none, never all."""
    tens = round(chance * TEN)
    if tens < 1:
        return "fewer than 1 in 10"
    return f"about {tens} in 10" if tens < TEN else "more than 9 in 10"


def reason_headline(reason: Reason, voice: Voice) -> str:
    """Return a reason in two or three words for a subject line: "frost tonight"."""
    words = _HEADLINES[reason.code]
    if reason.at is not None and reason.code in _TIMED:
        return f"{words} {voice.about(reason.at)}"
    return words


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


def _value(reason: Reason, voice: Voice) -> str:
    return "" if reason.value is None else number_of(reason.value, reason.unit, voice)


def _threshold(reason: Reason, voice: Voice) -> str:
    return "" if reason.threshold is None else number_of(reason.threshold, reason.unit, voice)


def _at(reason: Reason, voice: Voice, before: str = " ") -> str:
    return "" if reason.at is None else f"{before}{voice.at(reason.at)}"


def _heavy_rain(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    if reason.unit == "percent":
        rule = f"; from {limit} on it counts" if limit else ""
        return f"Rain: the chance of it reaches {value or UNKNOWN}{rule}."
    hours = voice.measures.hours(voice.rules.rain_look_ahead_h)
    if reason.chance is None:
        most = _at(reason, voice, ", heaviest ")
        rule = f"; from {limit} on" if limit else "; so much"
        return (
            f"Heavy rain: {value or 'much rain'} expected within {hours}{most}{rule} "
            "a feeding would be washed out of the bales."
        )
    said = f" ({value} expected{_at(reason, voice, ', heaviest ')})" if value else ""
    return (
        f"Heavy rain: {in_tens(reason.chance)} for {limit or 'much'} or more within {hours}{said}; "
        f"from {_wait_from(voice)} on a feeding waits, so as not to be washed out.{_wait(reason)}"
    )


def _rain_possible(reason: Reason, voice: Voice) -> str:
    limit, hours = _threshold(reason, voice), voice.measures.hours(voice.rules.rain_look_ahead_h)
    likely = in_tens(reason.chance or 0.0)
    if (reason.chance or 0.0) * 100.0 >= voice.rules.rain_hold_chance_percent:
        return (
            f"Rain: {likely} for {limit or 'much'} or more within {hours}, but the feeding has "
            "waited long enough: longer costs the bale more than the rain takes."
        )
    return (
        f"Rain: {likely} for {limit or 'much'} or more within {hours}; "
        f"a feeding waits from {_wait_from(voice)} on."
    )


def _wait_from(voice: Voice) -> str:
    """Return the chance from which a feeding waits, as a count in ten."""
    return in_tens(voice.rules.rain_hold_chance_percent / 100.0).removeprefix("about ")


def _freeze(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    rule = f"at or under {limit}" if limit else "in a freeze"
    what = f"{value} expected" if value else "a freeze is expected"
    likely = "" if reason.chance is None else f", {in_tens(reason.chance)} for a freeze"
    wait = _wait(reason)
    return f"Frost: {what}{_at(reason, voice)}{likely}; {rule} a feeding waits a day.{wait}"


def _warm_hours(reason: Reason, voice: Voice) -> str:
    value = _value(reason, voice)
    what = f"{value} expected" if value else "a freeze is expected"
    return (
        f"Frost: {what}{_at(reason, voice)}; do it in the warm hours, between late morning and "
        "mid-afternoon."
    )


def _wait(reason: Reason) -> str:
    """Return what a day of waiting costs, where that is known."""
    if reason.wait_costs_days is None:
        return ""
    if not reason.wait_costs_days:
        return " The wait costs nothing: the feed takes the next day of water."
    return " The wait moves all that follows by a day."


def _frozen(reason: Reason, voice: Voice) -> str:
    value = _value(reason, voice)
    cold = f" at {value}" if value and reason.unit == "degC" else ""
    return (
        f"Frozen: the bales stand frozen{cold}{_at(reason, voice)}; frozen straw takes up "
        "neither feed nor water, and the days of conditioning stand still."
    )


def _frost(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"leaves may cool to {value}" if value else "it is expected"
    likely = "" if reason.chance is None else f", {in_tens(reason.chance)} for a frost on them"
    rule = f"; at or under {limit} they are hurt" if limit else ""
    return f"Frost on the plants: {what}{_at(reason, voice)}{likely}{rule}."


def _frost_later(reason: Reason, voice: Voice) -> str:
    value = _value(reason, voice)
    what = f"leaves may cool to {value}" if value else "plants may freeze"
    likely = "" if reason.chance is None else f", {in_tens(reason.chance)} for a frost on them"
    return (
        f"A frost further ahead: {what}{_at(reason, voice)}{likely}. To wait for it would cost "
        "more than a night under fleece: keep some at hand."
    )


def _hot_dry(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    if reason.unit == "mm":
        rule = f"; under {limit} the day counts as dry" if limit else ""
        return f"Dry: {value or UNKNOWN} of rain expected{rule}."
    if reason.unit == "h":
        return f"Dry top: the top of the bales lasts about {value or UNKNOWN} without water."
    what = f"{value} expected" if value else "it is expected"
    rule = f"; from {limit} on, without rain, " if limit else "; without rain "
    return f"Hot and dry: {what}{_at(reason, voice)}{rule}the top of a bale dries out in a day."


def _heat(reason: Reason, voice: Voice) -> str:
    """Return the heat of a day for plants, or, where its hour is known, as people feel it."""
    value, limit = _value(reason, voice), _threshold(reason, voice)
    felt = reason.at is not None
    what = f"{'it may feel like' if felt else 'up to'} {value}{'' if felt else ' expected'}"
    rule = f"; from {limit} on it strains {'people' if felt else 'these plants'}" if limit else ""
    return f"Heat: {what if value else 'it is expected'}{_at(reason, voice)}{rule}."


def _no_forecast(_reason: Reason, _voice: Voice) -> str:
    return "No forecast could be had, so nothing was held or warned of by the weather."


def _stale_forecast(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    age = f"is {value} old" if value else "is too old"
    rule = f"; over {limit} it is not decided on" if limit else "; it is not decided on"
    return f"The last forecast {age}{rule}, so nothing was held or warned of by the weather."


def _rain_unknown(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    known = f" ({value} in the hours that are known)" if value else ""
    rule = f" against {limit}" if limit else ""
    return (
        f"Rain unknown: the forecast has no rain for some hours{known}, so it could not be "
        f"judged{rule}. Unknown is not dry: look at the sky."
    )


def _temperature_unknown(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    known = f" ({value} at the extreme of the known ones)" if value else ""
    rule = f" against {limit}" if limit else ""
    return (
        f"Temperature unknown: the forecast has none for some hours{known}, so it could not be "
        f"judged{rule}. Unknown is not warm: look at a thermometer."
    )


def _too_hot_inside(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"{value} in the middle of the bale" if value else "the middle of the bale is hot"
    rule = f"; roots are safe under {limit}" if limit else "; roots would be scalded"
    return f"Too hot inside: {what}{rule}."


def _self_heating(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"{value} in the middle of the bale" if value else "the bale is very hot inside"
    rule = f"; from {limit} on straw is watched for self-heating" if limit else ""
    return f"Self-heating: {what}{rule}."


def _not_told(_reason: Reason, _voice: Voice) -> str:
    return (
        "Not told: this feeding could not be told on its day; it counts as not done until you "
        "answer."
    )


def _missed(_reason: Reason, _voice: Voice) -> str:
    return "Recorded as missed: it is due again, and what follows moves with it."


def _unanswered(reason: Reason, voice: Voice) -> str:
    del reason, voice
    return (
        "It was due before, and you have not said that it was done. If it was, say so and give "
        "nothing more: twice too much salts the roots."
    )


def _taken_back(_reason: Reason, _voice: Voice) -> str:
    return (
        "Taken back: it was told as due on an earlier morning and held later that day; if you did "
        "it all the same, record it as done."
    )


def _held_long(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    days = f"{value} days" if value else "a long time"
    rule = f"; from {limit} days on the decision is yours" if limit else "; the decision is yours"
    return f"Held for {days}{rule}."


def _first_weeks(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    if value and limit:
        which = f" (day {value}; until day {limit})"
    else:
        which = f" (day {value})" if value else ""
    return f"First weeks{which}: young roots are still in the top of the bale and dry out with it."


def _not_ready(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    if reason.unit == "day":  # As older journals have it.
        return _short_of_days(reason, voice)
    what = f"{value} in the middle by the model" if value else "the bale is still at work"
    rule = f"; plant under {limit} and falling" if limit else ""
    return f"Not ready: {what}{rule}."


def _short_of_days(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"at most {value} days" if value else "too few days"
    rule = f"; {limit} are needed" if limit else ""
    return f"Too little conditioning: so far it counts for {what} of mild weather{rule}."


def _feel_first(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    about = f"may still be about {value} inside" if value else "may still be hot inside"
    return (
        f"By the model the bale {about}, and nobody has measured: put a probe or a finger in "
        f"first, and plant only under {limit or 'body heat'}."
    )


def _washed_out(reason: Reason, voice: Voice) -> str:
    value = _value(reason, voice)
    if reason.unit == "mm":
        return f"Washed out: {value or 'much'} of rain fell on a feeding and took part of it away."
    share = f"about {value}" if value else "part"
    return f"Washed out: {share} of what was fed went with the rain, by a rough estimate."


def _chilly_nights(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"the lows of the coming week lie about {value}" if value else "cold ones are coming"
    rule = f"; from about {limit} on tender plants go out" if limit else ""
    return (
        f"Chilly nights: {what}{rule}. Colder ones do not kill them, but set them back for weeks."
    )


def _cold_bed(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"at most about {value} in the coming week" if value else "seed would not come up"
    rule = f"; this seed comes up from {limit} on" if limit else ""
    return f"Cold bed: {what}{rule}, and rots in the cold."


def _season_over(reason: Reason, voice: Voice) -> str:
    value, left = _value(reason, voice), _threshold(reason, voice)
    needs = f"it takes at least {value} days to the first picking" if value else "it comes too late"
    when = f", and the first freeze is reckoned with in {left} days" if left else ""
    if reason.threshold == 0:
        when = ", and the first freeze is reckoned to be over"
    return f"Season over: put in now, {needs}{when}."


def _killing_ahead(reason: Reason, voice: Voice) -> str:
    value, limit = _value(reason, voice), _threshold(reason, voice)
    what = f"{value} expected" if value else "it is expected"
    rule = (
        f"; at or under {limit} it kills what is fed, and the feed would be wasted" if limit else ""
    )
    return f"Killing freeze: {what}{_at(reason, voice)}{rule}."


_SENTENCES: MappingProxyType[ReasonCode, Callable[[Reason, Voice], str]] = MappingProxyType(
    {
        ReasonCode.HEAVY_RAIN: _heavy_rain,
        ReasonCode.RAIN_POSSIBLE: _rain_possible,
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
)

_HEADLINES: MappingProxyType[ReasonCode, str] = MappingProxyType(
    {
        ReasonCode.HEAVY_RAIN: "heavy rain",
        ReasonCode.RAIN_POSSIBLE: "rain possible",
        ReasonCode.FREEZE: "frost",
        ReasonCode.WARM_HOURS: "frost, in the warm hours",
        ReasonCode.FROZEN: "bales frozen",
        ReasonCode.FROST: "frost",
        ReasonCode.FROST_LATER: "frost further ahead",
        ReasonCode.HOT_DRY: "hot and dry",
        ReasonCode.HEAT: "heat",
        ReasonCode.NO_FORECAST: "no forecast",
        ReasonCode.STALE_FORECAST: "forecast too old",
        ReasonCode.RAIN_UNKNOWN: "rain unknown",
        ReasonCode.TEMPERATURE_UNKNOWN: "temperature unknown",
        ReasonCode.TOO_HOT_INSIDE: "too hot inside",
        ReasonCode.SELF_HEATING: "self-heating",
        ReasonCode.NOT_TOLD: "not told in time",
        ReasonCode.MISSED: "was missed",
        ReasonCode.TAKEN_BACK: "was taken back",
        ReasonCode.UNANSWERED: "not answered",
        ReasonCode.HELD_LONG: "held long, your decision",
        ReasonCode.FIRST_WEEKS: "first weeks",
        ReasonCode.NOT_READY: "not ready",
        ReasonCode.SHORT_OF_DAYS: "too little conditioning",
        ReasonCode.FEEL_FIRST: "feel inside first",
        ReasonCode.WASHED_OUT: "washed out",
        ReasonCode.CHILLY_NIGHTS: "chilly nights",
        ReasonCode.COLD_BED: "bed too cold",
        ReasonCode.SEASON_OVER: "its season is over",
        ReasonCode.KILLING_AHEAD: "killing freeze",
    }
)

_TIMED = frozenset(
    {
        ReasonCode.HEAVY_RAIN,
        ReasonCode.FREEZE,
        ReasonCode.FROST,
        ReasonCode.HOT_DRY,
        ReasonCode.HEAT,
    }
)
