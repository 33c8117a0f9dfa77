"""What is said back to an answer, and about one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from strawbell.model.answers import Heard
from strawbell.model.brief import Task
from strawbell.model.garden import Garden
from strawbell.model.notice import Notice, NoticeKind, OutboxRow
from strawbell.words.advice import task_words
from strawbell.words.asking import asking_of
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import clean, cut, name
from strawbell.words.merge import merge_tasks
from strawbell.words.morning import how_lines
from strawbell.words.notices import answer_notice
from strawbell.words.voice import Voice, day

SAID_LIMIT = 120
"""Longest piece of an answer that is repeated [characters]."""


def question_notice(
    garden: Garden,
    on: date,
    heard: Heard,
    why: str,
    tasks: Sequence[Task],
    mark: str,
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return the question what an answer meant; `why` is what is wrong with it, "" for a doubt.

    `mark` tells the question of one token from that of another.
    """
    asking = asking_of(tasks, garden)
    voice = Voice.of(garden, on)
    said = cut(clean(heard.said), SAID_LIMIT)
    typed = voice.say("question.typed", said=said) if said else ""
    doubt = voice.say("question.nothing")
    if heard.doubt is not None and not why:
        doubt = voice.tongue.of("doubt", heard.doubt)
    ways = voice.say("question.ways")
    sentences = [part for part in (f"{typed} {why}".strip(), doubt, ways) if part]
    heading = voice.say("question.heading", day=voice.day(on))
    return answer_notice(
        garden, on, f"question {mark}", heading, sentences, created_at, expires_at, asking
    )


def how_notice(
    garden: Garden,
    on: date,
    tasks: Iterable[Task],
    mark: str,
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return the steps of work."""
    said = [" ".join(lines) for lines in how_lines(tasks, garden, on)]
    heading = Voice.of(garden, on).say("question.how")
    return answer_notice(garden, on, f"how {mark}", heading, said, created_at, expires_at)


def reminder_notice(
    garden: Garden, on: date, tasks: Sequence[Task], created_at: datetime, expires_at: datetime
) -> Notice:
    """Return the work of the day once more, as it was asked for."""
    voice = Voice.of(garden, on)
    steps = [task_words(each, voice) for each in merge_tasks(tasks)]
    still = [
        task_words(each, voice, lead=voice.say("question.still")) for each in merge_tasks(tasks)[:1]
    ]
    sentences = [voice.say("question.remind"), *(each.line for each in steps)]
    heading = still[0].brief if still else voice.say("question.nothing-left")
    asking = asking_of(tasks, garden)
    return answer_notice(garden, on, "reminder", heading, sentences, created_at, expires_at, asking)


def warning_notice(
    garden: Garden,
    on: date,
    sentences: Sequence[str],
    created_at: datetime,
    expires_at: datetime,
) -> Notice:
    """Return what cannot wait for the next brief about a reading that came as an answer."""
    heading, *rest = sentences
    return answer_notice(garden, on, "warning", heading.rstrip("."), rest, created_at, expires_at)


def bounce_notice(
    row: OutboxRow, said: str, tongue: Tongue, created_at: datetime, expires_at: datetime
) -> Notice:
    """Return word that a mail came back, for the channels it did not go by."""
    text = tongue.say(
        "question.bounce",
        subject=clean(row.subject),
        day=day(row.local_date, tongue),
        recipient=clean(row.recipient),
        said=cut(clean(said), SAID_LIMIT),
    )
    return Notice(
        garden=row.garden,
        local_date=row.local_date,
        kind=NoticeKind.TROUBLE,
        occasion=f"came back {row.message_id}",
        subject=tongue.say("question.bounce-subject", garden=name(row.garden)),
        text=text + "\n",
        html="",
        short=text,
        created_at=created_at,
        expires_at=expires_at,
        locale=tongue.locale,
    )
