"""The whole brief in words, once, in the order in which it is read; text and HTML lay it out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from shlex import quote

from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    BatchOutlook,
    Brief,
    DayAhead,
    Question,
    ReasonCode,
    State,
    Task,
)
from strawbell.model.details import (
    CoreEstimate,
    DryTopDetail,
    MakeUpEstimate,
    NitrogenEstimate,
)
from strawbell.model.forecast import DayWeather, ForecastStatus, ForecastUse
from strawbell.model.garden import Garden
from strawbell.words.advice import (
    TaskWords,
    brief_words,
    look_yourself,
    short_word,
    task_words,
)
from strawbell.words.alerts import AlertWords, merged_alerts
from strawbell.words.cautions import CautionWords, caution_list
from strawbell.words.escaping import clean, cut, listing, name
from strawbell.words.figures import band
from strawbell.words.merge import MergedTask, merge_tasks
from strawbell.words.preparing import PreparingWords, none_planned, preparing_words
from strawbell.words.reasons import reason_sentences
from strawbell.words.succession import crowding_headline, crowding_sentences
from strawbell.words.voice import Voice, clock, day, days_joined

NOTHING_TO_DO = "Nothing to do today"
NO_WORK = "nothing planned"
SAME_REASON = "For the same reason as above."
UNCHECKED = "Not checked against the weather: look yourself first, as said below."
PROJECTION = "a projection: it moves with the weather and with what you record"
MOST_TASKS = 2
"""Most tasks named in a subject."""
GARDEN_LIMIT = 40
"""Longest name of the garden in a subject [characters]."""
LINK_LIMIT = 300
"""Longest link of an attribution that is shown [characters]."""


@dataclass(frozen=True, slots=True)
class DayWords:
    """A day ahead: its date, its weather and its tasks in words."""

    on: date
    weather: str
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuestionWords:
    """A feeding that could not be told, and how to answer."""

    question: str
    done: str
    missed: str


@dataclass(frozen=True, slots=True)
class Outline:
    """Everything that a brief says."""

    garden: str
    voice: Voice
    tasks: tuple[TaskWords, ...]
    weather: str
    trouble: tuple[str, ...]
    alerts: tuple[AlertWords, ...]
    ahead: tuple[DayWords, ...]
    questions: tuple[QuestionWords, ...]
    not_told: str
    outlooks: tuple[str, ...]
    preparing: tuple[PreparingWords, ...]
    none_planned: str
    choices: tuple[str, ...]
    choice_headlines: tuple[str, ...]
    cautions: tuple[CautionWords, ...]
    forecast: str
    attribution: str
    link: str


def outline(brief: Brief, garden: Garden, *, typographic: bool = False) -> Outline:
    """Return a brief in words."""
    voice = Voice.of(garden, brief.on, typographic=typographic)
    merged = merge_tasks(brief.tasks)
    judged = brief.forecast.status is ForecastStatus.FRESH
    tasks = _reasons_once(told_words(task, voice, judged=judged) for task in merged)
    watered = {task.batch for task in brief.tasks if _waters(task)}
    alerts = [
        _without_amount(alert) if alert.batch in watered else alert
        for alert in brief.alerts
        if judged or alert.code not in _ALERTS_OF_TROUBLE
    ]
    attribution, link = attribution_words(brief.forecast)
    return Outline(
        garden=name(brief.garden),
        voice=voice,
        tasks=tasks,
        weather=weather_words(brief.weather, voice),
        trouble=trouble_words(brief.forecast, voice),
        alerts=_alerts_once(merged_alerts(alerts, voice), tasks),
        # Pages draw the days ahead as a strip of figures; only text has them in words.
        ahead=() if typographic else tuple(_day_words(ahead, voice) for ahead in brief.ahead),
        questions=tuple(question_words(question) for question in brief.questions),
        not_told=not_told_words(brief.not_told),
        outlooks=tuple(outlook_words(item, voice) for item in brief.outlooks),
        preparing=_preparing(brief, garden, voice),
        choices=tuple(crowding_sentences(each, voice) for each in brief.crowding),
        choice_headlines=tuple(map(crowding_headline, brief.crowding)),
        none_planned="" if _work_is_planned(brief) else none_planned(garden),
        cautions=caution_list((c for task in merged for c in task.cautions), voice),
        forecast=forecast_words(brief.forecast, voice),
        attribution=attribution,
        link=link,
    )


def _preparing(brief: Brief, garden: Garden, voice: Voice) -> tuple[PreparingWords, ...]:
    """Return what is to be prepared today; on a day without any work, also what comes next."""
    told = [each for each in brief.preparing if each.steps]
    if not told and not brief.tasks:
        told = list(brief.preparing[:1])
    named = len(garden.batches) > 1
    return tuple(preparing_words(each, voice, named=named) for each in told)


def _work_is_planned(brief: Brief) -> bool:
    return bool(brief.tasks or brief.preparing or any(ahead.tasks for ahead in brief.ahead))


def _waters(task: Task) -> bool:
    """Return whether a task says how much to water today."""
    known = task.water_per_bale_l is not None or task.dose is not None
    return known and task.state is State.DUE and task.action in _WATERS


_WATERS = frozenset({Action.WATER, Action.SURFACE_WATER, Action.SOAK, Action.FEED})


def _without_amount(alert: Alert) -> Alert:
    """Return a warning of a dry top without its amount: the task says one, a second confuses."""
    if alert.detail is None:
        return alert
    return replace(alert, detail=DryTopDetail(None, 1, alert.detail.dry_at))


def weather_words(weather: DayWeather, voice: Voice) -> str:
    """Return a day's weather as "-3 to 9 °C, rain 2 mm", "" when all of it is unknown."""
    measures = voice.measures
    low, high, rain = weather.low_c, weather.high_c, weather.rain_mm
    if low is None and high is None and rain is None:
        return ""
    if low is None and high is None:
        warm = "temperature unknown"
    elif low is None or high is None:
        warm = f"low {measures.temperature(low, 0)}, high {measures.temperature(high, 0)}"
    else:
        warm = f"{measures.whole_degrees(low)} to {measures.whole_degrees(high)}"
        warm = measures.joined(warm, measures.degree_unit)
    chance = weather.rain_chance_percent
    likely = f" (chance up to {measures.percent(chance)})" if rain and chance is not None else ""
    wet = "no rain" if rain == 0 else f"rain {measures.rain(rain)}{likely}"
    partly = "" if weather.complete else ", parts of the day unknown"
    return f"{warm}, {wet}{partly}"


