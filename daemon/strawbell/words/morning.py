"""A brief as a page: the morning, and what is told of a day again when it changes.

Also what has to happen before the first soaking, and the choice where an early crop would hold a
late one past its time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from shlex import quote

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import (
    PLANTS,
    Action,
    Alert,
    Also,
    Brief,
    Caution,
    Crowding,
    Preparation,
    Question,
    ReasonCode,
    State,
    Step,
    Task,
    WorkKind,
)
from strawbell.model.details import BatchStage
from strawbell.model.forecast import ForecastStatus, ForecastUse
from strawbell.model.garden import Garden
from strawbell.words.advice import (
    KNOWN_WELL,
    NOTHING_EXPLAINED,
    SUBJECT_LIMIT,
    TaskWords,
    look_yourself,
    noun,
    task_words,
    waits_for_no_water,
)
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import clean, name
from strawbell.words.merge import MergedTask, measures_inside, merge_tasks, merged
from strawbell.words.page import (
    ROUTINE,
    Band,
    Mood,
    Page,
    Picture,
    Steps,
    days_picture,
    picture_of,
    sky,
)
from strawbell.words.reasons import (
    URGENT,
    AlertWords,
    CautionWords,
    gravest,
    merged_alerts,
    reason_sentences,
    tens_of,
)
from strawbell.words.units import G_PER_POUND, Measures
from strawbell.words.voice import (
    DAY,
    Voice,
    attribution_words,
    crops_name,
    days_joined,
    forecast_words,
    weather_words,
)


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


BEAN_TEST_DAYS = 21
"""Two to three weeks to three true leaves (Oregon State University Extension)."""
G_PER_KG = 1000.0
DAYS_A_WEEK = 7


class PreparingWords(Struct, frozen=True):
    """What is said of bales that begin later; `steps` are today's, "" says nothing."""

    head: str
    steps: tuple[str, ...]
    then: str
    headline: str


def preparing_words(each: Preparation, voice: Voice, *, named: bool) -> PreparingWords:
    """Return a preparation in words; the batches have names only where there are several."""
    days, say = (each.start_on - voice.on).days, voice.say
    head = say(
        "preparing.head",
        batches=voice.tongue.listing(map(name, each.batches)) if named else None,
        near=voice.nearness(each.start_on),
        day=voice.day(each.start_on),
        steps=len(each.steps),
    )
    then = ""
    if (on := each.next_on) is not None:
        coming = _short(each.next_steps, voice)
        then = say("preparing.next", near=voice.nearness(on), day=voice.day(on), steps=coming)
    weeks = None if days % DAYS_A_WEEK else days // DAYS_A_WEEK
    headline, without = (
        say("preparing.headline", weeks=weeks, days=days, steps=said)
        for said in (_short(each.steps, voice, "comma"), None)
    )
    headline = headline if len(headline) <= SUBJECT_LIMIT else without
    steps = step_sentences(each, voice)
    return PreparingWords(head=head, steps=steps, then=then, headline=headline if steps else "")


def _short(steps: Iterable[Step], voice: Voice, style: str = "standard") -> str:
    return voice.tongue.listing((voice.tongue.of("step", step, "short") for step in steps), style)


def step_sentences(each: Preparation, voice: Voice) -> tuple[str, ...]:
    """Return what is told today, a few sentences for each step."""
    tongue, measures = voice.tongue, voice.measures
    reads = voice.on + timedelta(days=BEAN_TEST_DAYS)
    return tuple(
        tongue.of(
            "step",
            step,
            "long",
            bales=each.bales,
            straws=tongue.listing(tongue.of("straw", straw) for straw in each.straws),
            weight=_weight(each.dry_kg / each.bales, measures),
            weight_total=_weight(each.dry_kg, measures),
            weathered=each.weathered,
            reads=voice.day(reads),
            late=reads > each.start_on,
            near=voice.nearness(each.start_on),
            day=voice.day(each.start_on),
            bed=measures.area(each.bed_m2),
        )
        for step in each.steps
    )


def none_planned(garden: Garden, tongue: Tongue) -> str:
    """Return what helps where no bales are at work and none will be."""
    return tongue.say("preparing.none", batches=bool(garden.batches))


