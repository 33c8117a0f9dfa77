"""A task in words: what to do, how much and where; why; how; and what to leave.

A line is a whole sentence. Where a task is not about the whole garden its batches stand before it
as a label, since growers name things freely.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, time

from msgspec import Struct

from strawbell.model.brief import Action, Also, Instead, ReasonCode, State, Task, WorkKind
from strawbell.model.details import (
    Ending,
    MixDetail,
    PlantDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.words.actions import ACTIONS
from strawbell.words.cautions import CautionWords, caution_list
from strawbell.words.escaping import capital, clean, count, cut, listing, name
from strawbell.words.figures import quarter
from strawbell.words.howto import by_volume, ending_of, how_to, potting_mix, soaked_before
from strawbell.words.merge import MergedTask
from strawbell.words.nouns import counted_crop, crops_name, feed_name
from strawbell.words.reasons import WARM_HOURS, chance_figure, reason_headline, reason_sentences
from strawbell.words.voice import Voice

STATE_WORDS: Mapping[State, str] = {
    State.DUE: "due",
    State.HELD: "waits",
    State.DONE: "done",
    State.MISSED: "not done",
}
SUBJECT_LIMIT = 52
"""Longest subject [characters]: what a phone shows of it."""
SHORT_NAME = 24
"""Longest name of a feed, a crop or a batch in a subject [characters]."""
NOTE_LIMIT = 300
"""Longest note shown with a task [characters]."""
FIRST_WATER, LAST_WATER = time(9), time(17)
"""By when a top that is watered twice is watered (common practice)."""
UNWATERED, LEFT_OUT, WAITS = "Leave", "Skip", "Wait"
"""No water on a day of it, a crop that is left out, and work that waits, in a narrow cell."""
KNOWN_WELL = frozenset(
    {
        Action.WATER,
        Action.SURFACE_WATER,
        Action.LIFT_TARP,
        Action.PROTECT,
        Action.UNCOVER,
        Action.HARVEST,
        Action.INSPECT,
    }
)
"""Nobody needs to be told where the steps of these stand."""
ROUTINE_REASONS = frozenset({ReasonCode.FIRST_WEEKS})
"""Reasons that hold day after day and are told once."""

NOTHING_EXPLAINED: Mapping[WorkKind, date] = {}

Figure = tuple[str, str]
"""A large figure and the words below it."""


class TaskWords(Struct, frozen=True):
    """One task as every medium shows it.

    `line` is the whole of it; `heading`, `figures` and `below` are the same for a page that shows
    amounts large. `brief` names it in a calendar, `low` in a
    sentence that has begun, `subject` in a mail. `beside` follows the line;
    `because` is the first reason in a few words.
    """

    action: Action
    state: State
    line: str
    heading: str
    figures: tuple[Figure, ...]
    below: str
    brief: str
    low: str
    subject: str
    because: str
    beside: tuple[str, ...]
    why: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[CautionWords, ...]
    since: date | None
    """When it was explained, None where it is new; then `steps` and `cautions` are told again."""


class _Said(Struct, frozen=True):
    """What is done, in small letters and without its full stop.

    `deed` has no amount, `amount` follows it, `more` is a sentence of its own; `subjects` are
    tried from the longest on.
    """

    deed: str
    subjects: tuple[str, ...]
    amount: str = ""
    more: str = ""
    figures: tuple[Figure, ...] = ()
    below: str = ""


def task_words(
    task: MergedTask,
    voice: Voice,
    explained: Mapping[WorkKind, date] = NOTHING_EXPLAINED,
    *,
    judged: bool = True,
) -> TaskWords:
    """Return a merged task in words.

    `explained` says when work of a kind was explained before, `judged` whether the weather was.
    """
    due, held = task.state is State.DUE, task.state is State.HELD
    said = _held(task, voice) if held else _DEEDS[task.action](task, voice)
    label = _label(task, voice)
    heading = _labelled(label, said.deed)
    if not due and not held:
        noun = ACTIONS[task.action].noun
        crops = listing(name(crop) for crop in task.crops)
        deed = f"noted as {STATE_WORDS[task.state]}: {noun}{f' ({crops})' if crops else ''}"
        said = _Said(deed, (capital(deed),))
        heading = _labelled(label, deed)
    joint = ", " if label else ": "
    line = f"{heading}{joint}{said.amount}." if said.amount else f"{heading}."
    since = _explained(task, explained) if due else None
    told = (why for why in task.reasons if since is None or why.code not in ROUTINE_REASONS)
    reasons = reason_sentences(told, voice) if due or held else ()
    first = next(iter(task.reasons), None)
    return TaskWords(
        action=task.action,
        state=task.state,
        line=" ".join((line, *((said.more,) if said.more else ()))),
        heading=heading,
        figures=said.figures,
        below=said.below,
        brief=f"{heading}{joint}{said.amount}" if said.amount else heading,
        low=f"{f'{label}: ' if label else ''}{said.deed}{', ' if said.amount else ''}{said.amount}",
        subject=_subject(said.subjects),
        because="" if first is None else reason_headline(first, voice),
        beside=beside(task.first) if due else _instead(task, voice) if held else (),
        why=(*_fit(task, voice, judged=judged), *reasons),
        steps=how_to(task, voice) if due and since is None else (),
        cautions=caution_list(task.cautions, voice) if due and since is None else (),
        since=since,
    )


def _explained(task: MergedTask, explained: Mapping[WorkKind, date]) -> date | None:
    """Return when all of a task was explained last, None where some of it is new."""
    dates = [explained.get(each.kind) for each in task.tasks]
    known = [on for on in dates if on is not None]
    is_again = isinstance(task.detail, PlantDetail) and task.detail.again
    return None if is_again or len(known) < len(dates) else max(known)


def short_word(task: Task) -> str:
    """Return a task in one word for a narrow cell: "Feed", "Wait", "Water"."""
    if task.state is State.HELD:
        return WAITS
    if waits_for_no_water(task):
        return UNWATERED
    return LEFT_OUT if ending_of(task) is Ending.TOO_LATE else ACTIONS[task.action].cell


def waits_for_no_water(task: Task) -> bool:
    """Return whether a day of water gives none, since the bale has enough or rain will do it."""
    waters = task.action in (Action.SOAK, Action.WATER, Action.SURFACE_WATER)
    waters = waters or (task.dose is not None and task.dose.is_nothing)
    return waters and task.water_per_bale_l == 0.0 and task.state is State.DUE


def beside(task: Task) -> tuple[str, ...]:
    """Return what is said beside a task: which crops suffer, what else helps, a note."""
    harmed = (f"{capital(name(one.crop))} {clean(one.effect)}." for one in task.suffering)
    note = cut(clean(task.note), NOTE_LIMIT)
    return (*harmed, *(_ALSO[also] for also in task.also), *((note,) if note else ()))


def instead_sentences(instead: Iterable[Instead], voice: Voice) -> tuple[str, ...]:
    """Return what to do instead on a held day."""
    return tuple(
        look_yourself(voice) if item is Instead.DECIDE_YOURSELF else _INSTEAD[item]
        for item in dict.fromkeys(instead)
    )


def look_yourself(voice: Voice) -> str:
    """Return what the grower looks at when the weather could not be judged."""
    end = voice.horizon(voice.rules.rain_look_ahead_h)
    return f"Look at the sky first: don't feed if heavy rain is due by {end}, or frost tonight."


def good_day(voice: Voice) -> str:
    """Return what the rules found when none of them holds a feeding."""
    hours = min(voice.rules.rain_look_ahead_h, voice.rules.freeze_look_ahead_h)
    return f"A good day to feed: no heavy rain or frost before {voice.horizon(hours)}."


def _fit(task: MergedTask, voice: Voice, *, judged: bool) -> tuple[str, ...]:
    """Return why work goes ahead, where no reason of its own says it."""
    if task.state is not State.DUE or waits_for_no_water(task.first):
        return ()
    if task.action is Action.SOAK:
        return (WHY_SOAK_AGAIN if soaked_before(task) else WHY_SOAK,)
    speaks = any(why.code in _OF_THE_SKY for why in task.reasons)
    return () if task.action is not Action.FEED or speaks or not judged else (good_day(voice),)


WHY_SOAK = "Bales only warm up, and feed only works, where straw is wet right through."
WHY_SOAK_AGAIN = "One soaking seldom reaches the middle of a bale."
_OF_THE_SKY = frozenset(
    {
        ReasonCode.HEAVY_RAIN,
        ReasonCode.RAIN_POSSIBLE,
        ReasonCode.UNDER_TARP,
        ReasonCode.FREEZE,
        ReasonCode.WARM_HOURS,
        ReasonCode.FROZEN,
        ReasonCode.NO_FORECAST,
        ReasonCode.STALE_FORECAST,
        ReasonCode.RAIN_UNKNOWN,
        ReasonCode.TEMPERATURE_UNKNOWN,
    }
)


def _instead(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    """Return what to do instead, but for what the line or the lead says."""
    waters = task.action in (Action.WATER, Action.SURFACE_WATER, Action.SOAK)
    said = {Instead.DECIDE_YOURSELF, *(_NO_WATER if waters else ())}
    return instead_sentences((each for each in task.first.instead if each not in said), voice)


_NO_WATER = (Instead.NO_WATER_BEFORE_FREEZE, Instead.LEAVE_TO_RAIN)


def _label(task: MergedTask, voice: Voice) -> str:
    """Return the batches of a task, "" where it is about the whole garden."""
    return "" if set(task.batches) >= set(voice.places) else listing(map(name, task.batches))


def _labelled(label: str, text: str) -> str:
    return f"{label}: {text}" if label else capital(text)


def _subject(candidates: Sequence[str]) -> str:
    """Return the first subject that a phone shows whole; the last one is cut where it must be."""
    fitting = (each for each in candidates if len(each) <= SUBJECT_LIMIT)
    return next(fitting, cut(candidates[-1], SUBJECT_LIMIT))


def _today(verb: str, task: MergedTask, voice: Voice, amounts: Sequence[str]) -> tuple[str, ...]:
    """Return subjects: the verb, where it is not the whole garden its batches, and the amount."""
    where = (
        ""
        if set(task.batches) >= set(voice.places)
        else listing(name(batch, SHORT_NAME) for batch in task.batches)
    )
    places = (f"{verb} {where} today", f"{verb} today") if where else (f"{verb} today",)
    return tuple(
        f"{place}: {amount}" if amount else place for amount in amounts for place in places
    )


def _bales(task: MergedTask, voice: Voice) -> str:
    if task.bales == 1:
        return "the bale"
    is_all = len(voice.places) == 1 and task.bales == sum(voice.places.values())
    return f"all {task.bales} bales" if is_all or not _label(task, voice) else "the bales"


def _each(task: MergedTask) -> str:
    return " each" if task.bales > 1 else ""


def _in_all(task: MergedTask, total: str) -> str:
    return f", {total} in all" if task.bales > 1 else ""


def _feed(task: MergedTask, voice: Voice) -> _Said:
    measures, dose = voice.measures, task.dose
    warm = any(why.code is ReasonCode.WARM_HOURS for why in task.reasons)
    between = " between " + " and ".join(map(voice.clock, WARM_HOURS)) if warm else ""
    deed = f"feed {_bales(task, voice)}{between}"
    if dose is None:
        return _Said(deed, _today("Feed", task, voice, ("",)))
    if dose.is_nothing:
        return _unwatered("no feed today", task, voice)
    feed = feed_name(dose.feed, measures)
    liquid = by_volume(dose)
    amount = measures.volume(dose.per_bale_ml) if liquid else measures.mass(dose.per_bale_g)
    total = measures.volume(task.total_ml) if liquid else measures.mass(task.total_g)
    litres = task.water_per_bale_l
    water = measures.water(litres) if litres else ""
    each, bales = _each(task), task.bales
    figures: list[Figure] = [(amount, f"{feed}{each}")]
    below = f"{total} in all." if bales > 1 else ""
    more = ""
    said = f"{amount} of {feed}{each}{_in_all(task, total)}"
    if dose.form.is_poured and water:
        said = f"{amount} of {feed} in {water} of water{each}{_in_all(task, total)}"
        figures.append((f"in {water}", f"water{each}"))
    elif water:
        more = f"Then {water} of water{each}."
        figures.append((f"then {water}", f"water{each}"))
        in_all = measures.water((litres or 0.0) * bales)
        below = f"{total} and {in_all} in all." if bales > 1 else ""
    amounts = (f"{amount} {feed} a bale", f"{amount} a bale")
    subjects = _today("Feed", task, voice, amounts)
    if warm:
        subjects = ("Feed at noon: frost tonight", *subjects)
    return _Said(deed, subjects, said, more, tuple(figures), below)


def _soak(task: MergedTask, voice: Voice) -> _Said:
    litres, bales = task.water_per_bale_l, _bales(task, voice)
    if litres == 0.0:
        return _unwatered("no soaking today", task, voice)
    again = " again" if soaked_before(task) else ""
    deed = f"soak {bales}{again} until {'it drips' if task.bales == 1 else 'they drip'}"
    if litres is None:
        return _Said(deed, _today("Soak", task, voice, ("",)))
    water = voice.measures.water(litres)
    total = voice.measures.water(litres * task.bales)
    figures = ((f"{water}", "a bale, about"), (total, "in all"))[: 2 if task.bales > 1 else 1]
    return _Said(
        deed,
        _today("Soak", task, voice, (f"about {water} a bale",)),
        f"about {water}{_each(task)}{_in_all(task, total)}",
        figures=figures,
    )


def _unwatered(deed: str, task: MergedTask, voice: Voice) -> _Said:
    why = next((_SHORTLY[also] for also in task.first.also if also in _SHORTLY), "")
    label = _label(task, voice)
    subject = capital(deed)
    return _Said(
        deed,
        (f"{subject}: {why}" if why and not label else subject,),
        below=capital(f"{why}.") if why else "",
    )


_SHORTLY: Mapping[Also, str] = {
    Also.MOIST_ENOUGH: "they're damp enough",
    Also.RAIN_WATERS: "rain will do it",
    Also.FULL: "they hold all they can",
}


def _water(task: MergedTask, voice: Voice) -> _Said:
    if task.water_per_bale_l == 0.0:
        return _unwatered("no watering today", task, voice)
    return _watering(f"water {_bales(task, voice)}", "Water", task, voice)


def _surface_water(task: MergedTask, voice: Voice) -> _Said:
    detail = task.detail if isinstance(task.detail, TopWaterDetail) else TopWaterDetail()
    young = any(why.code is ReasonCode.FIRST_WEEKS for why in task.reasons)
    what = "the seedlings" if young or detail.up_in_days else "the tops"
    said = _watering(f"water {what}", f"Water {what}", task, voice)
    if detail.dry_at is None:
        return said
    dry = f"Unwatered, the top is dry by about {voice.clock(quarter(detail.dry_at))}."
    more = f"{said.more} {dry}".strip()
    return _Said(said.deed, said.subjects, said.amount, more, said.figures, said.below)


def _watering(deed: str, verb: str, task: MergedTask, voice: Voice) -> _Said:
    measures, litres, times = voice.measures, task.water_per_bale_l, task.first.times_a_day
    first, last = voice.clock(FIRST_WATER), voice.clock(LAST_WATER)
    twice = times > 1
    often = f" by {first} and again at {last}" if twice else ""
    if times > TWICE:
        often = f" {times} times between {first} and {last}"
    if not litres:
        return _Said(f"{deed}{often}", _today(verb, task, voice, ("twice" if twice else "",)))
    water, total = measures.water(litres), measures.water(litres * task.bales)
    subjects = _today(verb, task, voice, (f"{water} a bale{', twice' if twice else ''}",))
    if twice:
        hot = any(why.code is ReasonCode.HOT_DRY for why in task.reasons)
        by = f"water by {first} and at {last}" if times == TWICE else f"water {times} times"
        subjects = (f"{'Hot today: ' if hot else ''}{by}", *subjects)
        amount = f"{water} a bale each time" + (f" ({total} for all)" if task.bales > 1 else "")
        at = ((first, f"at the latest: {water} a bale"), (last, f"again: {water} a bale"))
        below = f"{total} each time for all {task.bales}." if task.bales > 1 else ""
        return _Said(
            f"{deed}{often}", subjects, amount, figures=at, below=f"{below} Not at midday.".strip()
        )
    each = f"{water}{_each(task)}{_in_all(task, total)}"
    figures = ((water, "a bale"), (total, "in all"))[: 2 if task.bales > 1 else 1]
    return _Said(deed, subjects, each, figures=figures)


TWICE = 2


def _inspect(task: MergedTask, voice: Voice) -> _Said:
    if task.first.kind.of:
        bales = _bales(task, voice)
        deed = f"check how warm {bales} {'is' if task.bales == 1 else 'are'} inside"
        return _Said(deed, ("Check how warm the bales are inside",))
    deed = f"look over {_bales(task, voice)}"
    return _Said(f"{deed}: weeds, slugs, loose strings", ("Look over the bales today",))


def _mix(task: MergedTask, voice: Voice) -> _Said:
    mix = task.detail if isinstance(task.detail, MixDetail) else None
    what = potting_mix(voice)
    deed = f"cover {_bales(task, voice)} with {what}"
    subjects = (f"Cover the bales with {what} today",)
    if mix is None:
        return _Said(deed, subjects)
    deep, litres = voice.measures.length(mix.layer_cm), voice.measures.water(mix.per_bale_l)
    total = voice.measures.water(mix.per_bale_l * task.bales)
    amount = f"{deep} deep, about {litres}{_each(task)}{_in_all(task, total)}"
    return _Said(deed, subjects, amount, figures=((deep, "deep"), (litres, "a bale, about")))


def _crops(task: MergedTask, nothing: str) -> str:
    """Return the crops of a task, each with where it stands if they stand apart."""
    apart = {
        batch: listing(
            f"the {crops_name(crop)}"
            for one in task.tasks
            if one.batch == batch
            for crop in one.crops
        )
        or nothing
        for batch in task.batches
    }
    if len(set(apart.values())) > 1:
        return listing(f"{crops} in {name(batch)}" for batch, crops in apart.items())
    return next(iter(apart.values()))


def _shortly(task: MergedTask, many: str) -> tuple[str, ...]:
    """Return the crops for a subject, and what stands for them where they are too many."""
    named = listing(f"the {crops_name(crop, SHORT_NAME)}" for crop in task.crops)
    return (named, many) if named else (many,)


def _numbered(verb: str) -> Callable[[MergedTask, Voice], _Said]:
    """Return the words of work on a number of plants."""

    def said(task: MergedTask, voice: Voice) -> _Said:
        del voice
        crops = listing(crops_name(crop) for crop in task.crops)
        crops = crops or ("seed" if verb == "sow" else "the plants")
        what = crops
        if task.plants is not None and len(task.crops) == 1 and verb != "sow":
            what = counted_crop(task.plants, task.crops[0])
        short = listing(crops_name(crop, SHORT_NAME) for crop in task.crops)
        subjects = (f"{capital(verb)} today: {short}",) if short else ()
        figures: tuple[Figure, ...] = ()
        if task.plants is not None and task.crops and verb == "plant":
            figures = ((str(task.plants), crops),)
        return _Said(f"{verb} {what}", (*subjects, f"{capital(verb)} today"), figures=figures)

    return said


def _lay_tarp(task: MergedTask, voice: Voice) -> _Said:
    deed = f"lay the tarp over {_bales(task, voice)}"
    return _Said(deed, ("Lay the tarp over the bales today",))


def _lift_tarp(task: MergedTask, voice: Voice) -> _Said:
    deed = f"take the tarp off {_bales(task, voice)}"
    return _Said(deed, ("Take the tarp off the bales today",))


def _protect(task: MergedTask, voice: Voice) -> _Said:
    deed = f"cover {_crops(task, 'the plants')} before dark"
    first = next(iter(task.reasons), None)
    when = "tonight"
    if first is not None and first.at is not None:
        when = voice.about(first.at)
    number = count(len(task.crops), "crop")
    return _Said(deed, tuple(f"Cover {each} {when}: frost" for each in _shortly(task, number)))


def _uncover(task: MergedTask, _voice: Voice) -> _Said:
    what = _crops(task, "the plants")
    deed = f"take the covers off {what} once it's above freezing"
    return _Said(deed, tuple(f"Take the covers off {each}" for each in _shortly(task, "all crops")))


def _thin(task: MergedTask, voice: Voice) -> _Said:
    to = ""
    if isinstance(task.detail, ThinDetail):
        to = f" to {voice.measures.length(task.detail.to_cm)}"
    subjects = tuple(f"Thin {each} today" for each in _shortly(task, "the seedlings"))
    return _Said(f"thin {_crops(task, 'the seedlings')}{to}", subjects)


def _mulch(task: MergedTask, voice: Voice) -> _Said:
    return _Said(f"mulch {_bales(task, voice)}", ("Mulch the bales today",))


def _support(task: MergedTask, voice: Voice) -> _Said:
    what = _crops(task, "the plants")
    if task.plants is not None and len(task.crops) == 1:
        what = f"your {counted_crop(task.plants, task.crops[0])}"
    high = ""
    if isinstance(task.detail, SupportDetail):
        high = f": they grow to {voice.measures.length(task.detail.height_cm)}"
    subjects = tuple(f"Stake {each} today" for each in _shortly(task, "the plants"))
    return _Said(f"stake {what}{high}", subjects)


def _harvest(task: MergedTask, _voice: Voice) -> _Said:
    verb = {
        None: "pick",
        Ending.LAST: "clear the last of",
        Ending.KILLED: "clear the frozen crop:",
        Ending.TOO_LATE: "leave out",
    }[ending_of(task)]
    what = _crops(task, "what is ripe")
    subjects = tuple(f"{capital(verb)} {each}" for each in _shortly(task, "what is ripe"))
    return _Said(f"{verb} {what}", subjects)


def _spread(task: MergedTask, voice: Voice) -> _Said:
    return _Said(
        f"take {_bales(task, voice)} apart and spread the straw", ("Spread the spent straw today",)
    )


_DEEDS: Mapping[Action, Callable[[MergedTask, Voice], _Said]] = {
    Action.SOAK: _soak,
    Action.WATER: _water,
    Action.FEED: _feed,
    Action.INSPECT: _inspect,
    Action.COVER_WITH_MIX: _mix,
    Action.PLANT: _numbered("plant"),
    Action.SOW: _numbered("sow"),
    Action.SURFACE_WATER: _surface_water,
    Action.LAY_TARP: _lay_tarp,
    Action.LIFT_TARP: _lift_tarp,
    Action.PROTECT: _protect,
    Action.UNCOVER: _uncover,
    Action.THIN: _thin,
    Action.MULCH: _mulch,
    Action.SUPPORT: _support,
    Action.HARVEST: _harvest,
    Action.SPREAD: _spread,
}


def _held(task: MergedTask, voice: Voice) -> _Said:
    """Return that work waits, and until when."""
    crops = listing(crops_name(crop) for crop in task.crops)
    wait = ACTIONS[task.action].wait
    deed = wait.replace("{bales}", _bales(task, voice)).replace("{crops}", crops or "anything")
    first = next(iter(task.reasons), None)
    why = "" if first is None else f": {reason_headline(first, voice)}"
    short = listing(crops_name(crop, SHORT_NAME) for crop in task.crops) or "anything"
    plain = capital(wait.replace("{bales}", "the bales").replace("{crops}", short))
    until = _until(task, voice)
    figures: list[Figure] = []
    if (on := task.first.held_until) is not None and not _asks(task):
        figures.append((capital(voice.near_day(on)), "at the earliest"))
    chance = next((each for why in task.reasons if (each := chance_figure(why, voice))), None)
    if chance is not None:
        figures.append(chance)
    return _Said(
        deed, (f"{plain}{why}", plain), more=until, figures=tuple(figures),
        below="" if figures else until,
    )  # fmt: skip


def _asks(task: MergedTask) -> bool:
    codes = {reason.code for reason in task.reasons}
    return ReasonCode.NOT_TOLD in codes or codes == {ReasonCode.UNANSWERED}


def _until(task: MergedTask, voice: Voice) -> str:
    """Return until when work waits, and whose decision it is."""
    if _asks(task):
        return "Answer first: was it done?"
    if any(reason.code is ReasonCode.HELD_LONG for reason in task.reasons):
        return "Up to you now."
    until = task.first.held_until
    if until is None:
        return "I'll look again tomorrow."
    return f"{capital(voice.near_day(until))} at the earliest."


_ALSO: Mapping[Also, str] = {
    Also.SHADE: "Shade the plants from noon to evening.",
    Also.LOOK_FIRST: "Rain may come: look first, and water only where the top is dry.",
    Also.AGAIN_IF_DRY: "Feel the top late in the afternoon; wet it again gently where it's dry.",
    Also.MOIST_ENOUGH: (
        "Damp enough. If it feels drier inside than a wrung-out sponge, give a few litres."
    ),
    Also.RAIN_WATERS: "Rain will bring what's missing.",
    Also.FULL: "More would run out below and take feed along.",
    Also.LITTLE_ROOM: "Less than usual: the bale has no room for more.",
    Also.LIME: (
        "Ammonium feeds sour straw. Scatter a cup (about 300 g) of dolomitic lime a bale and water "
        "it in; never together with feed."
    ),
    Also.SMALLER_DOSE: "Less than planned: you gave more before.",
    Also.RAIN_WASHES_IN: "No water: today's rain washes it in.",
    Also.TOO_FULL_TO_WASH_IN: "No water: the bale holds all it can.",
    Also.UNDER_TARP: "Take the tarp off for it, let the straw breathe, then lay it again.",
    Also.WET_EDGES: "Wet the sides and edges too: they dry first.",
}

_INSTEAD: Mapping[Instead, str] = {
    Instead.NO_WATER_BEFORE_FREEZE: "No water either until it has thawed.",
    Instead.SOAK_AFTER_FREEZE: "Soak once the frost is over.",
    Instead.DRAIN_HOSE: "Empty the hose before dark.",
    Instead.LEAVE_TO_RAIN: "No water either: the rain will do it.",
    Instead.LET_COOL: "Keep it moist and open to the air; measure again tomorrow.",
    Instead.GIVE_TIME: "Keep it moist and give it time.",
    Instead.SHELTER_SEEDLINGS: "Bring seedlings in tonight.",
    Instead.HARDEN_OFF: "Put the seedlings out by day, longer each day, and in at night.",
    Instead.KEEP_SEED_DRY: "Keep the seed dry, or start it indoors.",
    Instead.DECIDE_PLANTING: (
        "Under fleece you may plant now, as long as no frost is due; then note it as done."
    ),
}