def trouble_words(use: ForecastUse, voice: Voice) -> tuple[str, ...]:
    """Return what is to be said when the forecast cannot be decided on; () when it can."""
    if use.status is ForecastStatus.FRESH:
        return ()
    if use.status is ForecastStatus.MISSING:
        first = "No forecast could be had."
    else:
        age = "" if use.age_h is None else f" is {voice.measures.hours(use.age_h)} old and"
        first = f"The last forecast{age} can no longer be decided on."
    return (
        first,
        "The work of the day is told as planned; nothing was held or warned of by the weather.",
        look_yourself(voice),
    )


def forecast_words(use: ForecastUse, voice: Voice) -> str:
    """Return which forecast the brief rests on, and how old it is."""
    if use.source is None:
        return "Forecast: none."
    issued = ""
    if use.issued_at is not None:
        local = voice.local(use.issued_at)
        issued = f", of {day(local.date())} {clock(local)}"
    age = "" if use.age_h is None else f", {voice.measures.hours(max(use.age_h, 0.0))} old"
    stale = ", too old to decide on" if use.status is not ForecastStatus.FRESH else ""
    return f"Forecast: {name(use.source)}{issued}{age}{stale}."


def attribution_words(use: ForecastUse) -> tuple[str, str]:
    """Return the attribution a service asks for and its link, "" for what there is none of.

    A link that is not plain http or https, or holds a blank, is not shown as one.
    """
    link = use.attribution_url
    whole = link == clean(link) and " " not in link and len(link) <= LINK_LIMIT
    safe = whole and link.startswith(("https://", "http://"))
    return clean(use.attribution)[:LINK_LIMIT], link if safe else ""


def question_words(question: Question) -> QuestionWords:
    """Return a question about a feeding that could not be told, with both answers."""
    key = quote(clean(question.key.text()))
    return QuestionWords(
        question=(
            f"{name(question.batch)}, day {question.day}: could not be told on "
            f"{day(question.on)}. Was it fed?"
        ),
        done=f"strawbell record done {key}",
        missed=f"strawbell record missed {key}",
    )


def not_told_words(dates: Iterable[date]) -> str:
    """Return the dates that nothing could be told on, "" when there are none."""
    days = days_joined(dates)
    if not days:
        return ""
    return (
        f"Nothing could be told on {listing(days)}: Strawbell was not running or found no way to "
        "you."
    )


def outlook_words(outlook: BatchOutlook, voice: Voice) -> str:
    """Return how a batch stands, in a few sentences."""
    said = [
        sentence
        for sentence in (
            _conditioned(outlook, voice),
            _ready(outlook, voice),
            _core(outlook.core, voice),
            _nitrogen(outlook.nitrogen, voice),
            _make_up(outlook.make_up, voice),
            _evaporation(outlook, voice),
        )
        if sentence
    ]
    known = " ".join(said) or "nothing is known yet."
    return f"{name(outlook.batch)}, {outlook.stage.value}: {known}"


