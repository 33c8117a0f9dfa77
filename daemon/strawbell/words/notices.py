"""Notices for every channel: subject, text, HTML, and one or two sentences for the desktop."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from types import MappingProxyType
from zoneinfo import ZoneInfo

from strawbell.model.brief import Action, Alert, AlertCode, AlertKey, Brief, State, Task
from strawbell.model.garden import Garden
from strawbell.model.notice import Asking, Notice, NoticeKind
from strawbell.words.advice import TaskWords, task_words
from strawbell.words.alerts import ALERT_TITLES, AlertWords, merged_alerts
from strawbell.words.asking import PAGE_PLACE, TEXT_PLACE, asking_of
from strawbell.words.brief_view import (
    GARDEN_LIMIT,
    Outline,
    headline_of,
    outline,
    said_already,
    subject_of,
    told_words,
)
from strawbell.words.escaping import capital, clean, clean_lines, cut, name, wrap
from strawbell.words.html import Section, brief_html, letter_html
from strawbell.words.merge import merge_tasks
from strawbell.words.text import alert_text, outline_text, section, source_text, task_sentences
from strawbell.words.voice import NOON_HOUR, clock, day, long_day

SHORT_LIMIT = 240
"""Longest desktop notice [characters]: three or four lines on most servers."""
SUBJECT_LIMIT = 150
"""Longest subject [characters]."""
MOST_PARTS = 3
"""Most things named in a heading."""


def morning_notice(
    brief: Brief,
    garden: Garden,
    created_at: datetime,
    expires_at: datetime,
    troubles: Sequence[str] = (),
    asked: Sequence[str] = (),
    heard: str = "",
    *,
    is_away: bool = False,
) -> Notice:
    """Return the morning's brief; `troubles` are sentences on notices that did not arrive.

    `asked` are questions that go before everything else; `heard` says what the grower's answers
    since the last brief were taken for; `is_away` that nobody is there to do it.
    """
    said = outline(brief, garden)
    lead = tuple(clean(question) for question in asked)
    lead += (heard,) if heard else ()
    lead += (_troubles(troubles),) if troubles else ()
    asking = asking_of(brief.tasks, garden, brief.questions, is_late=is_away)
    place, page_place = (TEXT_PLACE, PAGE_PLACE) if asking else ("", "")
    return Notice(
        garden=garden.name,
        local_date=brief.on,
        kind=NoticeKind.MORNING,
        occasion="",
        subject=_subject(subject_of(said)),
        text=outline_text(said, lead, answers=place),
        html=brief_html(brief, garden, lead, page_place),
        short=_short(headline_of(said), _next_thing(said)),
        created_at=created_at,
        expires_at=expires_at,
        asking=asking,
    )


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

    `passed` are alerts that no longer stand.
    """

    def content(said: Outline) -> _Content:
        changed, warned = _tasks(tasks, said), _alerts(alerts, said)
        over = tuple(dict.fromkeys(key.code for key in passed))
        parts = [f"{_lifted(task)}{_headline(task)}" for task in changed]
        parts += [
            alert.headline
            for alert in warned
            if not said_already(alert.code, {task.because_of for task in changed})
        ]
        parts += [f"{_low(ALERT_TITLES[code])} warning has passed" for code in over]
        held = any(task.state is State.HELD for task in changed)
        return _Content(
            heading=_heading(parts, "nothing new"),
            lead=("This replaces what the morning's brief said about it.",) if changed else (),
            sections=(
                Section(
                    "What to do now",
                    tuple(f"{capital(_lifted(task))}{task_sentences(task)}" for task in changed),
                    warns=held,
                ),
                Section("Look out", tuple(map(alert_text, warned)), warns=True),
                Section("Passed", tuple(map(_no_longer, over))),
            ),
        )

    local = created_at.astimezone(ZoneInfo(garden.place.time_zone))
    asking = asking_of(tasks, garden, is_late=local.hour >= NOON_HOUR)
    return _letter(
        brief,
        garden,
        NoticeKind.CHANGE,
        occasion,
        "Changed",
        content,
        created_at,
        expires_at,
        asking,
    )


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
    covering = [
        task for task in brief.tasks if task.action is Action.PROTECT and task.state is State.DUE
    ]

    def content(said: Outline) -> _Content:
        warned, covers = _alerts(protect, said), _tasks(covering, said)
        tomorrow = _planned(prepare, said)
        parts = [_headline(task) for task in covers]
        parts += [
            alert.headline
            for alert in warned
            if not said_already(alert.code, {task.because_of for task in covers})
        ]
        parts += [f"tomorrow {task.headline}" for task in tomorrow]
        parts += ["supplies are needed soon"] if supplies else []
        tonight = (*_task_items(covers), *map(alert_text, warned))
        return _Content(
            heading=_heading(parts, "nothing to prepare"),
            lead=(),
            sections=(
                Section("Tonight", tonight, warns=True),
                Section("Have at hand for tomorrow (a projection)", _task_items(tomorrow)),
                Section("Supplies", tuple(clean(item) for item in supplies)),
            ),
        )

    return _letter(
        brief, garden, NoticeKind.EVENING, "", "This evening", content, created_at, expires_at,
        asking_of(covering, garden),
    )  # fmt: skip