def coming_words(prepared: Sequence[Preparation], garden: Garden, on: date) -> str:
    """Return what a garden waits for, "" where bales are at work; `prepared` on a date."""
    if any(batch.start_on <= on for batch in garden.batches):
        return ""
    voice, shown = Voice.of(garden, on), name(garden.name)
    if not prepared:
        none = none_planned(garden, voice.tongue)
        return voice.say("preparing.garden-none", garden=shown, said=none)
    first = prepared[0]
    ahead = first.next_on if not first.steps else None
    return voice.say(
        "preparing.garden-coming",
        garden=shown,
        day=voice.day(first.start_on),
        since=None if ahead is None else voice.day(ahead),
    )


def _weight(mass_kg: float, measures: Measures) -> str:
    """Return a mass as one speaks of it when ordering: whole kilograms or pounds."""
    if measures.us:
        return measures.amount("lb", mass_kg * G_PER_KG / G_PER_POUND, 0)
    return measures.amount("kg", mass_kg, 0)


MOST_CHANGES = 3
"""Days of the next week that are told ahead: those on which something changes."""
_LOUD = (Caution.SELF_HEATING, Caution.AMMONIUM_NITRATE, Caution.PETS)
"""Cautions that stand beside the work where they are new, the gravest first."""
_OPEN = (State.DUE, State.HELD)


class Said(Struct, frozen=True):
    """The parts that a page is put together from."""

    voice: Voice
    tasks: tuple[TaskWords, ...]
    merged: tuple[MergedTask, ...]
    alerts: tuple[AlertWords, ...]
    judged: bool


def said_of(
    brief: Brief,
    garden: Garden,
    explained: Mapping[WorkKind, date] = NOTHING_EXPLAINED,
    *,
    typographic: bool = False,
) -> Said:
    """Return the tasks and the alerts of a brief in words."""
    voice = Voice.of(garden, brief.on, typographic=typographic)
    merged = merge_tasks(_less_said(task, explained) for task in brief.tasks)
    judged = brief.forecast.status is ForecastStatus.FRESH
    tasks = tuple(task_words(each, voice, explained, judged=judged) for each in merged)
    # What helps while a planting waits was told on the first morning of waiting, and that it may go
    # in under fleece on the one that left it to the grower.
    left_to_grower = voice.rules.ask_after_held_days
    tasks = tuple(
        replace(said, beside=()) if _waits_on(each, left_to_grower) else said
        for said, each in zip(tasks, merged, strict=True)
    )
    alerts = merged_alerts(brief.alerts, voice, brief.tasks)
    return Said(voice, tasks, merged, alerts, judged)


def _less_said(task: Task, explained: Mapping[WorkKind, date]) -> Task:
    """Return a task without what a grower who has done it before knows."""
    if Also.WET_EDGES not in task.also or task.kind not in explained:
        return task
    return replace(task, also=tuple(each for each in task.also if each is not Also.WET_EDGES))


def _waits_on(task: MergedTask, left_to_grower: int) -> bool:
    whole = task.whole
    waits = whole.action in PLANTS and whole.state is State.HELD
    return waits and all(each.held_days not in (0, left_to_grower) for each in task.tasks)


