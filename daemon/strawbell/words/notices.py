"""Notices for every channel: subject, text, HTML, and one or two sentences for the desktop.

The day's work, a change of it, the same watering told once for the days ahead, trouble, and what is
said back to an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec.structs import replace

from strawbell.model.brief import (
    Action,
    Alert,
    AlertCode,
    AlertKey,
    Also,
    Brief,
    State,
    Task,
    Week,
    WorkKind,
)
from strawbell.model.configuration import Helper
from strawbell.model.garden import Garden
from strawbell.model.notice import Asking, Heard, Notice, NoticeKind, OutboxRow, Silence, Useful
from strawbell.words.advice import (
    NOTHING_EXPLAINED,
    SUBJECT_LIMIT,
    noun,
    task_words,
    waits_for_no_water,
)
from strawbell.words.asking import NOTHING_ASKED, PAGE_PLACE, TEXT_PLACE, asking_of, waters
from strawbell.words.catalogue import BRITISH, Tongue
from strawbell.words.escaping import clean, cut, name
from strawbell.words.merge import merge_tasks, merged
from strawbell.words.morning import heading_above, how_lines, morning_page
from strawbell.words.page import Band, Mood, Page, Steps, page_html, page_text
from strawbell.words.voice import NOON_HOUR, Voice

_WATERING = frozenset({Action.WATER, Action.SURFACE_WATER})
MOST_FIGURES = 2
"""Amounts that are written large side by side."""


def week_page(page: Page, week: Week, brief: Brief, garden: Garden, *, typographic: bool) -> Page:
    """Return the page of a morning as the word for the days up to the last of a week."""
    voice = Voice.of(garden, brief.on, typographic=typographic)
    measures, say = voice.measures, voice.measures.tongue.say
    until = voice.near_day(week.until)
    named = len(garden.batches) > 1
    said = [
        (measures.water(each.litres), each.litres, name(each.batch) if named else None, each)
        for each in week.portions
    ]
    amounts = {amount if litres else None for amount, litres, _, _ in said}
    first = {(each.batch, each.action): each for each in brief.tasks}
    portions = tuple(
        say(
            "week.portion",
            batch=batch,
            amount=amount,
            total=measures.water(litres * voice.places[each.batch]),
        )
        if litres and each.times_a_day == 1
        else task_words(merged((first[each.batch, each.action],)), voice).line
        for amount, litres, batch, each in said
    )
    figures = tuple((amount, say("week.each", batch=batch)) for amount, of, batch, _ in said if of)
    today = merge_tasks(each for each in brief.tasks if each.action not in _WATERING)
    looks_first = any(Also.LOOK_FIRST in each.also for each in first.values())
    rain = say("week.rain", rain=measures.rain(brief.weather.rain_mm))
    lead = _lead(brief.on, voice)
    extras = [task_words(each, voice, lead=lead).line for each in today]
    heading = say("week.heading", until=until)
    return replace(
        page,
        subject=say("week.subject", amount=amounts.pop() if len(amounts) == 1 else None),
        band=replace(page.band, heading=heading, figures=figures[:MOST_FIGURES], below=""),
        line=say("week.line", until=until),
        more=(),
        lines=(*portions, *((rain,) if looks_first else ()), *extras),
        why=(),
        next="",
        pictures=(),
        paragraphs=(
            *page.paragraphs,
            *_ahead(week, brief, voice),
            say("week.word"),
            say("week.missed"),
        ),
    )


def _ahead(week: Week, brief: Brief, voice: Voice) -> Iterator[str]:
    """Yield the other work of the days ahead, that of a day for several batches in one line."""
    told = {(each.on, each.key) for each in week.extras}
    for ahead in brief.ahead:
        found = (task for task in ahead.tasks if (ahead.on, task.key.text()) in told)
        for each in merge_tasks(found):
            yield task_words(each, voice, lead=_lead(ahead.on, voice)).line


def _lead(on: date, voice: Voice) -> str:
    return voice.say("week.also", near=voice.nearness(on), day=voice.near_day(on))


SHORT_LIMIT = 240
"""Longest desktop notice [characters]: three or four lines on most servers."""
SENTENCE_LIMIT = 450
"""Longest sentence of somebody else that is repeated [characters]."""

_Explained = Mapping[WorkKind, date]
_Paged = Callable[[bool], Page]


def morning_notice(
    brief: Brief,
    garden: Garden,
    useful: Useful,
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

    return _notice(brief.on, garden.name, NoticeKind.MORNING, "", page, useful, asking)


def change_notice(
    brief: Brief,
    garden: Garden,
    tasks: Sequence[Task],
    alerts: Sequence[Alert],
    passed: Sequence[AlertKey],
    occasion: str,
    useful: Useful,
) -> Notice:
    """Return what changed since the morning: `tasks` and `alerts` as they are now.

    `passed` are alerts that no longer stand. The steps were told in the morning.
    """
    over = tuple(dict.fromkeys(key.code for key in passed))
    local = useful.since.astimezone(garden.place.zone)
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
        rest.append(voice.say("change.rest"))
        head = voice.say(f"passed.{passed_on[0]}.head") if over else voice.say("change.nothing")
        band = Band(Mood.QUIET, whole.band.above, head)
        return replace(whole, subject=subject, band=band, line=first, lines=tuple(rest))

    return _notice(brief.on, garden.name, NoticeKind.CHANGE, occasion, page, useful, asking)


_LIFTED = (AlertCode.HEAVY_RAIN, AlertCode.FROST)
_PASSED = (*_LIFTED, AlertCode.FREEZE)
"""Warnings that have words of their own for having passed."""


def evening_notice(
    brief: Brief,
    garden: Garden,
    protect: Sequence[Alert],
    prepare: Sequence[Task],
    useful: Useful,
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
        brief.on, garden.name, NoticeKind.EVENING, "", page, useful,
        asking_of(covering, garden),
    )  # fmt: skip


def helper_notice(
    brief: Brief,
    garden: Garden,
    helper: Helper,
    useful: Useful,
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
        brief.on, garden.name, NoticeKind.MORNING, "", page, useful,
        asking_of(due, garden),
    )  # fmt: skip


def all_clear_notice(garden: Garden, brief: Brief, useful: Useful) -> Notice:
    """Return word that forecasts are back, with the day's work as it is judged now."""

    def page(typographic: bool) -> Page:
        say = Voice.of(garden, brief.on).say
        lead = (say("forecast.again"),)
        explained = _all_of(brief.tasks, brief)
        whole = morning_page(brief, garden, explained, lead, typographic=typographic)
        return replace(_without_next(whole), subject=say("forecast.back"))

    local = useful.since.astimezone(garden.place.zone)
    asking = asking_of(brief.tasks, garden, brief.questions, is_late=local.hour >= NOON_HOUR)
    return _notice(brief.on, garden.name, NoticeKind.ALL_CLEAR, "forecast", page, useful, asking)