def all_clear_notice(
    garden: Garden, brief: Brief, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return word that forecasts are back, with the day's work as it is judged now."""

    def content(said: Outline) -> _Content:
        work = _task_items(said.tasks) or ("Nothing to do today.",)
        return _Content(
            heading="Forecasts are back",
            lead=("The weather is judged again. As it stands now:",),
            sections=(
                Section("Today", work),
                Section("Look out", tuple(map(alert_text, said.alerts)), warns=True),
            ),
        )

    return _letter(
        brief, garden, NoticeKind.ALL_CLEAR, "forecast", "", content, created_at, expires_at
    )


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
    return _plain_letter(
        garden, on, NoticeKind.TROUBLE, occasion, heading, said, created_at, expires_at
    )


def unrecorded_morning_notice(
    garden: Garden,
    brief: Brief,
    occasion: str,
    sentence: str,
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return the work of a morning that the store did not take; `sentence` says what it said."""

    def content(said: Outline) -> _Content:
        due = [task for task in said.tasks if task.state is State.DUE]
        warned = tuple(map(alert_text, said.alerts))
        return _Content(
            heading=_heading(["the store cannot be written", *map(_headline, due)], ""),
            lead=(_sentence(sentence), _REMEDIES["disk"], _NOT_TWICE),
            sections=(
                Section("Today", _task_items(said.tasks) or ("Nothing to do today.",)),
                Section("Look out", warned, warns=True),
            ),
        )

    return _letter(brief, garden, NoticeKind.TROUBLE, occasion, "", content, created_at, expires_at)


def test_notice(
    garden: Garden, on: date, occasion: str, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return a test of the channels: nothing in it is to be done."""
    said = (
        "You asked Strawbell to test its channels. There is nothing to do.",
        f"Your mornings will come the same way, at {clock(garden.times.morning)} on the garden's "
        "clock.",
    )
    heading = "Test: this notice reached you"
    return _plain_letter(
        garden, on, NoticeKind.TEST, occasion, heading, said, created_at, expires_at
    )


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
    return _plain_letter(
        garden, on, NoticeKind.ANSWER, occasion, heading, sentences, created_at, expires_at, asking
    )


@dataclass(frozen=True, slots=True)
class _Content:
    """What a letter says; made once plain for the text and once typographic for the page."""

    heading: str
    lead: tuple[str, ...]
    sections: tuple[Section, ...]


def _letter(
    brief: Brief,
    garden: Garden,
    kind: NoticeKind,
    occasion: str,
    head: str,
    content: Callable[[Outline], _Content],
    created_at: datetime,
    expires_at: datetime,
    asking: Asking | None = None,
) -> Notice:
    """Return a notice about part of a brief, with the forecast that it rests on."""
    said, fine = outline(brief, garden), outline(brief, garden, typographic=True)
    plain, page = content(said), content(fine)
    sections = [part for part in plain.sections if part.items]
    before = f"{head}, {day(brief.on)}" if head else day(brief.on)
    what = f"{plain.heading[0].lower()}{plain.heading[1:]}"
    subject = _subject(f"{before}: {what} ({cut(said.garden, GARDEN_LIMIT)})")
    blocks = [
        wrap(f"{said.garden}, {long_day(brief.on)}"),
        wrap(f"{plain.heading}."),
        *(wrap(sentence) for sentence in plain.lead),
        *(section(f"{part.head}:", part.items) for part in sections),
        *((TEXT_PLACE,) if asking else ()),
        source_text(said),
    ]
    html = letter_html(
        subject,
        fine.garden,
        long_day(brief.on),
        page.heading,
        page.lead,
        [part for part in page.sections if part.items],
        fine,
        PAGE_PLACE if asking else "",
    )
    return Notice(
        garden=garden.name,
        local_date=brief.on,
        kind=kind,
        occasion=occasion,
        subject=subject,
        text=clean_lines("\n\n".join(blocks)) + "\n",
        html=html,
        short=_short(plain.heading, _second_sentence(sections)),
        created_at=created_at,
        expires_at=expires_at,
        asking=asking,
    )


def _plain_letter(
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
    shown = name(garden.name)
    place = (TEXT_PLACE,) if asking else ()
    first = (wrap(f"{shown}, {long_day(on)}"), wrap(f"{heading}."))
    subject = _subject(f"{day(on)}: {heading} ({cut(shown, GARDEN_LIMIT)})")
    return Notice(
        garden=garden.name,
        local_date=on,
        kind=kind,
        occasion=occasion,
        subject=subject,
        text=clean_lines("\n\n".join((*first, *map(wrap, sentences), *place))) + "\n",
        html=letter_html(
            subject, shown, long_day(on), heading, sentences, answers=PAGE_PLACE if asking else ""
        ),
        short=_short(heading, sentences[0] if sentences else ""),
        created_at=created_at,
        expires_at=expires_at,
        asking=asking,
    )


def _tasks(tasks: Iterable[Task], said: Outline) -> tuple[TaskWords, ...]:
    """Return today's tasks in words, judged as the brief is."""
    judged = not said.trouble
    return tuple(told_words(task, said.voice, judged=judged) for task in merge_tasks(tasks))


def _planned(tasks: Iterable[Task], said: Outline) -> tuple[TaskWords, ...]:
    """Return tasks of a later day in words: nothing is said of the coming hours."""
    return tuple(task_words(task, said.voice) for task in merge_tasks(tasks))


def _lifted(task: TaskWords) -> str:
    """Return what stands before a changed task that is due: it was told as held."""
    return "go ahead: " if task.state is State.DUE else ""


def _alerts(alerts: Iterable[Alert], said: Outline) -> tuple[AlertWords, ...]:
    return merged_alerts(alerts, said.voice)


def _task_items(tasks: Iterable[TaskWords]) -> tuple[str, ...]:
    return tuple(task_sentences(task) for task in tasks)


def _headline(task: TaskWords) -> str:
    return f"{task.headline}, {task.because}" if task.because else task.headline


def _heading(parts: Sequence[str], nothing: str) -> str:
    return capital("; ".join(parts[:MOST_PARTS]) or nothing)


def _no_longer(code: AlertCode) -> str:
    """Return that a warning has passed, and what may be undone of what it asked for."""
    said = f"{ALERT_TITLES[code]}: the warning no longer stands."
    return f"{said} {_UNDO[code]}" if code in _UNDO else said


def _low(title: str) -> str:
    return f"{title[0].lower()}{title[1:]}"


_UNDO: MappingProxyType[AlertCode, str] = MappingProxyType(
    {
        AlertCode.HEAVY_RAIN: "Covers over bales may come off.",
        AlertCode.FROST: "Plants need no cover for it; where you are in doubt, cover them.",
    }
)


def _troubles(troubles: Sequence[str]) -> str:
    said = " ".join(_sentence(trouble) for trouble in troubles)
    return f"Before today's work: earlier notices did not arrive. {said}"


def _sentence(text: str) -> str:
    said = cut(clean(text), SUBJECT_LIMIT * 3)
    return said if said.endswith((".", "!", "?")) else f"{said}."


def _next_thing(said: Outline) -> str:
    """Return what is most worth a second sentence: what to do instead, or the sum."""
    for task in said.tasks[:1]:
        if task.state is State.HELD:
            return (*task.instead, *task.why, "")[0]
        if task.in_all:
            return f"{capital(task.in_all)}."
    return ""


def _second_sentence(sections: Sequence[Section]) -> str:
    return sections[0].items[0].partition(". ")[2] if sections else ""


def _subject(subject: str) -> str:
    return cut(clean(subject), SUBJECT_LIMIT)


def _short(first: str, second: str) -> str:
    """Return at most two sentences; the second only where it fits, and only up to its stop."""
    first = cut(f"{capital(clean(first)).rstrip('.')}.", SHORT_LIMIT)
    second = clean(second)
    stop = second.find(". ")
    second = second if stop < 0 else second[: stop + 1]
    both = f"{first} {second}".strip()
    return both if len(both) <= SHORT_LIMIT else first


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
