"""Notices for every channel: subject, text, HTML, and one or two sentences for the desktop."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from types import MappingProxyType
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
from strawbell.words.escaping import clean, cut, listing, name
from strawbell.words.html import page_html
from strawbell.words.merge import merge_tasks
from strawbell.words.morning import morning_page
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
) -> Notice:
    """Return the morning's brief; `troubles` are sentences on notices that did not arrive.

    `asked` are questions that go before everything else; `heard` says what the grower's answers
    since the last brief were taken for; `explained` when work of a kind was explained before;
    `is_away` that nobody is there to do it; `week` what is told for the days ahead as well.
    """
    lead = tuple(clean(question) for question in asked)
    lead += (heard,) if heard else ()
    lead += (_troubles(troubles),) if troubles else ()
    asking = asking_of(brief.tasks, garden, brief.questions, is_late=is_away)

    if week is not None and asking is not None:
        asking = replace(asking, silence=Silence.WATERED)

    def page(typographic: bool) -> Page:
        whole = morning_page(brief, garden, explained, lead, typographic=typographic)
        if week is None:
            return whole
        return week_page(whole, week, brief, garden, typographic=typographic)

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
        lead = ("This replaces what I wrote this morning.",) if tasks else ()
        whole = _without_next(
            morning_page(changed, garden, _all_of(tasks, brief), lead, typographic=typographic)
        )
        said = tuple(_PASSED[code] for code in over)
        fed = any(task.action is Action.FEED and task.state is State.DUE for task in tasks)
        subject = _lifted(fed, over) or whole.subject
        if tasks or alerts:
            return replace(whole, subject=subject, lines=(*whole.lines, *said))
        first, *rest = said or ("Nothing is new.",)
        band = Band(Mood.QUIET, whole.band.above, first.rstrip("."))
        return replace(whole, subject=subject, band=band, line=first, lines=tuple(rest))

    return _notice(
        brief.on, garden, NoticeKind.CHANGE, occasion, page, created_at, expires_at, asking
    )


def _lifted(fed: bool, over: Sequence[AlertCode]) -> str:
    """Return the subject of what has passed, "" where something new is told."""
    why = {AlertCode.HEAVY_RAIN: "the rain has moved off", AlertCode.FROST: "no frost"}
    said = next((why[code] for code in over if code in why), "")
    if fed:
        return f"You can feed after all{f': {said}' if said else ''}"
    return (
        f"{said[0].upper()}{said[1:]} after all"
        if said == "no frost"
        else (f"{said[0].upper()}{said[1:]}" if said else "")
    )


_PASSED: Mapping[AlertCode, str] = {
    **dict.fromkeys(AlertCode, "What I warned of has passed."),
    AlertCode.HEAVY_RAIN: "The rain has moved off: covers over bales may come off.",
    AlertCode.FROST: "No frost tonight after all: plants need no cover. In doubt, cover them.",
    AlertCode.FREEZE: "No frost after all.",
}


def evening_notice(
    brief: Brief,
    garden: Garden,
    protect: Sequence[Alert],
    prepare: Sequence[Task],
    created_at: datetime,
    expires_at: datetime,
    supplies: Sequence[str] = (),
) -> Notice:
    """Return what to protect tonight and what to have at hand tomorrow; `supplies` sentences."""
    covering = tuple(
        task for task in brief.tasks if task.action is Action.PROTECT and task.state is State.DUE
    )
    tonight = _part(brief, covering, protect)

    def page(typographic: bool) -> Page:
        whole = _without_next(
            morning_page(tonight, garden, _all_of(covering, brief), typographic=typographic)
        )
        voice = Voice.of(garden, brief.on, typographic=typographic)
        words = [task_words(each, voice, lead="Tomorrow") for each in merge_tasks(prepare)]
        tomorrow = tuple(f"{each.brief}. Have it at hand." for each in words)
        later = (*tomorrow, *(clean(item) for item in supplies))
        if whole.why or covering or protect:
            return replace(whole, lines=(*whole.lines, *later))
        nouns = listing(noun(each.action, voice.tongue) for each in words)
        subject = f"For tomorrow: {nouns}" if nouns else "Supplies are needed soon"
        band = Band(Mood.WORK, whole.band.above.replace("Today", "This evening"), subject)
        first, *rest = later or ("Nothing to prepare.",)
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
        lead = (f"Good morning, {name(helper.name)}.",) if helper.name else ()
        part = _part(brief, due, alerts)
        whole = _without_next(morning_page(part, garden, explained, lead, typographic=typographic))
        return replace(whole, paragraphs=(*whole.paragraphs, _PASSED_ON))

    return _notice(
        brief.on, garden, NoticeKind.MORNING, "", page, created_at, expires_at,
        asking_of(due, garden),
    )  # fmt: skip


_PASSED_ON = 'Something looks wrong? Reply "note" and what you see; it reaches the grower.'


def all_clear_notice(
    garden: Garden, brief: Brief, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return word that forecasts are back, with the day's work as it is judged now."""

    def page(typographic: bool) -> Page:
        lead = ("Forecasts are back. Today's work, judged again:",)
        explained = _all_of(brief.tasks, brief)
        whole = morning_page(brief, garden, explained, lead, typographic=typographic)
        return replace(_without_next(whole), subject="Forecasts are back")

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
        lead = (f"{_TROUBLES['disk']}.", _sentence(sentence), _REMEDIES["disk"], _NOT_TWICE)
        whole = morning_page(brief, garden, lead=lead, typographic=typographic)
        return replace(whole, subject=f"{_TROUBLES['disk']}: {whole.subject}")

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
    return replace(page, next="", ahead=())


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
    heading = _TROUBLES.get(occasion, "Strawbell needs your help")
    remedy = _REMEDIES.get(occasion, "strawbell journal shows what was tried.")
    said = (*(_sentence(sentence) for sentence in sentences), remedy)
    return _plain(garden, on, NoticeKind.TROUBLE, occasion, heading, said, created_at, expires_at)


