"""Notices for every channel: subject, text, HTML, and one or two sentences for the desktop."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    AlertKey,
    Brief,
    State,
    Task,
    WorkKind,
)
from strawbell.model.garden import Garden
from strawbell.model.household import Helper
from strawbell.model.notice import Asking, Notice, NoticeKind, Silence
from strawbell.model.routine import Week
from strawbell.words.advice import (
    NOTHING_EXPLAINED,
    SUBJECT_LIMIT,
    noun,
    task_words,
    waits_for_no_water,
)
from strawbell.words.asking import PAGE_PLACE, TEXT_PLACE, asking_of, waters
from strawbell.words.escaping import clean, cut, name
from strawbell.words.html import page_html
from strawbell.words.merge import merge_tasks
from strawbell.words.morning import heading_above, morning_page
from strawbell.words.page import Band, Mood, Page, page_text
from strawbell.words.voice import NOON_HOUR, Voice
from strawbell.words.week import week_page

SHORT_LIMIT = 240
"""Longest desktop notice [characters]: three or four lines on most servers."""
SENTENCE_LIMIT = 450
"""Longest sentence of somebody else that is repeated [characters]."""

_Explained = Mapping[WorkKind, date]
_Paged = Callable[[bool], Page]


def morning_notice(
    brief: Brief,
    garden: Garden,
    created_at: datetime,
    expires_at: datetime,
    troubles: Sequence[str] = (),
    asked: Sequence[str] = (),
    heard: str = "",
    explained: _Explained = NOTHING_EXPLAINED,
    *,
    is_away: bool = False,
    week: Week | None = None,
    supplies: Sequence[str] = (),
) -> Notice:
    """Return the morning's brief; `troubles` are sentences on notices that did not arrive.

    `asked` are questions that go before everything else; `heard` says what the grower's answers
    since the last brief were taken for; `explained` when work of a kind was explained before;
    `is_away` that nobody is there to do it; `week` what is told for the days ahead as well;
    `supplies` are sentences on what has to be bought.
    """
    lead = tuple(clean(question) for question in asked)
    lead += (heard,) if heard else ()
    lead += (_troubles(troubles, garden, brief.on),) if troubles else ()
    asking = asking_of(brief.tasks, garden, brief.questions, is_late=is_away)

    if week is not None and asking is not None:
        asking = replace(asking, silence=Silence.WATERED)

    def page(typographic: bool) -> Page:
        whole = morning_page(brief, garden, explained, lead, typographic=typographic)
        if week is not None:
            whole = week_page(whole, week, brief, garden, typographic=typographic)
        if supplies and not (brief.tasks or brief.alerts or brief.questions or brief.preparing):
            subject = Voice.of(garden, brief.on).say("supplies.soon")
            whole = replace(whole, subject=subject, band=replace(whole.band, heading=subject))
        return replace(whole, lines=(*whole.lines, *(clean(item) for item in supplies)))

    return _notice(brief.on, garden, NoticeKind.MORNING, "", page, created_at, expires_at, asking)


def change_notice(
    brief: Brief,
    garden: Garden,
    tasks: Sequence[Task],
    alerts: Sequence[Alert],
    passed: Sequence[AlertKey],
    occasion: str,
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return what changed since the morning: `tasks` and `alerts` as they are now.

    `passed` are alerts that no longer stand. The steps were told in the morning.
    """
    over = tuple(dict.fromkeys(key.code for key in passed))
    local = created_at.astimezone(ZoneInfo(garden.place.time_zone))
    asking = asking_of(tasks, garden, is_late=local.hour >= NOON_HOUR)
    changed = _part(brief, tasks, alerts)

    def page(typographic: bool) -> Page:
        voice = Voice.of(garden, brief.on, typographic=typographic)
        lead = (voice.say("change.replaces"),) if tasks else ()
        whole = _without_next(
            morning_page(changed, garden, _all_of(tasks, brief), lead, typographic=typographic)
        )
        passed_on = tuple(code if code in _PASSED else "other" for code in over)
        said = tuple(voice.say(f"passed.{each}.line") for each in dict.fromkeys(passed_on))
        fed = any(task.action is Action.FEED and task.state is State.DUE for task in tasks)
        lifted = next((code for code in over if code in _LIFTED), None)
        subject = voice.say("change.lifted", fed=fed, over=lifted) or whole.subject
        if tasks or alerts:
            return replace(whole, subject=subject, lines=(*whole.lines, *said))
        first, *rest = said or (voice.say("change.nothing-line"),)
        head = voice.say(f"passed.{passed_on[0]}.head") if over else voice.say("change.nothing")
        band = Band(Mood.QUIET, whole.band.above, head)
        return replace(whole, subject=subject, band=band, line=first, lines=tuple(rest))

    return _notice(
        brief.on, garden, NoticeKind.CHANGE, occasion, page, created_at, expires_at, asking
    )