def _conditioned(outlook: BatchOutlook, voice: Voice) -> str:
    if outlook.conditioning is None:
        return ""
    done, to_go = (
        band(days, lambda value: voice.measures.number(value, 1), voice.measures)
        for days in (outlook.conditioning.done_days, outlook.conditioning.to_go_days)
    )
    return (
        f"About {done} days of mild weather done, about {to_go} days to go as the forecast stands."
    )


def _ready(outlook: BatchOutlook, voice: Voice) -> str:
    if outlook.ready_on is None:
        return ""
    said = f"Ready to plant about {voice.date_said(outlook.ready_on)}"
    latest = outlook.ready_on_latest
    if latest is not None and latest != outlook.ready_on:
        said += f", by {day(latest)} at the latest"
    return f"{said}."


def _core(core: CoreEstimate | None, voice: Voice) -> str:
    if core is None:
        return ""
    # A band tens of degrees wide has no tenths.
    low, high = map(voice.measures.whole_degrees, (core.low_c, core.high_c))
    span = high if low == high else f"{low} to {high}"
    inside = voice.measures.joined(span, voice.measures.degree_unit)
    how = (
        "by your probe and the model"
        if core.from_probe
        else "by the model alone, so the band is wide; a probe narrows it"
    )
    return f"Inside about {inside} today, {how}."


def _nitrogen(nitrogen: NitrogenEstimate | None, voice: Voice) -> str:
    if nitrogen is None:
        return ""
    measures = voice.measures
    given, planned = map(measures.mass, (nitrogen.given_g, nitrogen.planned_g))
    said = f"Nitrogen: {given} of {planned} a bale given"
    if (nitrogen.lost_g.high or 0.0) >= LEAST_LOSS_G:
        lost = band(nitrogen.lost_g, measures.mass, measures)
        said += f", {lost} of it washed out or gone to the air, as far as a balance can tell"
    ratio = nitrogen.carbon_to_nitrogen
    low, high = (measures.number(end, 0) for end in (ratio.low, ratio.high))
    return f"{said}; carbon to nitrogen now between {low}:1 and {high}:1."


def _evaporation(outlook: BatchOutlook, voice: Voice) -> str:
    if outlook.evaporation_mm is None:
        return ""
    return f"Evaporation today {voice.measures.rain(outlook.evaporation_mm)}."


def _make_up(make_up: MakeUpEstimate | None, voice: Voice) -> str:
    if make_up is None:
        return ""
    mass = voice.measures.mass
    return (
        f"Heavy rain took a large share: once it is dry, {mass(make_up.feed_g)} of the feed a "
        f"bale ({mass(make_up.nitrogen_g)} of nitrogen) would make up for it; your local rules "
        "come first. If you give it, write it down: strawbell record feed, with the amount a bale."
    )


LEAST_LOSS_G = 1.0
"""A loss under this is not worth a word [g N per bale]."""


def subject_of(said: Outline) -> str:
    """Return the day's main task and dose, or what holds it: fit for a subject line."""
    return f"{day(said.voice.on)}: {headline_of(said)} ({cut(said.garden, GARDEN_LIMIT)})"


def headline_of(said: Outline) -> str:
    """Return the two main tasks and what must not be overlooked, each thing said once."""
    named = {task.headline: task for task in reversed(said.tasks) if task.state in _OPEN}
    main = list(reversed(named.values()))[:MOST_TASKS]
    parts: list[str] = []
    told: set[ReasonCode | AlertCode] = set()
    becauses: set[str] = set()
    for task in main:
        new = "" if task.because in becauses else task.because
        parts.append(f"{task.headline}, {new}" if new else task.headline)
        becauses.add(task.because)
        told |= {task.because_of} if task.because_of else set()
    parts += [each.headline for each in said.preparing if each.headline]
    parts += said.choice_headlines
    if not parts:
        parts = [NOTHING_TO_DO[0].lower() + NOTHING_TO_DO[1:]]
    for alert in said.alerts:
        if len(parts) <= MOST_TASKS and not said_already(alert.code, told):
            parts.append(alert.headline)
            told.add(alert.code)
    if said.questions:
        parts.append("a question")
    if said.trouble:
        parts.append("no usable forecast")
    return "; ".join(parts)


def said_already(code: AlertCode, told: Collection[ReasonCode | AlertCode | None]) -> bool:
    """Return whether what an alert warns of is said by the reason of a task, or another alert."""
    return code in told or any(each in told for each in _SAYS.get(code, ()))


