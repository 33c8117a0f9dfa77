"""A task in words: its title, its amount, how it is done, why, and what to do instead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from types import MappingProxyType

from strawbell.model.brief import Action, Also, Instead, Reason, ReasonCode, State, Task
from strawbell.model.details import Ending
from strawbell.words.escaping import capital, clean, count, cut, listing, name
from strawbell.words.howto import ending_of, how_to, soaked_before
from strawbell.words.merge import CROPS_TOGETHER, MergedTask
from strawbell.words.reasons import reason_headline, reason_sentences
from strawbell.words.voice import Voice, day

STATE_WORDS: MappingProxyType[State, str] = MappingProxyType(
    {State.DUE: "Due", State.HELD: "Hold", State.DONE: "Done", State.MISSED: "Missed"}
)
SHORT_NAME = 30
"""Longest name of a feed or a crop in a headline [characters]."""
NOTE_LIMIT = 300
"""Longest note shown with a task [characters]."""
WHY_SOAK = "Straw rots, and takes up feed, only once it is wet through; a dry bale does neither."
WHY_SOAK_AGAIN = (
    "One soaking seldom reaches the middle of a bale, and feed comes only to straw that is wet."
)
UNWATERED = "Leave"
"""Bales that need no water on their day of it, in a narrow cell."""
LEFT_OUT = "Skip"
"""A crop that is left out, in a narrow cell."""
MOST_CROPS = 3
"""Most crops named in a headline."""


@dataclass(frozen=True, slots=True)
class TaskWords:
    """One task as every medium shows it.

    `title` is the whole line, `brief` a shorter one for a day ahead; `heading` is the title
    without the amount, `amount` and `per` ("500 g", "a bale") what stands large below it,
    `substance` of what, `in_all` the sum.
    `headline` and `because`, the words of `because_of`, go into a subject.
    """

    state: State
    action: Action
    tag: str
    title: str
    brief: str
    heading: str
    amount: str
    per: str
    substance: str
    in_all: str
    headline: str
    because: str
    because_of: ReasonCode | None
    where: str
    days: str
    until: str
    how: tuple[str, ...]
    why: tuple[str, ...]
    instead: tuple[str, ...]


def task_words(task: MergedTask, voice: Voice) -> TaskWords:
    """Return a merged task in words."""
    amount, per, substance, in_all = _amount(task, voice)
    whole = f"{amount} of {substance} {per}" if substance else f"{amount} {per}".strip()
    heading = _heading(task, _where(task))
    title = _plain_title(task, heading)
    headline, because = _headline(task, voice, whole)
    held = task.state is State.HELD
    to_do = task.state is State.DUE
    return TaskWords(
        state=task.state,
        action=task.action,
        tag=STATE_WORDS[task.state],
        title=_title(task, title, whole, in_all),
        brief=_title(task, title, f"{amount} {per}".strip(), ""),
        heading=heading,
        amount="" if held else amount,
        per="" if held else per,
        substance="" if held else substance,
        in_all="" if held else in_all,
        headline=headline,
        because="" if because is None else reason_headline(because, voice),
        because_of=None if because is None else because.code,
        where=_where(task),
        days=_days_said(task),
        until=_until(task, voice) if held else "",
        how=(*(how_to(task, voice) if to_do else ()), *beside(task.first)),
        why=(*reason_sentences(task.reasons, voice), *_what_for(task, voice)),
        instead=instead_sentences(task.first.instead, voice) if held or to_do else (),
    )


def brief_words(task: MergedTask, voice: Voice) -> str:
    """Return a merged task in one line, as `task_words` has it in `brief`."""
    amount, per, _, _ = _amount(task, voice)
    title = _plain_title(task, _heading(task, _where(task)))
    return _title(task, title, f"{amount} {per}".strip(), "")


def short_word(task: Task) -> str:
    """Return a task in one word for a narrow cell: "Feed", "Hold", "Water"."""
    if task.state is State.HELD:
        return STATE_WORDS[State.HELD]
    if waits_for_no_water(task):
        return UNWATERED
    return LEFT_OUT if ending_of(task) is Ending.TOO_LATE else _SHORT[task.action]


def waits_for_no_water(task: Task) -> bool:
    """Return whether a day of water gives none, since the bale has enough or rain will do it."""
    return task.action in _WATERED and task.water_per_bale_l == 0.0 and task.state is State.DUE


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
    measures, rules = voice.measures, voice.rules
    return (
        "Decide yourself: look at the sky and at another forecast. If "
        f"{measures.rain(rules.rain_hold_mm)} of rain or more may fall within "
        f"{measures.hours(rules.rain_look_ahead_h)}, or the air may cool to "
        f"{measures.temperature(rules.freeze_hold_c)} or less, wait a day with feeding; before a "
        "freeze also with watering."
    )


def _where(task: MergedTask) -> str:
    return listing(name(batch) for batch in task.batches)


def _plain_title(task: MergedTask, heading: str) -> str:
    """Return the heading with the day of the sequence, or with that of each batch."""
    one_day = _one_day(task)
    return heading + one_day if one_day else _heading(task, _where_by_day(task))


def _heading(task: MergedTask, where: str) -> str:
    """Return verb and place: "Feed Row A and Row C", "Hold the feed on Row A"."""
    if task.state is State.HELD:
        return f"{_HOLD[task.action]} {where}"
    if task.state is State.DUE:
        return capital(_deed(task, where))
    return f"{STATE_WORDS[task.state]}: {_deed(task, where)}"


def _deed(task: MergedTask, where: str) -> str:
    """Return what is done where, as it is said in the imperative."""
    what = listing(name(crop) for crop in task.crops) or _THINGS.get(task.action, "")
    if task.plants is not None and task.action in {Action.PLANT, Action.THIN, Action.SUPPORT}:
        what = f"{task.plants} {what}"
    if task.action is Action.HARVEST and (clearing := _clearing(task)):
        return f"{clearing} {what} in {where}"
    apart = _crops_by_batch(task)
    if len(set(apart.values())) > 1 and task.action in CROPS_TOGETHER:
        each = listing(f"{crops} in {name(batch)}" for batch, crops in apart.items())
        return f"{_HEADLINES[task.action]} {each}"
    if waits_for_no_water(task.first):
        return f"leave {where} unwatered"
    return _DEEDS[task.action].format(what=what, where=where)


def _clearing(task: MergedTask) -> str:
    """Return the verb of what ends a crop for good, "" for a picking that goes on."""
    ending = ending_of(task)
    return "" if ending is None else _CLEARINGS[ending]


_CLEARINGS: MappingProxyType[Ending, str] = MappingProxyType(
    {
        Ending.TOO_LATE: "leave out the",
        Ending.KILLED: "clear the frozen",
        Ending.LAST: "clear the last of the",
    }
)


def _crops_by_batch(task: MergedTask) -> dict[str, str]:
    """Return what stands in each batch, where the batches do not all hold the same."""
    return {
        batch: listing(name(crop) for one in task.tasks if one.batch == batch for crop in one.crops)
        or _THINGS.get(task.action, "")
        for batch in task.batches
    }


def _amount(task: MergedTask, voice: Voice) -> tuple[str, str, str, str]:
    """Return the amount of one bale, per what, of what, and the sum for all bales."""
    measures = voice.measures
    bales = task.bales
    if task.action is Action.FEED:
        if task.dose is None:
            return "", "", "", ""
        in_all = f"{measures.mass(task.total_g)} in all" if bales > 1 else ""
        return measures.mass(task.dose.per_bale_g), "a bale", name(task.dose.feed), in_all
    litres = task.water_per_bale_l
    if not litres or task.action not in _WATERED:
        return "", "", "", ""
    times = task.first.times_a_day
    often = {1: "", 2: ", twice"}.get(times, f", {times} times")
    in_all = ""
    if bales > 1:
        in_all = f"{measures.water(litres * bales)} in all{' each time' if times > 1 else ''}"
    return measures.water(litres), f"a bale{often}", "", in_all


def _title(task: MergedTask, heading: str, amount: str, in_all: str) -> str:
    if task.state is State.HELD or not amount:
        return heading
    return f"{heading}: {amount}{', ' if in_all else ''}{in_all}"


def _days(task: MergedTask) -> dict[str, int]:
    """Return the day of the sequence of each batch that is in one."""
    return {one.batch: one.day for one in task.tasks if one.day is not None}


def _one_day(task: MergedTask) -> str:
    """Return " (day 5)" when all batches are on the same day, else ""."""
    days = _days(task)
    same = len(set(days.values())) == 1 and len(days) == len(task.batches)
    return f" (day {next(iter(days.values()))})" if same else ""


def _where_by_day(task: MergedTask) -> str:
    """Return the batches, each with its own day."""
    days = _days(task)
    return listing(
        f"{name(batch)} (day {days[batch]})" if batch in days else name(batch)
        for batch in task.batches
    )


def _days_said(task: MergedTask) -> str:
    """Return the days for the small print of the page."""
    if one := _one_day(task):
        return one.strip(" ()")
    return listing(f"{name(batch)} day {number}" for batch, number in _days(task).items())


def _headline(task: MergedTask, voice: Voice, amount: str) -> tuple[str, Reason | None]:
    """Return the task for a subject, and the reason that may be said with it."""
    why = next(iter(task.reasons), None)
    if task.state is State.HELD:
        return _HOLD_SHORT[task.action], why
    if task.state is not State.DUE:
        return f"{_SHORT[task.action].lower()} {STATE_WORDS[task.state].lower()}", None
    if task.action is Action.FEED and task.dose is not None:
        mass = voice.measures.mass(task.dose.per_bale_g)
        return f"feed {mass} of {name(task.dose.feed, SHORT_NAME)} a bale", None
    if amount:
        return f"{_HEADLINES[task.action]}, {amount}", None
    if waits_for_no_water(task.first):
        return "no water needed", None
    crops = listing(name(crop, SHORT_NAME) for crop in task.crops[:MOST_CROPS])
    if task.action is Action.HARVEST and (clearing := _clearing(task)):
        left_out = ending_of(task) is Ending.TOO_LATE
        return f"{clearing} {crops}", why if left_out else None
    because = why if task.action is Action.PROTECT else None
    return f"{_HEADLINES[task.action]}{' ' + crops if crops else ''}", because


def _what_for(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    """Return what a feeding or a soaking is for."""
    if task.state is not State.DUE:
        return ()
    if task.action is Action.SOAK:
        if waits_for_no_water(task.first):
            return ()
        return (WHY_SOAK_AGAIN if soaked_before(task) else WHY_SOAK,)
    if task.dose is None:
        return ()
    nitrogen = voice.measures.mass(task.dose.nitrogen_per_bale_g)
    return (f"The dose gives each bale {nitrogen} of nitrogen.",)


def _until(task: MergedTask, voice: Voice) -> str:
    until = task.first.held_until
    if any(reason.code is ReasonCode.NOT_TOLD for reason in task.reasons):
        return "Until you have answered whether it was done."
    days = max(one.held_days for one in task.tasks)
    held = f", held for {count(days, 'day')} so far" if days > 0 else ""
    own = any(reason.code is ReasonCode.HELD_LONG for reason in task.reasons)
    again = "your decision" if own else "decided again each morning"
    if until is None:
        return f"Until further notice; {again}{held}."
    ahead = (until - voice.on).days
    said = f"tomorrow, {day(until)}," if ahead == 1 else day(until)
    return f"Until {said} at the earliest; {again}{held}."


_WATERED = frozenset({Action.SOAK, Action.WATER, Action.SURFACE_WATER})

_THINGS: MappingProxyType[Action, str] = MappingProxyType(
    {
        Action.PLANT: "plants",
        Action.SOW: "seed",
        Action.PROTECT: "the plants",
        Action.UNCOVER: "the plants",
        Action.THIN: "seedlings",
        Action.SUPPORT: "plants",
        Action.HARVEST: "what is ripe",
    }
)

_DEEDS: MappingProxyType[Action, str] = MappingProxyType(
    {
        Action.SOAK: "soak {where}",
        Action.WATER: "water {where}",
        Action.FEED: "feed {where}",
        Action.INSPECT: "look into {where}",
        Action.COVER_WITH_MIX: "spread potting mix on {where}",
        Action.PLANT: "plant {what} in {where}",
        Action.SOW: "sow {what} in {where}",
        Action.SURFACE_WATER: "water the top of {where}",
        Action.PROTECT: "cover {what} in {where}",
        Action.UNCOVER: "uncover {what} in {where}",
        Action.THIN: "thin {what} in {where}",
        Action.MULCH: "mulch {where}",
        Action.SUPPORT: "support {what} in {where}",
        Action.HARVEST: "harvest {what} in {where}",
        Action.SPREAD: "spread the spent bales of {where}",
    }
)

_HOLD: MappingProxyType[Action, str] = MappingProxyType(
    {
        Action.SOAK: "Hold the soaking of",
        Action.WATER: "Hold the water on",
        Action.FEED: "Hold the feed on",
        Action.INSPECT: "Wait with looking into",
        Action.COVER_WITH_MIX: "Hold the potting mix for",
        Action.PLANT: "Wait with planting in",
        Action.SOW: "Wait with sowing in",
        Action.SURFACE_WATER: "Hold the water on top of",
        Action.PROTECT: "Wait with covering in",
        Action.UNCOVER: "Leave the covers on in",
        Action.THIN: "Wait with thinning in",
        Action.MULCH: "Wait with mulching",
        Action.SUPPORT: "Wait with supports in",
        Action.HARVEST: "Wait with the harvest in",
        Action.SPREAD: "Wait with spreading",
    }
)

_HOLD_SHORT: MappingProxyType[Action, str] = MappingProxyType(
    {
        Action.SOAK: "hold the soaking",
        Action.WATER: "hold the water",
        Action.FEED: "hold the feed",
        Action.INSPECT: "wait with looking inside",
        Action.COVER_WITH_MIX: "hold the potting mix",
        Action.PLANT: "wait with planting",
        Action.SOW: "wait with sowing",
        Action.SURFACE_WATER: "hold the water",
        Action.PROTECT: "wait with covering",
        Action.UNCOVER: "leave covers on",
        Action.THIN: "wait with thinning",
        Action.MULCH: "wait with mulching",
        Action.SUPPORT: "wait with supports",
        Action.HARVEST: "wait with the harvest",
        Action.SPREAD: "wait with spreading",
    }
)

_HEADLINES: MappingProxyType[Action, str] = MappingProxyType(
    {
        Action.SOAK: "soak",
        Action.WATER: "water",
        Action.FEED: "feed",
        Action.INSPECT: "look inside the bales",
        Action.COVER_WITH_MIX: "spread potting mix",
        Action.PLANT: "plant",
        Action.SOW: "sow",
        Action.SURFACE_WATER: "water the top",
        Action.PROTECT: "cover",
        Action.UNCOVER: "uncover",
        Action.THIN: "thin",
        Action.MULCH: "mulch",
        Action.SUPPORT: "support",
        Action.HARVEST: "harvest",
        Action.SPREAD: "spread spent bales",
    }
)

_SHORT: MappingProxyType[Action, str] = MappingProxyType(
    {
        Action.SOAK: "Soak",
        Action.WATER: "Water",
        Action.FEED: "Feed",
        Action.INSPECT: "Look",
        Action.COVER_WITH_MIX: "Mix",
        Action.PLANT: "Plant",
        Action.SOW: "Sow",
        Action.SURFACE_WATER: "Water",
        Action.PROTECT: "Cover",
        Action.UNCOVER: "Open",
        Action.THIN: "Thin",
        Action.MULCH: "Mulch",
        Action.SUPPORT: "Stake",
        Action.HARVEST: "Pick",
        Action.SPREAD: "Spread",
    }
)

_ALSO: MappingProxyType[Also, str] = MappingProxyType(
    {
        Also.SHADE: "Shade what stands in the heat with cloth from noon to evening.",
        Also.LOOK_FIRST: (
            "Rain is likely today: look at the top each time, and leave it where it is wet. Rain "
            "may fail or come late, and young roots and seed cannot wait for it."
        ),
        Also.AGAIN_IF_DRY: (
            "On this hot day the water that washes the feed in is also that of the day. Feel the "
            "top late in the afternoon; where it is dry, wet it once more, so gently that nothing "
            "runs out below."
        ),
        Also.MOIST_ENOUGH: (
            "It holds enough. Push a hand in: if the straw inside feels drier than a wrung-out "
            "sponge, give a few litres all the same."
        ),
        Also.RAIN_WATERS: "Rain is expected to bring what is missing: leave the watering to it.",
        Also.FULL: (
            "It holds all it can: more would run out below and take feed along. A full bale is "
            "heavy, and water drips when you press the side."
        ),
        Also.SMALLER_DOSE: (
            "Less than planned: with what was fed besides, more would pass what this straw can "
            "take, and be lost as ammonia or washed out."
        ),
        Also.RAIN_WASHES_IN: "Give no water: today's rain is expected to wash it in.",
        Also.TOO_FULL_TO_WASH_IN: (
            "Give no water: the bale holds all it can, and more would carry the feed out below."
        ),
        Also.WET_EDGES: "Wet the sides and the edges of the bales too: they dry out first.",
    }
)

_INSTEAD: MappingProxyType[Instead, str] = MappingProxyType(
    {
        Instead.NO_WATER_BEFORE_FREEZE: (
            "Give no water before the freeze is over: the bales are moist enough."
        ),
        Instead.SOAK_AFTER_FREEZE: (
            "Give no water before the freeze is over: the first soaking can wait for it."
        ),
        Instead.DRAIN_HOSE: "Drain the hose, open its ends and protect the tap.",
        Instead.LEAVE_TO_RAIN: "Give no water either: moist bales can wait for the rain.",
        Instead.LET_COOL: (
            "Let the bale cool: keep it moist, leave it open to the air, and measure again "
            "tomorrow."
        ),
        Instead.GIVE_TIME: (
            "Keep the bale moist and give it time: in the cold straw rots slowly, and it is no "
            "bed yet."
        ),
        Instead.SHELTER_SEEDLINGS: "Bring seedlings and pots under a roof.",
        Instead.HARDEN_OFF: (
            "Put the seedlings out by day, longer each day, and take them in for the night."
        ),
        Instead.KEEP_SEED_DRY: "Keep the seed dry, or start it indoors and set it out later.",
        Instead.DECIDE_PLANTING: (
            "Decide yourself: under fleece or a cloche you may plant now, as long as no frost is "
            "forecast; then record it as done."
        ),
    }
)