_LIFTED = (AlertCode.HEAVY_RAIN, AlertCode.FROST)
_PASSED = (*_LIFTED, AlertCode.FREEZE)
"""Warnings that have words of their own for having passed."""


def evening_notice(
    brief: Brief,
    garden: Garden,
    protect: Sequence[Alert],
    prepare: Sequence[Task],
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return what to protect tonight and what to have at hand tomorrow."""
    covering = tuple(
        task for task in brief.tasks if task.action is Action.PROTECT and task.state is State.DUE
    )
    tonight = _part(brief, covering, protect)

    def page(typographic: bool) -> Page:
        whole = _without_next(
            morning_page(tonight, garden, _all_of(covering, brief), typographic=typographic)
        )
        voice = Voice.of(garden, brief.on, typographic=typographic)
        words = [
            task_words(each, voice, lead=voice.say("evening.tomorrow"))
            for each in merge_tasks(prepare)
        ]
        later = tuple(voice.say("evening.prepare", work=each.brief) for each in words)
        if whole.why or covering or protect:
            return replace(whole, lines=(*whole.lines, *later))
        nouns = voice.tongue.listing(noun(each.action, voice.tongue) for each in words)
        subject = voice.say("evening.subject", work=nouns)
        first, *rest = later
        band = Band(Mood.WORK, heading_above(voice, brief.on, evening=True), subject, below=first)
        return replace(whole, subject=subject, band=band, line=first, lines=tuple(rest))

    return _notice(
        brief.on, garden, NoticeKind.EVENING, "", page, created_at, expires_at,
        asking_of(covering, garden),
    )  # fmt: skip


def helper_notice(
    brief: Brief,
    garden: Garden,
    helper: Helper,
    created_at: datetime,
    expires_at: datetime,
    explained: _Explained = NOTHING_EXPLAINED,
) -> Notice | None:
    """Return what somebody who looks after the bales is told of a day, None for nothing."""
    due = [task for task in brief.tasks if task.state is State.DUE]
    if helper.only_water:
        due = [task for task in due if waters(task) and not waits_for_no_water(task)]
    if not due:
        return None
    alerts = () if helper.only_water else brief.alerts

    def page(typographic: bool) -> Page:
        say = Voice.of(garden, brief.on).say
        lead = (say("helper.greeting", name=name(helper.name)),) if helper.name else ()
        part = _part(brief, due, alerts)
        whole = _without_next(morning_page(part, garden, explained, lead, typographic=typographic))
        return replace(whole, paragraphs=(*whole.paragraphs, say("helper.passed-on")))

    return _notice(
        brief.on, garden, NoticeKind.MORNING, "", page, created_at, expires_at,
        asking_of(due, garden),
    )  # fmt: skip


def all_clear_notice(
    garden: Garden, brief: Brief, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return word that forecasts are back, with the day's work as it is judged now."""

    def page(typographic: bool) -> Page:
        say = Voice.of(garden, brief.on).say
        lead = (say("forecast.again"),)
        explained = _all_of(brief.tasks, brief)
        whole = morning_page(brief, garden, explained, lead, typographic=typographic)
        return replace(_without_next(whole), subject=say("forecast.back"))

    return _notice(brief.on, garden, NoticeKind.ALL_CLEAR, "forecast", page, created_at, expires_at)


def unrecorded_morning_notice(
    garden: Garden,
    brief: Brief,
    occasion: str,
    sentence: str,
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return the work of a morning that the store did not take; `sentence` says what it said."""

    def page(typographic: bool) -> Page:
        say = Voice.of(garden, brief.on).say
        trouble = say("trouble.disk.head")
        lead = (
            say("notice.heading", heading=trouble),
            _sentence(sentence),
            say("trouble.disk.help"),
            say("trouble.disk.twice"),
        )
        whole = morning_page(brief, garden, lead=lead, typographic=typographic)
        return replace(whole, subject=say("notice.twice", trouble=trouble, subject=whole.subject))

    return _notice(brief.on, garden, NoticeKind.TROUBLE, occasion, page, created_at, expires_at)


def _part(brief: Brief, tasks: Sequence[Task], alerts: Sequence[Alert]) -> Brief:
    """Return a brief of some tasks and alerts alone."""
    return replace(
        brief,
        tasks=tuple(tasks),
        alerts=tuple(alerts),
        questions=(),
        not_told=(),
        outlooks=(),
        preparing=(),
        crowding=(),
    )


def _without_next(page: Page) -> Page:
    return replace(page, next="", pictures=())


def _all_of(tasks: Iterable[Task], brief: Brief) -> _Explained:
    """Return the kinds of tasks as explained in the mail of the morning."""
    return {task.kind: brief.on for task in tasks}


def trouble_notice(
    garden: Garden,
    on: date,
    occasion: str,
    sentences: Sequence[str],
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return word of a trouble of Strawbell's own; `occasion` names it ("forecast")."""
    tongue, row = Voice.of(garden, on).tongue, occasion.replace(" ", "-")
    heading = tongue.known(f"trouble.{row}.head") or tongue.say("trouble.other.head")
    remedy = tongue.known(f"trouble.{row}.help") or tongue.say("trouble.other.help")
    said = (*(_sentence(sentence) for sentence in sentences), remedy)
    return _plain(garden, on, NoticeKind.TROUBLE, occasion, heading, said, created_at, expires_at)


def test_notice(
    garden: Garden, on: date, occasion: str, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return a test of the channels: nothing in it is to be done."""
    voice = Voice.of(garden, on)
    at = voice.clock(garden.times.morning)
    said = (voice.say("notice.test-nothing"), voice.say("notice.test-mornings", at=at))
    heading = voice.say("notice.test")
    return _plain(garden, on, NoticeKind.TEST, occasion, heading, said, created_at, expires_at)


def answer_notice(
    garden: Garden,
    on: date,
    occasion: str,
    heading: str,
    sentences: Sequence[str],
    created_at: datetime,
    expires_at: datetime,
    asking: Asking | None = None,
) -> Notice:
    """Return what is said back to an answer: a question, the steps, a reminder."""
    return _plain(
        garden, on, NoticeKind.ANSWER, occasion, heading, sentences, created_at, expires_at, asking
    )


def _plain(
    garden: Garden,
    on: date,
    kind: NoticeKind,
    occasion: str,
    heading: str,
    sentences: Sequence[str],
    created_at: datetime,
    expires_at: datetime,
    asking: Asking | None = None,
) -> Notice:
    """Return a notice that rests on no brief."""

    def page(typographic: bool) -> Page:
        voice = Voice.of(garden, on, typographic=typographic)
        mood = Mood.URGENT if kind is NoticeKind.TROUBLE else Mood.QUIET
        return Page(
            subject=heading,
            garden=name(garden.name),
            date=voice.day(on),
            band=Band(mood, voice.long_day(on), heading),
            line=voice.say("notice.heading", heading=heading),
            lines=tuple(sentences),
            tongue=voice.tongue,
        )

    return _notice(on, garden, kind, occasion, page, created_at, expires_at, asking)


def _notice(
    on: date,
    garden: Garden,
    kind: NoticeKind,
    occasion: str,
    page: _Paged,
    created_at: datetime,
    expires_at: datetime,
    asking: Asking | None = None,
) -> Notice:
    """Return a page as a notice; it is made once plain for the text and once for print."""
    plain, fine = page(False), page(True)
    return Notice(
        garden=garden.name,
        local_date=on,
        kind=kind,
        occasion=occasion,
        subject=_subject(plain.subject, plain.garden),
        text=page_text(plain, TEXT_PLACE if asking else ""),
        html=page_html(fine, PAGE_PLACE if asking else ""),
        short=_short(plain),
        created_at=created_at,
        expires_at=expires_at,
        asking=asking,
        urgency=_URGENCY.index(plain.band.mood),
        locale=plain.tongue.locale,
    )


_URGENCY = (Mood.QUIET, Mood.WAIT, Mood.WORK, Mood.URGENT)


def _subject(subject: str, garden: str) -> str:
    """Return a subject, with the garden where a phone still shows it."""
    said = cut(clean(subject), SUBJECT_LIMIT)
    named = f"{said} ({garden})"
    return named if len(named) <= SUBJECT_LIMIT else said


def _short(page: Page) -> str:
    """Return the work of a day in one or two sentences, or its subject where it is longer."""
    said = clean(page.line)
    return said if len(said) <= SHORT_LIMIT else f"{cut(clean(page.subject), SHORT_LIMIT - 1)}."


def _troubles(troubles: Sequence[str], garden: Garden, on: date) -> str:
    said = " ".join(_sentence(trouble) for trouble in troubles)
    return Voice.of(garden, on).say("notice.not-arrived", troubles=said)


def _sentence(text: str) -> str:
    said = cut(clean(text), SENTENCE_LIMIT)
    return said if said.endswith((".", "!", "?")) else f"{said}."