_COLD = (ReasonCode.FREEZE, ReasonCode.FROST, ReasonCode.FROST_LATER)
_SAYS: Mapping[AlertCode, tuple[ReasonCode | AlertCode, ...]] = {
    AlertCode.FROST: _COLD,
    AlertCode.FREEZE: (*_COLD, ReasonCode.KILLING_AHEAD, AlertCode.FROST),
    AlertCode.HEAVY_RAIN: (ReasonCode.HEAVY_RAIN,),
    AlertCode.HOT_DRY: (ReasonCode.HOT_DRY,),
    AlertCode.HEAT_PERSON: (ReasonCode.HEAT,),
    AlertCode.SELF_HEATING: (ReasonCode.SELF_HEATING,),
    AlertCode.NO_FORECAST: (ReasonCode.NO_FORECAST,),
    AlertCode.STALE_FORECAST: (ReasonCode.STALE_FORECAST,),
}
"""Which reasons and other alerts say in a subject what an alert would say again."""


def short_tasks(tasks: Iterable[Task]) -> tuple[str, ...]:
    """Return tasks as single words, the main one first, each once."""
    return tuple(dict.fromkeys(short_word(task.first) for task in merge_tasks(tasks)))


_SAID_OF_THE_SKY = frozenset({ReasonCode.RAIN_POSSIBLE, ReasonCode.WARM_HOURS})
"""What is told of the weather with a feeding that goes ahead."""


def told_words(task: MergedTask, voice: Voice, *, judged: bool) -> TaskWords:
    """Return a task that says it is fit to be done, or leaves out what the whole brief says."""
    words = task_words(task, voice)
    if judged:
        known = not any(reason.code in _UNKNOWN_REASONS for reason in task.reasons)
        if task.action is Action.FEED and task.state is State.DUE and known:
            fit = _fit_to_feed(task, voice)
            return replace(words, why=(fit, *words.why)) if fit else words
        return words
    trouble = reason_sentences((why for why in task.reasons if why.code in _UNJUDGED), voice)
    unchecked = (UNCHECKED,) if trouble else ()
    yourself = look_yourself(voice)
    return replace(
        words,
        why=(*unchecked, *(sentence for sentence in words.why if sentence not in trouble)),
        instead=tuple(sentence for sentence in words.instead if sentence != yourself),
    )


def _fit_to_feed(task: MergedTask, voice: Voice) -> str | None:
    """Return what the rules found when nothing holds a feeding, or is to be said of it."""
    if any(reason.code in _SAID_OF_THE_SKY for reason in task.reasons):
        return None
    hours = min(voice.rules.freeze_look_ahead_h, voice.rules.rain_look_ahead_h)
    return (
        "A good day to feed: heavy rain and frost are unlikely within "
        f"{voice.measures.hours(hours)}."
    )


def _reasons_once(tasks: Iterable[TaskWords]) -> tuple[TaskWords, ...]:
    """Return tasks so that what holds several of them is explained with the first."""
    told: list[TaskWords] = []
    for task in tasks:
        above = {item for each in told for item in (*each.why, *each.instead)}
        again = task.state is State.HELD and bool(task.why) and above.issuperset(task.why)
        shorter = replace(
            task,
            why=(SAME_REASON,),
            instead=tuple(item for item in task.instead if item not in above),
        )
        told.append(shorter if again else task)
    return tuple(told)


def _alerts_once(
    alerts: Iterable[AlertWords], tasks: tuple[TaskWords, ...]
) -> tuple[AlertWords, ...]:
    """Return alerts without the reasons that a task has given already."""
    said = {sentence for task in tasks for sentence in task.why}
    return tuple(
        dict.fromkeys(
            replace(alert, why=tuple(sentence for sentence in alert.why if sentence not in said))
            for alert in alerts
        )
    )


def _day_words(ahead: DayAhead, voice: Voice) -> DayWords:
    merged = merge_tasks(ahead.tasks)
    return DayWords(
        on=ahead.on,
        weather=weather_words(ahead.weather, voice),
        tasks=tuple(brief_words(task, voice) for task in merged),
    )


_OPEN = (State.DUE, State.HELD)
_UNJUDGED = (ReasonCode.NO_FORECAST, ReasonCode.STALE_FORECAST)
_UNKNOWN_REASONS = (*_UNJUDGED, ReasonCode.RAIN_UNKNOWN, ReasonCode.TEMPERATURE_UNKNOWN)
_ALERTS_OF_TROUBLE = (AlertCode.NO_FORECAST, AlertCode.STALE_FORECAST)
