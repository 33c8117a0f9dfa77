"""How a notice is answered, and what silence means: the one place that says it, for every medium.

A notice is worded once, and only then addressed: what it asks stands in it as a place to be
filled in with the address and the token of each recipient (`addressed`). The mornings of a
household are then one mail, the most urgent first, each answered by itself (`joined`). What comes
of the answers is told back in the next brief (`told_back`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import Action, Also, Brief, Question, State, Task, TaskKey
from strawbell.model.configuration import Helper
from strawbell.model.garden import Garden
from strawbell.model.journal import EntryKind, JournalEntry, crops_kept
from strawbell.model.notice import Asking, Notice, Silence
from strawbell.words.advice import noun, short_word, waits_for_no_water
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import clean, cut, name, wrap
from strawbell.words.page import environment
from strawbell.words.units import Measures
from strawbell.words.voice import DAY, Voice

TEXT_PLACE, PAGE_PLACE = "{{how to answer}}", "<!--how to answer-->"
"""Where in a text, and in a page, it stands how to answer."""
MOST_BUTTONS = 3
"""Some phones and desktops draw no more."""
ABOUT_LIMIT = 60
"""Longest name of the work in the subject of an answer [characters]."""
OTHER_SHARE = 0.8
"""Share of the told dose that the example of another amount names."""

_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "done": "done",
        "not today": "not-today",
        "can't": "cannot",
        "missed": "missed",
        "already fed": "already-fed",
        "later": "later",
    }
)
"""The row of the button of a word."""


def asking_of(
    tasks: Sequence[Task],
    garden: Garden,
    questions: Sequence[Question] = (),
    *,
    is_late: bool = False,
) -> Asking | None:
    """Return what work told in one notice asks, None where no work is told.

    A day without water is nothing to answer: the grower leaves the can.

    `is_late` is work that came up after noon: nobody may take it for done in silence.
    """
    tongue = Measures(garden.units).tongue
    if questions:
        first = questions[0]
        on = tongue.day(first.on)
        about = cut(tongue.say("asking.feeding", batch=name(first.batch), day=on), ABOUT_LIMIT)
        return Asking(Silence.MISSED, ("done", "missed"), about, (first.key.text(),))
    due = [task for task in tasks if task.state is State.DUE]
    dry = due if all(map(waits_for_no_water, due)) else []
    held = [task for task in tasks if task.state is State.HELD]
    if due and not dry:
        covers = all(task.action in _COVERS for task in due)
        words = ["done", "can't" if covers else "not today"]
        if any(task.times_a_day > 1 for task in due):
            words.append("later")
        silence = Silence.NOT_YET if is_late else Silence.DONE
        if any(task.is_conditional for task in due):
            silence = Silence.ASKED
        keys = tuple(task.key.text() for task in due)
        return Asking(silence, tuple(words), _about(due, tongue), keys, _example(due, garden))
    if held:
        fed = any(task.action is Action.FEED for task in held)
        keys = tuple(task.key.text() for task in held)
        return Asking(
            Silence.WAITED, ("already fed",) if fed else ("done",), _about(held, tongue), keys
        )
    if dry:
        rains = any(Also.RAIN_WATERS in task.also for task in dry)
        return replace(NOTHING_ASKED, example=tongue.say("asking.no-rain") if rains else "")
    return None


NOTHING_ASKED = Asking(Silence.NOTHING, (), "", ())
"""What a notice asks that tells of nothing to do; words of the grower's own still answer it."""


_COVERS = frozenset({Action.PROTECT, Action.UNCOVER, Action.LAY_TARP, Action.LIFT_TARP})


def _about(tasks: Sequence[Task], tongue: Tongue) -> str:
    words = {short_word(replace(task, state=State.DUE), tongue) for task in tasks}
    if len(words) > 1:
        return tongue.say("asking.today")
    batches = tongue.listing(name(task.batch) for task in tasks)
    return cut(tongue.say("asking.work", word=words.pop(), batches=batches), ABOUT_LIMIT)


def _example(tasks: Sequence[Task], garden: Garden) -> str:
    """Return an answer with another amount than told, "" where there is no dose by mass."""
    for task in tasks:
        if task.action is Action.FEED and task.dose is not None and task.dose.per_bale_g:
            measures = Measures(garden.units)
            mass = measures.mass(measures.dose_g(task.dose.per_bale_g * OTHER_SHARE))
            return measures.tongue.say("asking.example", mass=mass)
    return ""