def unrecorded_morning_notice(
    garden: Garden,
    brief: Brief,
    occasion: str,
    sentence: str,
    useful: Useful,
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

    return _notice(brief.on, garden.name, NoticeKind.TROUBLE, occasion, page, useful)


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
    useful: Useful,
) -> Notice:
    """Return word of a trouble of Strawbell's own; `occasion` names it ("forecast")."""
    tongue, row = Voice.of(garden, on).tongue, occasion.replace(" ", "-")
    heading = tongue.known(f"trouble.{row}.head") or tongue.say("trouble.other.head")
    remedy = tongue.known(f"trouble.{row}.help") or tongue.say("trouble.other.help")
    said = (*(_sentence(sentence) for sentence in sentences), remedy)
    return _plain(garden.name, tongue, on, NoticeKind.TROUBLE, occasion, heading, said, useful)


def undelivered_notice(
    row: OutboxRow,
    occasion: str,
    heading: str,
    sentences: Sequence[str],
    useful: Useful,
    tongue: Tongue = BRITISH,
) -> Notice:
    """Return word of messages that did not arrive, for the channels they did not go by.

    `row` is one of them; its garden may no longer be in the plan. A desktop gets every sentence,
    since there may be no other way left.
    """
    said, kind = tuple(map(clean, sentences)), NoticeKind.TROUBLE
    made = _plain(row.garden, tongue, row.local_date, kind, occasion, heading, said, useful)
    return replace(made, short=" ".join(said))