def morning_page(
    brief: Brief,
    garden: Garden,
    explained: Mapping[WorkKind, date] = NOTHING_EXPLAINED,
    lead: Iterable[str] = (),
    *,
    typographic: bool = False,
) -> Page:
    """Return a day as a page; `lead` goes before the work."""
    said = said_of(brief, garden, explained, typographic=typographic)
    voice = said.voice
    work = [each for each in said.tasks if each.state in _OPEN]
    closed = tuple(each.line for each in said.tasks if each.state not in _OPEN)
    urgent = [each for each in said.alerts if each.code in URGENT]
    alerts = [each for each in said.alerts if each.code not in URGENT]
    prepared = _prepared(brief, garden, voice)
    subject, band, line, more = _main(brief, said, work, urgent, alerts, prepared)
    lines = [each.advice for each in urgent[1:]]
    heard = set(more)
    for each in work if urgent or brief.questions else work[1:]:
        lines.append(" ".join((each.line, *(one for one in each.beside if one not in heard))))
        heard.update(each.beside)
    lines += [each.advice for each in (alerts if work or urgent or brief.questions else alerts[1:])]
    questions = brief.questions[1:]
    care = _care(work)
    note = next((one for code in _LOUD for one in care if one.code is code), None)
    attribution, link = attribution_words(brief.forecast)
    return Page(
        subject=subject,
        garden=name(brief.garden),
        date=voice.day(brief.on),
        band=band,
        line=line,
        lead=(*lead, *not_told_words(brief.not_told, voice), *_trouble(brief.forecast, said)),
        more=more,
        lines=(*(_asked(each, voice) for each in questions), *lines, *closed),
        commands=tuple(line for each in brief.questions for line in _commands(each)),
        blocks=_blocks(brief, voice, prepared),
        note=note.sentences if note else "",
        why=_why(said, work, alerts, brief.alerts),
        next=_next(brief, voice, with_days=not typographic),
        pictures=_pictures(brief, said) if typographic else (),
        as_before=_as_before(work, voice),
        how=_how(work, voice),
        care=tuple(one for one in care if one is not note),
        paragraphs=(*_make_up(brief, voice), *_coming(brief, garden, prepared, voice)),
        foot=_foot(brief, voice),
        attribution=attribution,
        link=link,
        tongue=voice.tongue,
    )


def _main(
    brief: Brief,
    said: Said,
    work: list[TaskWords],
    urgent: list[AlertWords],
    alerts: list[AlertWords],
    prepared: tuple[PreparingWords, ...],
) -> tuple[str, Band, str, tuple[str, ...]]:
    """Return subject and band of a day, and what its band says as sentences."""
    voice = said.voice
    say = voice.say
    above, first_answer = heading_above(voice, brief.on), say("morning.answer-first")

    def warned(first: AlertWords) -> tuple[str, Band, str, tuple[str, ...]]:
        band = Band(Mood.URGENT, above, first.headline, below=first.advice)
        return first.headline, band, first.advice, ()

    if urgent:
        return warned(urgent[0])
    if brief.questions:
        question = _asked(brief.questions[0], voice)
        band = Band(Mood.WAIT, above, question, below=first_answer)
        return question, band, question, (first_answer,)
    if work:
        first_task, merged = work[0], said.merged[0].whole
        subject = first_task.subject
        if measures_inside(merged):  # On a day of planting it goes first, and is not the news.
            subject = next((each.subject for each in work if each.action in PLANTS), subject)
        if not said.judged and first_task.action is Action.FEED and first_task.state is State.DUE:
            subject = say("morning.unjudged")
        mood = _mood(merged)
        band = Band(
            mood,
            heading_above(voice, brief.on, urgent=mood is Mood.URGENT),
            first_task.heading,
            first_task.figures,
            first_task.below,
        )
        return subject, band, first_task.line, first_task.beside
    told = [each.headline for each in prepared if each.headline]
    told += [crowding_headline(each, voice) for each in brief.crowding]
    if told:
        return told[0], Band(Mood.WORK, above, told[0]), say("morning.told", headline=told[0]), ()
    if alerts:
        return warned(alerts[0])
    nothing = say("morning.nothing")
    return nothing, Band(Mood.QUIET, above, nothing), say("morning.nothing-line"), ()


def heading_above(voice: Voice, on: date, *, urgent: bool = False, evening: bool = False) -> str:
    """Return what stands above the heading of a day."""
    return voice.say("page.above", urgent=urgent, evening=evening, day=voice.heading(on))


def _prepared(brief: Brief, garden: Garden, voice: Voice) -> tuple[PreparingWords, ...]:
    """Return what is to be prepared today; on a day without any work, also what comes next."""
    told = [each for each in brief.preparing if each.steps]
    if not told and not brief.tasks:
        told = list(brief.preparing[:1])
    named = len(garden.batches) > 1
    return tuple(preparing_words(each, voice, named=named) for each in told)


def _blocks(brief: Brief, voice: Voice, prepared: Iterable[PreparingWords]) -> tuple[Steps, ...]:
    choices = tuple(crowding_sentences(each, voice) for each in brief.crowding)
    steps = [Steps(each.head, each.steps) for each in prepared if each.steps]
    steps += [Steps(voice.say("morning.two-crops"), choices)] if choices else []
    return tuple(steps)