class Button(Struct, frozen=True):
    """A word of an answer as a link; `main` is the likeliest."""

    label: str
    link: str
    main: bool


def addressed(notice: Notice, address: str = "", token: str = "", shown: str = "") -> Notice:
    """Return a notice as one recipient gets it; `shown` is the token as it stands in a subject.

    With an `address` it is answered by mail, with a `token` alone by the buttons of its channel,
    with neither by a command.
    """
    asking = notice.asking
    if asking is None:
        return replace(notice, token=token)
    tongue = Tongue(notice.locale)
    silence = tongue.of("silence", asking.silence)
    if address:
        lead, buttons = _in_words(asking, tongue), _buttons(asking, notice, address, shown)
        new_mail = tongue.say("asking.new-mail", address=address, token=shown)
        trailer = f"\n{new_mail}\n"
    elif token:
        lead, buttons, trailer = "", (), ""
    else:
        lead, buttons, trailer = _by_command(asking, tongue), (), ""
    block = "\n".join((*((wrap(lead),) if lead else ()), wrap(silence)))
    page = (
        environment()
        .get_template("asking.html.j2")
        .render(buttons=buttons, silence=silence, lead=lead, shown=shown if address else "")
    )
    return replace(
        notice,
        text=notice.text.replace(TEXT_PLACE, block) + trailer,
        html=notice.html.replace(PAGE_PLACE, page),
        short=f"{notice.short} {silence}",
        token=token,
    )


def _in_words(asking: Asking, tongue: Tongue) -> str:
    """Return the sentence that says what to reply, "" where nothing is asked."""
    if asking.silence is Silence.NOTHING:
        word = tongue.say("asking.word", word=asking.example)
        return tongue.say("asking.missed-by-rain", word=word) if asking.example else ""
    words = [tongue.say("asking.word", word=word) for word in asking.words]
    if asking.example:
        words.append(tongue.say("asking.each-bale", example=asking.example))
    return tongue.say("asking.reply", words=tongue.listing(words, "or"))


def _by_command(asking: Asking, tongue: Tongue) -> str:
    if asking.silence is Silence.NOTHING:
        return ""
    one = len(asking.keys) == 1
    key = asking.keys[0] if one else "TASK"
    said = tongue.say("asking.by-command", silence=asking.silence, key=key)
    return said if one else f"{said} {tongue.say('asking.which-task')}"


def _buttons(asking: Asking, notice: Notice, address: str, shown: str) -> tuple[Button, ...]:
    tongue = Tongue(notice.locale)
    on, say = tongue.day(notice.local_date), tongue.say
    bodies = [(say(f"button.{_LABELS[word]}"), say("mailto.body")) for word in asking.words]
    if asking.example and asking.words:
        unit = asking.example.split()[-1]
        bodies.append((say("button.other"), say("mailto.amount", unit=unit)))
    return tuple(
        _button(
            label,
            body,
            say("mailto.subject", label=label, about=asking.about, day=on, token=shown),
            address,
            main=not number,
        )
        for number, (label, body) in enumerate(bodies[:MOST_BUTTONS])
    )


def _button(label: str, body: str, subject: str, address: str, *, main: bool) -> Button:
    """Return a link that opens a finished mail (RFC 6068)."""
    link = f"mailto:{_quoted(address, '@')}?subject={_quoted(subject)}"
    return Button(label, f"{link}&body={_quoted(body)}", main)


def _quoted(text: str, also: str = "") -> str:
    """Return text as it may stand in an address (RFC 3986, section 2.3); a blank is never "+"."""
    plain = _UNRESERVED + also.encode("ascii")
    octets = text.encode("utf-8", "replace")
    return "".join(chr(octet) if octet in plain else f"%{octet:02X}" for octet in octets)


_UNRESERVED = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~"


def away_said(
    away: Mapping[date, date], brief: Brief, tongue: Tongue, helpers: Sequence[Helper] = ()
) -> str:
    """Return what a time away means on the day before it and in it, "" where there is none.

    Before it: what falls due meanwhile, as far as the days ahead are known. `helpers` look after
    the garden.
    """
    tomorrow = brief.on + DAY
    helped = (
        tongue.say("away.helped", name=name(each.name or each.address), water=each.only_water)
        for each in helpers
    )
    for first, last in away.items():
        if first <= brief.on <= last:
            return " ".join((tongue.say("away.in", day=tongue.day(last)), *helped))
        if first == tomorrow and last >= first:
            return " ".join((*_before(last, brief, tongue), *helped))
    return ""