def test_notice(garden: Garden, on: date, occasion: str, useful: Useful) -> Notice:
    """Return a test of the channels: nothing in it is to be done."""
    voice = Voice.of(garden, on)
    at = voice.clock(garden.times.morning)
    said = (voice.say("notice.test-nothing"), voice.say("notice.test-mornings", at=at))
    heading = voice.say("notice.test")
    tongue = voice.tongue
    return _plain(garden.name, tongue, on, NoticeKind.TEST, occasion, heading, said, useful)


def answer_notice(
    garden: Garden,
    on: date,
    occasion: str,
    heading: str,
    sentences: Sequence[str],
    useful: Useful,
    asking: Asking | None = None,
    blocks: Sequence[Steps] = (),
    after: Sequence[str] = (),
) -> Notice:
    """Return what is said back to an answer: a question, the steps, a reminder."""
    tongue = Voice.of(garden, on).tongue
    return _plain(
        garden.name, tongue, on, NoticeKind.ANSWER, occasion, heading, sentences, useful, asking,
        blocks, after,
    )  # fmt: skip


def _plain(
    garden: str,
    tongue: Tongue,
    on: date,
    kind: NoticeKind,
    occasion: str,
    heading: str,
    sentences: Sequence[str],
    useful: Useful,
    asking: Asking | None = None,
    blocks: Sequence[Steps] = (),
    after: Sequence[str] = (),
) -> Notice:
    """Return a notice that rests on no brief; `after` follows what silence means."""
    mood = Mood.URGENT if kind is NoticeKind.TROUBLE else Mood.QUIET
    page = Page(
        subject=heading,
        garden=name(garden),
        date=tongue.day(on),
        band=Band(mood, tongue.date("date.heading", on), heading),
        line=tongue.say("notice.heading", heading=heading),
        lines=tuple(sentences),
        blocks=tuple(blocks),
        paragraphs=tuple(after),
        tongue=tongue,
    )
    return _notice(on, garden, kind, occasion, lambda _: page, useful, asking)


def _notice(
    on: date,
    garden: str,
    kind: NoticeKind,
    occasion: str,
    page: _Paged,
    useful: Useful,
    asking: Asking | None = None,
) -> Notice:
    """Return a page as a notice; it is made once plain for the text and once for print."""
    plain, fine = page(False), page(True)
    if asking is None and kind in _OF_THE_DAY:
        asking = NOTHING_ASKED
    return Notice(
        garden=garden,
        local_date=on,
        kind=kind,
        occasion=occasion,
        subject=_subject(plain.subject, plain.garden),
        text=page_text(plain, TEXT_PLACE if asking else ""),
        html=page_html(fine, PAGE_PLACE if asking else ""),
        short=_short(plain),
        created_at=useful.since,
        expires_at=useful.until,
        asking=asking,
        urgency=_URGENCY.index(plain.band.mood),
        locale=plain.tongue.locale,
    )


_OF_THE_DAY = frozenset(
    {NoticeKind.MORNING, NoticeKind.EVENING, NoticeKind.CHANGE, NoticeKind.ALL_CLEAR}
)
"""Each of them says what silence means, be it nothing."""
_URGENCY = (Mood.QUIET, Mood.WAIT, Mood.WORK, Mood.URGENT)