def test_notice(
    garden: Garden, on: date, occasion: str, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return a test of the channels: nothing in it is to be done."""
    morning = Voice.of(garden, on).clock(garden.times.morning)
    said = ("There is nothing to do.", f"Your mornings will come the same way, at {morning}.")
    heading = "Test: this notice reached you"
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
            line=f"{heading}.",
            lines=tuple(sentences),
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


def _troubles(troubles: Sequence[str]) -> str:
    said = " ".join(_sentence(trouble) for trouble in troubles)
    return f"Earlier notices did not arrive. {said}"


def _sentence(text: str) -> str:
    said = cut(clean(text), SENTENCE_LIMIT)
    return said if said.endswith((".", "!", "?")) else f"{said}."


_TROUBLES: MappingProxyType[str, str] = MappingProxyType(
    {
        "forecast": "No forecast can be had",
        "delivery": "Notices do not arrive",
        "answers": "Your answers cannot be read",
        "disk": "The store cannot be written",
        "disk at start": "Strawbell cannot begin, its store cannot be opened",
        "disk back": "The store can be written again",
        "copy": "Today's copy of the store could not be kept",
        "store": "The store was damaged and has been mended",
    }
)
_NOT_TWICE = (
    "Once the store is back, the morning may come a second time: do nothing twice, above all no "
    "feeding, and record then what you did."
)
_REMEDIES: MappingProxyType[str, str] = MappingProxyType(
    {
        "answers": (
            "Until that is mended nothing you reply is heard, and silence counts as said in each "
            "notice. Look at the settings, then run strawbell check --connect; strawbell record "
            "takes your word meanwhile."
        ),
        "forecast": (
            "Mornings still come, but nothing is held or warned of by the weather until a forecast "
            "is back; you will be told then. Look at the sky and at a thermometer meanwhile. The "
            "command strawbell check --connect tries every service."
        ),
        "delivery": "The command strawbell ring tries every channel and says what became of it.",
        "disk": (
            "Make room on the disk, or mend the rights of the folder of the store; nothing has to "
            "be restarted. Until then nothing is recorded, so this comes only once, no change of "
            "the weather is told, and what you record is refused. The command strawbell today "
            "shows what is due."
        ),
        "disk at start": (
            "Make room on the disk, or mend the rights of the folder of the store; nothing has to "
            "be restarted. Until then no reminder comes: go by the last one, and mind the weather "
            "yourself."
        ),
        "disk back": (
            "The reminders that waited are sent now. Do not do again what you have done by an "
            "earlier mail, above all no feeding: record it, strawbell record done, for a past day "
            "with --at."
        ),
        "copy": (
            "Reminders go on. The copy is what the store is restored from when it is damaged; it "
            "is tried again every day."
        ),
        "store": (
            "What was told and recorded last may be missing from it. Look at strawbell journal, "
            "and record again what you have done since its last row: strawbell record done, for a "
            "past day with --at. Mind feedings above all, so that none is asked of you twice."
        ),
    }
)