def _before(last: date, brief: Brief, tongue: Tongue) -> tuple[str, ...]:
    say, listing = tongue.say, tongue.listing
    said = [say("away.before", day=tongue.day(last))]
    first: dict[TaskKey, tuple[Task, date]] = {}
    for ahead in brief.ahead:
        for task in ahead.tasks if ahead.on <= last else ():
            if task.state is State.DUE and not (waters(task) and not task.water_per_bale_l):
                first.setdefault(task.key, (task, ahead.on))
    words = {
        key: say(
            "away.work",
            work=noun(task.action, tongue),
            batch=name(task.batch),
            day=tongue.day(on),
        )
        for key, (task, on) in first.items()
    }
    wanted = [phrase for key, phrase in words.items() if first[key][0].action in _CANNOT_WAIT]
    waits = [phrase for key, phrase in words.items() if first[key][0].action not in _CANNOT_WAIT]
    if wanted:
        said.append(say("away.wanted", work=listing(wanted[:MOST_NAMED])))
    if waits:
        said.append(say("away.waits", work=listing(waits[:MOST_NAMED])))
    if any(
        waters(task) and task.water_per_bale_l and task.state is State.DUE for task in brief.tasks
    ):
        said.append(say("away.water-well"))
    return tuple(said)


def waters(task: Task) -> bool:
    """Return whether a task is one of watering, without feed."""
    return task.action in (Action.WATER, Action.SURFACE_WATER, Action.SOAK)


MOST_NAMED = 6
"""Most pieces of work named before a time away."""
_CANNOT_WAIT = frozenset(
    {Action.WATER, Action.SURFACE_WATER, Action.PROTECT, Action.SOAK, Action.LIFT_TARP}
)
"""What a day of waiting harms; a feeding or a planting only comes later."""


def told_back(
    rows: Sequence[JournalEntry],
    amounts: Mapping[TaskKey, Mapping[str, object]],
    garden: Garden,
    brief: Brief,
) -> str:
    """Return what the grower's answers since the last brief were taken for, "" for none.

    `amounts` are the figures told or recorded with each task.
    """
    if not rows:
        return ""
    voice = Voice.of(garden, brief.on)
    said: list[str] = []
    for on in dict.fromkeys(voice.local(row.at).date() for row in rows):
        rows_of = [row for row in rows if voice.local(row.at).date() == on]
        facts = voice.tongue.listing(fact_said(row, amounts, voice) for row in rows_of)
        near, weekday = voice.nearness(on), voice.tongue.date("date.weekday", on)
        said.append(voice.say("back.told", near=near, day=weekday, facts=facts))
    # Taking back what was taken back would reach for the word before it.
    if any(row.kind is not EntryKind.UNDONE for row in rows):
        said.append(voice.say("back.wrong"))
    return " ".join(said)


def fact_said(
    row: JournalEntry, amounts: Mapping[TaskKey, Mapping[str, object]], voice: Voice
) -> str:
    """Return what a word of the grower was taken for, to stand in a sentence.

    `amounts` are the figures told or recorded with each task.
    """
    measures, say, on = voice.measures, voice.say, voice.day(row.local_date)
    if row.kind is EntryKind.TEMPERATURE:
        warmth = measures.temperature(row.value)
        return say("back.temperature", batch=name(row.batch or ""), warmth=warmth)
    if row.kind is EntryKind.RAIN:
        return say("back.rain", rain=measures.rain(row.value), day=on)
    if row.kind is EntryKind.LOW:
        return say("back.low", day=on, warmth=measures.temperature(row.value))
    if row.kind is EntryKind.HARVEST:
        pieces = row.data.get("pieces")
        amount = measures.mass(None if row.value is None else row.value * 1000)
        if isinstance(pieces, (int, float)) and pieces:
            amount = say("back.pieces", count=int(pieces))
        return say("back.harvest", amount=amount, crop=clean(row.text))
    if row.kind is EntryKind.AWAY:
        last = date.fromisoformat(row.text)
        if last < max(row.local_date, voice.local(row.at).date()):
            return say("back.returned")
        return say("back.away", first=on, last=voice.day(last))
    if row.kind is EntryKind.COST:
        cost = voice.tongue.number(row.value or 0.0, 2, padded=True)
        return say("back.cost", cost=cost, text=cut(clean(row.text), ABOUT_LIMIT))
    if row.kind is EntryKind.NOTE:
        return say("back.note", text=cut(clean(row.text), ABOUT_LIMIT))
    if (given := row.data.get("feed_per_bale_g")) is not None and row.kind is EntryKind.DONE:
        mass, feed = measures.mass(float(str(given))), name(str(row.data.get("feed")))
        nitrogen = measures.mass(float(str(row.data.get("nitrogen_per_bale_g"))))
        batch = name(row.batch or "")
        return say("back.extra", batch=batch, mass=mass, feed=feed, nitrogen=nitrogen)
    if row.kind is not EntryKind.UNDONE:
        return _done_words(row, amounts, voice, is_done=row.kind is EntryKind.DONE)
    word = EntryKind(str(row.data.get("kind")))
    if not row.task:
        return say("back.undone-word", word=voice.tongue.of("entry", word))
    what = _done_words(row, amounts, voice, is_done=word == EntryKind.DONE, with_amount=False)
    return say("back.undone", what=what)