def _subject(subject: str, garden: str) -> str:
    """Return a subject, with the garden where a phone still shows it."""
    said = cut(clean(subject), SUBJECT_LIMIT)
    named = f"{said} ({garden})"
    return named if len(named) <= SUBJECT_LIMIT else said


def _short(page: Page) -> str:
    """Return the work of a day as far as it fits, and how much more there is.

    Silence takes all of it for done, so that none may go unsaid.
    """
    said, lines = clean(page.line), [clean(each) for each in page.lines]
    if len(said) > SHORT_LIMIT:
        said = f"{cut(clean(page.subject), SHORT_LIMIT - 1)}."
    fitting = [said]
    for told in range(len(lines) + 1):
        left = len(lines) - told
        more = [page.tongue.say("notice.more", count=left)] if left else []
        whole = " ".join((said, *lines[:told], *more))
        if len(whole) <= SHORT_LIMIT:
            fitting.append(whole)
    return fitting[-1]


def _troubles(troubles: Sequence[str], garden: Garden, on: date) -> str:
    said = " ".join(_sentence(trouble) for trouble in troubles)
    return Voice.of(garden, on).say("notice.not-arrived", troubles=said)


def _sentence(text: str) -> str:
    said = cut(clean(text), SENTENCE_LIMIT)
    return said if said.endswith((".", "!", "?", "…")) else f"{said}."


SAID_LIMIT = 120
"""Longest piece of an answer that is repeated [characters]."""


def question_notice(
    garden: Garden,
    on: date,
    heard: Heard,
    why: str,
    tasks: Sequence[Task],
    mark: str,
    useful: Useful,
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
    sentences = [part for part in (f"{typed} {why}".strip(), doubt) if part]
    heading = voice.say("question.heading", day=voice.day(on))
    return answer_notice(
        garden, on, f"question {mark}", heading, sentences, useful, asking,
        after=(ways,),
    )  # fmt: skip


def how_notice(
    garden: Garden,
    on: date,
    tasks: Iterable[Task],
    mark: str,
    useful: Useful,
) -> Notice:
    """Return the steps of work."""
    blocks = [Steps(line, tuple(steps)) for line, *steps in how_lines(tasks, garden, on)]
    heading = Voice.of(garden, on).say("question.how")
    return answer_notice(garden, on, f"how {mark}", heading, (), useful, blocks=blocks)


def reminder_notice(garden: Garden, on: date, tasks: Sequence[Task], useful: Useful) -> Notice:
    """Return the work of the day once more, as it was asked for."""
    voice = Voice.of(garden, on)
    steps = [task_words(each, voice) for each in merge_tasks(tasks)]
    still = [
        task_words(each, voice, lead=voice.say("question.still")) for each in merge_tasks(tasks)[:1]
    ]
    sentences = [voice.say("question.remind"), *(each.line for each in steps)]
    heading = still[0].brief if still else voice.say("question.nothing-left")
    asking = asking_of(tasks, garden)
    return answer_notice(garden, on, "reminder", heading, sentences, useful, asking)


def warning_notice(
    garden: Garden,
    on: date,
    sentences: Sequence[str],
    useful: Useful,
) -> Notice:
    """Return what cannot wait for the next brief about a reading that came as an answer."""
    heading, *rest = sentences
    return answer_notice(garden, on, "warning", heading.rstrip("."), rest, useful)


def bounce_notice(row: OutboxRow, said: str, tongue: Tongue, useful: Useful) -> Notice:
    """Return word that a mail came back, for the channels it did not go by."""
    text = tongue.say(
        "question.bounce",
        subject=clean(row.subject),
        day=tongue.day(row.local_date),
        recipient=clean(row.recipient),
        said=_sentence(cut(clean(said), SAID_LIMIT)),
    )
    heading, occasion = tongue.say("question.bounce-head"), f"came back {row.message_id}"
    return undelivered_notice(row, occasion, heading, (text,), useful, tongue)
