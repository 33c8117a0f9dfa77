"""How a notice is answered, and what silence means: the one place that says it, for every medium.

A notice is worded once, and only then addressed: what it asks stands in it as a place to be
filled in with the address and the token of each recipient (`addressed`). What comes of the
answers is told back in the next brief (`told_back`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from strawbell.model.brief import Action, Brief, Question, State, Task, TaskKey
from strawbell.model.garden import Garden
from strawbell.model.household import Helper
from strawbell.model.journal import EntryKind, JournalEntry, crops_kept
from strawbell.model.notice import Asking, Notice, Silence
from strawbell.words.advice import short_word
from strawbell.words.catalogue import BRITISH
from strawbell.words.escaping import clean, count, cut, listing, name, wrap
from strawbell.words.html import environment
from strawbell.words.units import Measures
from strawbell.words.voice import DAY, Voice, day

TEXT_PLACE, PAGE_PLACE = "{{how to answer}}", "<!--how to answer-->"
"""Where in a text, and in a page, it stands how to answer."""
MOST_BUTTONS = 3
"""Some phones and desktops draw no more."""
ABOUT_LIMIT = 60
"""Longest name of the work in the subject of an answer [characters]."""
OTHER_SHARE = 0.8
"""Share of the told dose that the example of another amount names."""
AS_IT_IS = "Send this mail as it is."

LABELS: Mapping[str, str] = MappingProxyType(
    {
        "done": "Done",
        "not today": "Not today",
        "can't": "Can't",
        "missed": "Missed",
        "already fed": "Already fed",
        "later": "Remind me",
    }
)
"""What stands on the button of a word."""
OTHER_AMOUNT = "Other amount"

SILENCE: Mapping[Silence, str] = MappingProxyType(
    {
        Silence.DONE: "No reply means done.",
        Silence.WAITED: "No reply means you waited.",
        Silence.NOT_YET: "No reply means not yet.",
        Silence.MISSED: "No reply by tomorrow means missed, and then it's due.",
        Silence.WATERED: "No reply means you watered every morning.",
        Silence.ASKED: "No reply? I'll ask tomorrow.",
    }
)


def asking_of(
    tasks: Sequence[Task],
    garden: Garden,
    questions: Sequence[Question] = (),
    *,
    is_late: bool = False,
) -> Asking | None:
    """Return what work told in one notice asks, None where there is nothing to answer.

    `is_late` is work that came up after noon: nobody may take it for done in silence.
    """
    if questions:
        first = questions[0]
        return Asking(
            Silence.MISSED,
            ("done", "missed"),
            cut(f"feeding {name(first.batch)} on {day(first.on)}", ABOUT_LIMIT),
            (first.key.text(),),
        )
    due = [task for task in tasks if task.state is State.DUE]
    held = [task for task in tasks if task.state is State.HELD]
    if due:
        covers = all(task.action in _COVERS for task in due)
        words = ["done", "can't" if covers else "not today"]
        if any(task.times_a_day > 1 for task in due):
            words.append("later")
        silence = Silence.NOT_YET if is_late else Silence.DONE
        if any(task.is_conditional for task in due):
            silence = Silence.ASKED
        keys = tuple(task.key.text() for task in due)
        return Asking(silence, tuple(words), _about(due), keys, _example(due, garden))
    if held:
        fed = any(task.action is Action.FEED for task in held)
        keys = tuple(task.key.text() for task in held)
        return Asking(Silence.WAITED, ("already fed",) if fed else ("done",), _about(held), keys)
    return None


_COVERS = frozenset({Action.PROTECT, Action.UNCOVER, Action.LAY_TARP, Action.LIFT_TARP})


def _about(tasks: Sequence[Task]) -> str:
    words = {short_word(replace(task, state=State.DUE)) for task in tasks}
    if len(words) > 1:
        return "today's work"
    batches = listing(name(task.batch) for task in tasks)
    return cut(f"{words.pop()} {batches}", ABOUT_LIMIT)


def _example(tasks: Sequence[Task], garden: Garden) -> str:
    """Return an answer with another amount than told, "" where there is no dose by mass."""
    for task in tasks:
        if task.action is Action.FEED and task.dose is not None and task.dose.per_bale_g:
            return f"fed {Measures(garden.units).mass(task.dose.per_bale_g * OTHER_SHARE)}"
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
    silence = SILENCE[asking.silence]
    if address:
        lead, buttons = _in_words(asking), _buttons(asking, notice, address, shown)
        trailer = f"\nTo answer from a new mail: to {address}, with {shown} in the subject.\n"
    elif token:
        lead, buttons, trailer = "", (), ""
    else:
        lead, buttons, trailer = _by_command(asking), (), ""
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


def _in_words(asking: Asking) -> str:
    """Return the sentence that says what to reply."""
    words = [f'"{word}"' for word in asking.words]
    if asking.example:
        words.append(f'what each bale got ("{asking.example}")')
    return f"Reply {listing(words, 'or')}."


def _by_command(asking: Asking) -> str:
    key = asking.keys[0] if len(asking.keys) == 1 else "TASK"
    if asking.silence is Silence.WAITED or asking.silence is Silence.NOT_YET:
        return f"If it was done all the same: strawbell record done {key}."
    if asking.silence in (Silence.MISSED, Silence.ASKED):
        return f"Answer with strawbell record done {key}, or missed {key}."
    return f"If it was not done: strawbell record missed {key}."


def _buttons(asking: Asking, notice: Notice, address: str, shown: str) -> tuple[Button, ...]:
    on = day(notice.local_date)
    buttons = [
        _button(LABELS[word], AS_IT_IS, f"{asking.about}, {on}", address, shown, main=not number)
        for number, word in enumerate(asking.words)
    ]
    if asking.example:
        unit = asking.example.split()[-1]
        about = f"{asking.about}, {on}"
        buttons.append(
            _button(OTHER_AMOUNT, f"fed  {unit} a bale", about, address, shown, main=False)
        )
    return tuple(buttons[:MOST_BUTTONS])


def _button(label: str, body: str, about: str, address: str, shown: str, *, main: bool) -> Button:
    """Return a link that opens a finished mail (RFC 6068)."""
    subject = f"{label}: {about} {shown}"
    link = f"mailto:{_quoted(address, '@')}?subject={_quoted(subject)}"
    return Button(label, f"{link}&body={_quoted(body)}", main)


def _quoted(text: str, also: str = "") -> str:
    """Return text as it may stand in an address (RFC 3986, section 2.3); a blank is never "+"."""
    plain = _UNRESERVED + also.encode("ascii")
    octets = text.encode("utf-8", "replace")
    return "".join(chr(octet) if octet in plain else f"%{octet:02X}" for octet in octets)


_UNRESERVED = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~"


def away_said(away: Mapping[date, date], brief: Brief, helpers: Sequence[Helper] = ()) -> str:
    """Return what a time away means on the day before it and in it, "" where there is none.

    Before it: what falls due meanwhile, as far as the days ahead are known. `helpers` look after
    the garden.
    """
    tomorrow = brief.on + DAY
    for first, last in away.items():
        if first <= brief.on <= last:
            return (
                f"You are away until {day(last)}: what is told here waits for you unless whoever "
                'looks after the bales replies "done". Back already? Reply "back".'
                f"{_helped(helpers)}"
            )
        if first == tomorrow and last >= first:
            return f"{_before(last, brief)}{_helped(helpers)}"
    return ""


def _helped(helpers: Sequence[Helper]) -> str:
    """Return who is told meanwhile, with a blank before it; "" for nobody."""
    return "".join(
        f" {name(each.name or each.address)} is told of "
        f"{'the watering' if each.only_water else 'all of it'}."
        for each in helpers
    )


def _before(last: date, brief: Brief) -> str:
    said = [f"You are away from tomorrow to {day(last)}."]
    first: dict[TaskKey, tuple[Task, date]] = {}
    for ahead in brief.ahead:
        for task in ahead.tasks if ahead.on <= last else ():
            if task.state is State.DUE and not (waters(task) and not task.water_per_bale_l):
                first.setdefault(task.key, (task, ahead.on))
    words = {
        key: f"{short_word(task).lower()} {name(task.batch)} ({day(on)})"
        for key, (task, on) in first.items()
    }
    wanted = [phrase for key, phrase in words.items() if first[key][0].action in _CANNOT_WAIT]
    waits = [phrase for key, phrase in words.items() if first[key][0].action not in _CANNOT_WAIT]
    if wanted:
        said.append(f"Ask somebody to {listing(wanted[:MOST_NAMED])}.")
    if waits:
        said.append(f"This waits for you: {listing(waits[:MOST_NAMED])}.")
    if any(
        waters(task) and task.water_per_bale_l and task.state is State.DUE for task in brief.tasks
    ):
        said.append("Before you go, do today's watering well.")
    return " ".join(said)


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
    for weekday in dict.fromkeys(_weekday(row, voice) for row in rows):
        facts = [_fact(row, amounts, voice) for row in rows if _weekday(row, voice) == weekday]
        said.append(f"You told me {weekday} that {listing(facts)}.")
    return f'{" ".join(said)} Wrong? Reply "undo".'


def _weekday(row: JournalEntry, voice: Voice) -> str:
    on = voice.local(row.at).date()
    return "today" if on == voice.on else f"on {voice.tongue.date('date.weekday', on)}"


def _fact(row: JournalEntry, amounts: Mapping[TaskKey, Mapping[str, object]], voice: Voice) -> str:
    measures, batch = voice.measures, name(row.batch or "")
    if row.kind is EntryKind.TEMPERATURE:
        return f"{batch} was {measures.temperature(row.value)} inside"
    if row.kind is EntryKind.RAIN:
        return f"{measures.rain(row.value)} of rain fell on {day(row.local_date)}"
    if row.kind is EntryKind.LOW:
        return f"{day(row.local_date)} went down to {measures.temperature(row.value)}"
    if row.kind is EntryKind.HARVEST:
        pieces = row.data.get("pieces")
        much = count(int(pieces), "piece") if isinstance(pieces, (int, float)) else ""
        much = much or measures.mass(None if row.value is None else row.value * 1000)
        return f"you picked {much} of {clean(row.text)}"
    if row.kind is EntryKind.AWAY:
        return f"you are away from {day(row.local_date)} to {day(date.fromisoformat(row.text))}"
    if row.kind is EntryKind.NOTE:
        return f'this is worth remembering: "{cut(clean(row.text), ABOUT_LIMIT)}"'
    if row.kind is EntryKind.UNDONE:
        what = _done_words(row, amounts, is_done=row.data.get("kind") == EntryKind.DONE)
        return (
            f"your word on {row.data.get('kind')} does not count"
            if not row.task
            else (f"it does not count that {what}")
        )
    return _done_words(row, amounts, is_done=row.kind is EntryKind.DONE, measures=measures)


def _done_words(
    row: JournalEntry,
    amounts: Mapping[TaskKey, Mapping[str, object]],
    *,
    is_done: bool,
    measures: Measures | None = None,
) -> str:
    key = TaskKey.parse(row.task or "", (row.batch,) if row.batch else ())
    told = {} if key is None else amounts.get(key, {})
    batch = name(row.batch or "")
    try:
        action = Action(str(told.get("action")))
    except ValueError:
        return f"{row.task} was {'done' if is_done else 'not done'}"
    crops = listing(name(crop) for crop in crops_kept(told))
    crop = f" with {crops}" if crops else ""
    if not is_done:
        return f"you did not {BRITISH.of('action', action, 'do')} {batch}{crop}"
    given = row.data.get("per_bale_g")
    much = (
        f", {measures.mass(float(given))} a bale"
        if measures is not None and isinstance(given, (int, float))
        else ""
    )
    return f"you {BRITISH.of('action', action, 'did')} {batch}{crop}{much}"