def _coming(
    brief: Brief, garden: Garden, prepared: Iterable[PreparingWords], voice: Voice
) -> tuple[str, ...]:
    """Return what comes after what is prepared, or how another season begins."""
    coming = [
        " ".join(part for part in ("" if each.steps else each.head, each.then) if part)
        for each in prepared
    ]
    works = brief.tasks or brief.preparing or any(ahead.tasks for ahead in brief.ahead)
    return (
        *(each for each in coming if each),
        *(() if works else (none_planned(garden, voice.tongue),)),
    )


def _mood(task: Task) -> Mood:
    if task.state is State.HELD:
        return Mood.WAIT
    if waits_for_no_water(task):
        return Mood.QUIET
    is_urgent = task.action is Action.PROTECT or task.times_a_day > 1
    return Mood.URGENT if is_urgent else Mood.WORK


def _care(work: Iterable[TaskWords]) -> tuple[CautionWords, ...]:
    found = dict.fromkeys(one for each in work for one in each.cautions)
    order = list(Caution)
    return tuple(sorted(found, key=lambda one: order.index(one.code)))


def _why(
    said: Said, work: list[TaskWords], alerts: list[AlertWords], warned: Iterable[Alert]
) -> tuple[str, ...]:
    found = dict.fromkeys(sentence for each in work for sentence in each.why)
    if said.judged:
        found.update(dict.fromkeys(sentence for each in alerts for sentence in each.why))
    told = [why for task in said.merged for why in task.whole.reasons]
    cold = {why.at for why in told if why.code in _COLD}
    # A night that work was told for needs no warning of its own, and what comes in fewer than
    # 1 in 10 is told only where nothing else is.
    told += (
        why
        for alert in warned
        for why in alert.reasons
        if why.code not in _COLD or why.at not in cold
    )
    reasons = (*told, *(why for alert in warned for why in alert.reasons))
    lighter = set(reason_sentences(reasons, said.voice))
    likely = [why for why in told if why.chance is None or tens_of(why.chance)]
    lighter -= set(reason_sentences(gravest(likely or told), said.voice))
    trouble = (
        ()
        if said.judged
        else reason_sentences(
            (why for each in said.merged for why in each.whole.reasons if why.code in _UNJUDGED),
            said.voice,
        )
    )
    return tuple(each for each in found if each not in {*trouble, *lighter})


_COLD = (ReasonCode.FREEZE, ReasonCode.FROST, ReasonCode.WARM_HOURS)
_UNJUDGED = (ReasonCode.NO_FORECAST, ReasonCode.STALE_FORECAST)


def _trouble(use: ForecastUse, said: Said) -> tuple[str, ...]:
    """Return what is to be said when the forecast cannot be decided on; () when it can."""
    if said.judged:
        return ()
    voice, stale = said.voice, use.status is ForecastStatus.STALE
    age = None if use.age_h is None else voice.measures.hours(use.age_h)
    return (voice.say("morning.trouble", stale=stale, age=age, look=look_yourself(voice)),)


def not_told_words(dates: Iterable[date], voice: Voice) -> tuple[str, ...]:
    """Return the dates that nothing could be told on, none when there are none."""
    days = voice.tongue.listing(days_joined(dates, voice.tongue))
    return (voice.say("morning.not-told", days=days),) if days else ()


def _asked(question: Question, voice: Voice) -> str:
    on, batch = question.on, name(question.batch)
    near, day = voice.nearness(on), voice.near_day(on)
    return voice.say("morning.asked", batch=batch, near=near, day=day)


def _commands(question: Question) -> tuple[str, str]:
    key = quote(clean(question.key.text()))
    return f"strawbell record done {key}", f"strawbell record missed {key}"


def _as_before(work: Iterable[TaskWords], voice: Voice) -> str:
    """Return where the steps of work stand that was explained before, "" for none."""
    dates = {
        each.since
        for each in work
        if each.since is not None and each.action not in KNOWN_WELL and each.state is State.DUE
    }
    if not dates:
        return ""
    on = next(iter(dates))
    near = None if len(dates) > 1 else voice.nearness(on)
    return voice.say("morning.as-before", near=near, day=voice.near_day(on))


def _how(work: Iterable[TaskWords], voice: Voice) -> tuple[Steps, ...]:
    new = [each for each in work if each.steps]
    return tuple(
        Steps(voice.say("page.how") if len(new) == 1 else each.heading, each.steps) for each in new
    )