def _done_words(
    row: JournalEntry,
    amounts: Mapping[TaskKey, Mapping[str, object]],
    voice: Voice,
    *,
    is_done: bool,
    with_amount: bool = True,
) -> str:
    key = TaskKey.parse(row.task or "", (row.batch,) if row.batch else ())
    told = {} if key is None else amounts.get(key, {})
    batch, tongue = name(row.batch or ""), voice.tongue
    try:
        action = Action(str(told.get("action")))
    except ValueError:
        return voice.say("back.unknown", task=str(row.task), done=is_done)
    crops = tongue.listing(map(name, crops_kept(told)))
    if not is_done:
        deed = tongue.of("action", action, "do")
        return voice.say("back.missed", deed=deed, batch=batch, crops=crops)
    given = row.data.get("per_bale_g")
    known = with_amount and isinstance(given, (int, float))
    mass = voice.measures.mass(float(str(given))) if known else None
    deed = tongue.of("action", action, "did")
    return voice.say("back.done", deed=deed, batch=batch, crops=crops, mass=mass)


CARD_BEGINS, CARD_ENDS = "<!--garden-->", "<!--/garden-->"
"""Around what a page says of one garden."""
_GAP = "<tr><td>&nbsp;</td></tr>"
_BETWEEN = "* * *"
SUBJECT_LIMIT = 78
"""Longest subject [characters]: a line of a header (RFC 5322, section 2.1.1)."""


def joined(notices: Sequence[Notice]) -> Notice:
    """Return the addressed notices of several gardens as one; it goes by the name of the first.

    One answer counts for all of them, unless it names one.
    """
    ordered = sorted(notices, key=lambda each: -each.urgency)
    first, tongue = ordered[0], Tongue(ordered[0].locale)
    others = [each for each in ordered[1:] if each.urgency]
    subject = first.subject
    if len(others) == 1:
        subject = tongue.say("household.too", subject=subject, garden=others[0].garden)
    elif others:
        subject = tongue.say("household.more", subject=subject, count=len(others))
    asks = sum(each.asking is not None for each in notices) > 1
    example = notices[0].garden
    lead = tongue.say("household.lead", garden=example) if asks else ""
    texts = [each.text.rstrip("\n") for each in ordered]
    return replace(
        notices[0],
        subject=cut(subject, SUBJECT_LIMIT),
        text="\n\n".join((*((wrap(lead),) if lead else ()), f"\n\n{_BETWEEN}\n\n".join(texts)))
        + "\n",
        html=_pages([each.html for each in ordered]),
        short=" ".join(each.short for each in ordered),
        expires_at=max(each.expires_at for each in notices),
        token=" ".join(each.token for each in ordered if each.token),
    )


def _pages(pages: Sequence[str]) -> str:
    """Return the cards of pages one below the other, in the first page."""
    begin, _, _ = pages[0].partition(CARD_BEGINS)
    _, _, end = pages[-1].rpartition(CARD_ENDS)
    cards = [each.partition(CARD_BEGINS)[2].rpartition(CARD_ENDS)[0] for each in pages]
    return f"{begin}{_GAP.join(cards)}{end}"