def _next(brief: Brief, voice: Voice, *, with_days: bool) -> str:
    """Return the days of the coming week on which something changes, and when to plant.

    A page draws the days, and so has only the planting in words.
    """
    said, before = [], {each.action for each in brief.tasks if each.state is State.DUE}
    for day in brief.ahead:
        tasks = [each.whole for each in merge_tasks(day.tasks)]
        merged = [each for each in tasks if each.state is State.DUE]
        work = dict.fromkeys(_noun(each, voice) for each in merged if _is_news(each, before))
        before = {each.action for each in merged}
        skies = [voice.say(f"sky.{each}.long") for each in sky(day.weather, voice)]
        if work or skies:
            said.append(
                voice.say(
                    "morning.day",
                    near=voice.nearness(day.on),
                    day=voice.near_day(day.on),
                    work=voice.tongue.listing(work),
                    sky=voice.tongue.listing(skies),
                )
            )
        if len(said) == MOST_CHANGES:
            break
    # Where there is word of planting today, a date from the model would only confuse.
    told = {each.batch for each in brief.tasks if each.action in PLANTS}
    ready = next(
        (
            voice.say(
                "morning.planting", day=voice.near_day(each.ready_on), alone=with_days and not said
            )
            for each in brief.outlooks
            if each.ready_on is not None
            and each.ready_on > brief.on + DAY
            and each.stage is not BatchStage.GROWING
            and each.batch not in told
        ),
        "",
    )
    if not with_days:
        return ready
    parts = [*said, *((ready,) if ready else ())]
    return voice.say("page.next", days=" ".join(parts)) if parts else ""


def _pictures(brief: Brief, said: Said) -> tuple[Picture, ...]:
    """Return what the morning asks to see, and the days ahead unless they stand in it."""
    days, main = days_picture(brief, said.voice), said.merged[:1] if said.judged else ()
    asked = next((picture_of(brief, each.whole, said.voice) for each in main), None)
    shown = (asked,) if asked is not None and asked.columns else (asked, days)
    return tuple(each for each in shown if each is not None)


def _is_news(task: Task, before: set[Action]) -> bool:
    if task.action in ROUTINE or waits_for_no_water(task):
        return False
    return task.action is Action.FEED or task.action not in before


def _noun(task: Task, voice: Voice) -> str:
    crops = voice.tongue.listing(crops_name(crop, voice.tongue) for crop in task.crops)
    return voice.say("task.named", noun=noun(task.action, voice.tongue), crops=crops)


def _make_up(brief: Brief, voice: Voice) -> tuple[str, ...]:
    """Return what would make up for what heavy rain took."""
    mass = voice.measures.mass
    return tuple(
        voice.say("morning.make-up", batch=name(each.batch), mass=mass(each.make_up.feed_g))
        for each in brief.outlooks
        if each.make_up is not None
    )


def _foot(brief: Brief, voice: Voice) -> str:
    weather = weather_words(brief.weather, voice)
    say, use = voice.measures.tongue.say, brief.forecast
    if use.status is not ForecastStatus.FRESH or use.issued_at is None or use.source is None:
        return f"{say('foot.today', weather=weather)} {forecast_words(use, voice)}"
    issued = voice.local(use.issued_at)
    on = issued.date()
    return say(
        "foot.fresh",
        weather=weather,
        time=voice.clock(issued),
        on=None if on == brief.on else voice.day_said(on),
        source=None if use.attribution else name(use.source),
    )


def how_lines(tasks: Iterable[Task], garden: Garden, on: date) -> tuple[tuple[str, ...], ...]:
    """Return the steps and the cautions of tasks, whatever was explained before or is noted."""
    voice = Voice.of(garden, on)
    blocks: list[tuple[str, ...]] = []
    for each in merge_tasks(tasks):
        waits = each.whole.state is State.HELD
        due = merged([replace(task, state=State.DUE) for task in each.tasks])
        words = task_words(due, voice)
        line = task_words(each, voice).line if waits else words.line
        care = tuple(one.whole for one in words.cautions)
        blocks.append((line, *words.beside, *words.steps, *care))
    return tuple(blocks)
