"""A task in words: what to do, how much and where; why; how; and what to leave.

A task is measured and named once (`task_places`); what is said of it, row by row, stands in the
table of its action in the catalogue. Where a task is not about the whole garden its batches stand
before it as a label, since growers name things freely.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, time

from msgspec import Struct

from strawbell.model.brief import (
    PUTS_IN,
    Action,
    Also,
    Caution,
    Instead,
    ReasonCode,
    State,
    Suffering,
    Task,
    WorkKind,
)
from strawbell.model.details import (
    Band,
    Detail,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    MixDetail,
    PlantDetail,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.model.feeds import Dose, FeedForm, Material
from strawbell.words.catalogue import Place, Tongue
from strawbell.words.escaping import NAME_LIMIT, clean, cut, name
from strawbell.words.merge import MergedTask
from strawbell.words.reasons import (
    WARM_HOURS,
    CautionWords,
    below,
    caution_list,
    chance_figure,
    reason_headline,
    reason_sentences,
)
from strawbell.words.units import Measures
from strawbell.words.voice import Voice, counted_crop, crops_name, dry_time, feed_name

SUBJECT_LIMIT = 52
"""Longest subject [characters]: what a phone shows of it."""
SHORT_NAME = 24
"""Longest name of a feed, a crop or a batch in a subject [characters]."""
NOTE_LIMIT = 300
"""Longest note shown with a task [characters]."""
FIRST_WATER, LAST_WATER = time(9), time(15)
"""By when a top that is watered twice is watered: by trial on recorded springs a seed bed dries
before a later one."""
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
Places = dict[str, Place]


class TaskWords(Struct, frozen=True):
    """One task as every medium shows it.

    `line` is the whole of it; `heading`, `figures` and `below` are the same for a page that shows
    amounts large. `brief` names it in a calendar or after a lead, `subject` in a mail. `beside`
    follows the line.
    """

    action: Action
    state: State
    line: str
    heading: str
    figures: tuple[Figure, ...]
    below: str
    brief: str
    subject: str
    beside: tuple[str, ...]
    why: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[CautionWords, ...]
    since: date | None
    """When it was explained, None where it is new; then `steps` and `cautions` are told again.

    None as well where nothing is given: nobody needs the steps."""


def task_words(
    task: MergedTask,
    voice: Voice,
    explained: Mapping[WorkKind, date] = NOTHING_EXPLAINED,
    *,
    judged: bool = True,
    lead: str = "",
) -> TaskWords:
    """Return a merged task in words.

    `explained` says when work of a kind was explained before, `judged` whether the weather was;
    `lead` stands before the work ("Tomorrow").
    """
    whole, say = task.whole, voice.say
    due, held = whole.state is State.DUE, whole.state is State.HELD
    places = task_places(task, voice)
    if lead:
        places["label"] = say("task.lead", lead=lead, label=places["label"])

    def row(name: str) -> str:
        return voice.tongue.optional("action", whole.action, name, **places)

    def lines(name: str) -> tuple[str, ...]:
        return voice.tongue.lines_of("action", whole.action, name, **places)

    amount = more = under = ""
    figures: tuple[Figure, ...] = ()
    if held:
        heading, more, figures = row("wait"), _until(whole, voice), _held_figures(whole, voice)
        under = "" if figures else more
        subject = _fitting(_held_subjects(whole, places, voice))
    elif due:
        heading, amount, more, under = map(row, ("deed", "amount", "more", "below"))
        figures = tuple(zip(lines("large"), lines("small"), strict=True))
        subject = _fitting(lines("subject"))
    else:
        called, label = noun(whole.action, voice.tongue), places["label"]
        crops = places["crops"]
        heading = say("task.noted", label=label, state=whole.state, noun=called, crops=crops)
        subject = _fitting((heading,))
    brief = say("task.brief", deed=heading, amount=amount, label=places["label"])
    since = _explained(task, explained) if due else None
    told = (why for why in whole.reasons if since is None or why.code not in ROUTINE_REASONS)
    if whole.action in PUTS_IN:  # Nobody counts the days: it waits for what the others say.
        told = (why for why in told if why.code is not ReasonCode.HELD_LONG)
    new = due and since is None
    signs = whole.detail.signs if new and isinstance(whole.detail, LookDetail) else ()
    return TaskWords(
        action=whole.action,
        state=whole.state,
        line=say("task.line", brief=brief, more=more),
        heading=heading,
        figures=figures,
        below=under,
        brief=brief,
        subject=subject,
        beside=beside(whole, voice) if due else _instead(whole, voice) if held else (),
        why=(
            *_fit(whole, voice, judged=judged),
            *(reason_sentences(told, voice) if due or held else ()),
        ),
        steps=(*(voice.tongue.of("sign", each) for each in signs), *(lines("how") if new else ())),
        cautions=caution_list(_unheard(whole, explained), voice) if new else (),
        since=None if waits_for_no_water(whole) else since,
    )


def _unheard(task: Task, explained: Mapping[WorkKind, date]) -> tuple[Caution, ...]:
    """Return the cautions of a task but for those that came with another feed."""
    fed = task.action is Action.FEED and any(kind.action is Action.FEED for kind in explained)
    return tuple(each for each in task.cautions if not fed or each not in _OF_ALL_FEEDS)


_OF_ALL_FEEDS = frozenset(
    {Caution.FEED_HANDLING, Caution.WATERCOURSE, Caution.LOCAL_RULES, Caution.BACKFLOW}
)
"""Cautions that every feeding has, whatever the feed."""


def noun(action: Action, tongue: Tongue) -> str:
    """Return what an action is called among others: "feed"."""
    return tongue.of("action", action, "noun")


def _explained(task: MergedTask, explained: Mapping[WorkKind, date]) -> date | None:
    """Return when all of a task was explained last, None where some of it is new."""
    dates = [explained.get(each.kind) for each in task.tasks]
    known = [on for on in dates if on is not None]
    detail = task.whole.detail
    is_again = isinstance(detail, PlantDetail) and detail.again
    return None if is_again or len(known) < len(dates) else max(known)


def short_word(task: Task, tongue: Tongue) -> str:
    """Return a task in one word for a narrow cell: "Feed", "Wait", "Water"."""
    if task.state is State.HELD:
        return tongue.say("cell.waits")
    if waits_for_no_water(task):
        return tongue.say("cell.unwatered")
    if _ending(task.detail) is Ending.TOO_LATE:
        return tongue.say("cell.left-out")
    return tongue.of("action", task.action, "cell")


def waits_for_no_water(task: Task) -> bool:
    """Return whether a day of water gives none, since the bale has enough or rain will do it."""
    waters = task.action in (Action.SOAK, Action.WATER, Action.SURFACE_WATER)
    waters = waters or (task.dose is not None and task.dose.is_nothing)
    return waters and task.water_per_bale_l == 0.0 and task.state is State.DUE


def beside(task: Task, voice: Voice) -> tuple[str, ...]:
    """Return what is said beside a task: which crops suffer, what else helps, a note."""
    harmed = (_harmed(one, voice) for one in task.suffering)
    note = cut(clean(task.note), NOTE_LIMIT)
    also = (voice.tongue.of("also", each) for each in task.also)
    return (*harmed, *also, *((note,) if note else ()))


def _harmed(one: Suffering, voice: Voice) -> str:
    crops, row = crops_name(one.crop, voice.tongue), one.effect.replace(" ", "-")
    said = voice.tongue.known(f"effect.{row}", crop=crops)
    return said or voice.say("task.harmed", crop=name(one.crop), effect=clean(one.effect))


def instead_sentences(instead: Iterable[Instead], voice: Voice) -> tuple[str, ...]:
    """Return what to do instead on a held day."""
    end = voice.horizon(voice.rules.rain_look_ahead_h)
    return tuple(voice.tongue.of("instead", each, by=end) for each in dict.fromkeys(instead))


def look_yourself(voice: Voice) -> str:
    """Return what the grower looks at when the weather could not be judged."""
    return instead_sentences((Instead.DECIDE_YOURSELF,), voice)[0]


def _fit(task: Task, voice: Voice, *, judged: bool) -> tuple[str, ...]:
    """Return why work goes ahead, where no reason of its own says it."""
    if task.state is not State.DUE or waits_for_no_water(task):
        return ()
    if task.action is Action.SOAK:
        return (voice.say("task.why-soak", again=_again(task.detail)),)
    speaks = any(why.code in _OF_THE_SKY for why in task.reasons)
    if task.action is not Action.FEED or speaks or not judged:
        return ()
    hours = min(voice.rules.rain_look_ahead_h, voice.rules.freeze_look_ahead_h)
    return (voice.say("task.good-day", by=voice.horizon(hours)),)


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


def _instead(task: Task, voice: Voice) -> tuple[str, ...]:
    """Return what to do instead, but for what the line or the lead says."""
    waters = task.action in (Action.WATER, Action.SURFACE_WATER, Action.SOAK)
    said = {Instead.DECIDE_YOURSELF, *(_NO_WATER if waters else ())}
    return instead_sentences((each for each in task.instead if each not in said), voice)


_NO_WATER = (Instead.NO_WATER_BEFORE_FREEZE, Instead.LEAVE_TO_RAIN)


def _fitting(candidates: tuple[str, ...]) -> str:
    """Return the first subject that a phone shows whole; the last one is cut where it must be."""
    fitting = (each for each in candidates if len(each) <= SUBJECT_LIMIT)
    return next(fitting, cut(candidates[-1], SUBJECT_LIMIT))


# What a message may name.


def task_places(task: MergedTask, voice: Voice) -> Places:
    """Return what a message about a task may name, in words; "" and None where it has none of it.

    `label` are the batches where it is not about all of them, `where` the same in short; `count`
    the bales. `the_crops` have their articles, and say where each stands if they stand apart;
    `counted` are the plants of a single crop. `pour` is the water of a bale where it is known, be
    it none, and `dry` that it is none; `walk` that the bales are looked over, not measured.
    """
    whole, measures, tongue = task.whole, voice.measures, voice.tongue
    detail, dose, crops, count = whole.detail, whole.dose, whole.crops, whole.bales
    codes = {why.code for why in whole.reasons}
    some = not set(task.batches) >= set(voice.places)
    is_all = len(voice.places) == 1 and count == sum(voice.places.values())
    litres = whole.pour_l
    at = next((why.at for why in whole.reasons[:1]), None)
    plants = whole.plants if len(crops) == 1 else None
    return {
        **_UNSAID,
        "label": tongue.listing(map(name, task.batches)) if some else "",
        "where": tongue.listing(name(e, SHORT_NAME) for e in task.batches) if some else "",
        "bales": voice.say("task.bales", count=count, all=is_all or not some),
        "count": count,
        "crops": _listed(crops, voice),
        "short": _listed(crops, voice, SHORT_NAME),
        "the_crops": _apart(task, voice),
        "the_short": _with_article(crops, voice, SHORT_NAME),
        "crops_count": len(crops),
        "plants": whole.plants,
        "counted": "" if plants is None else counted_crop(plants, crops[0], tongue),
        "water": measures.water(litres) if litres else "",
        "pour": "" if litres is None else measures.water(litres),
        "water_total": measures.water(litres * count) if litres else "",
        "dry": litres == 0.0,
        "enough": next((also for also in whole.also if also in _ENOUGH), None),
        "times": whole.times_a_day,
        "first": voice.clock(FIRST_WATER),
        "last": voice.clock(LAST_WATER),
        "first_warm": voice.clock(WARM_HOURS[0]),
        "last_warm": voice.clock(WARM_HOURS[1]),
        "warm": ReasonCode.WARM_HOURS in codes,
        "hot": ReasonCode.HOT_DRY in codes,
        "seedlings": ReasonCode.FIRST_WEEKS in codes,
        "again": _again(detail),
        "plant_below": below(voice.rules.plant_below_c, voice),
        "command": _reading(task, measures),
        "when": "" if at is None else voice.about(at),
        "ending": _ending(detail),
        **({} if dose is None else _dose_places(dose, count, measures)),
        **_detail_places(detail, count, voice),
    }


_UNSAID: Places = {
    **dict.fromkeys(("feed", "amount", "total", "jug", "rate", "dry_at", "up", "deep"), ""),
    **dict.fromkeys(("mix", "mix_total", "apart", "edge", "depth", "per_bale", "upright"), ""),
    **dict.fromkeys(("height", "thin_to", "area"), ""),
    **dict.fromkeys(("form", "every", "rows", "strings")),
    **dict.fromkeys(("nothing", "cakes", "walk"), False),
}
"""What only some work has."""
_ENOUGH = (Also.MOIST_ENOUGH, Also.RAIN_WATERS, Also.FULL)


def _again(detail: Detail | None) -> bool:
    return isinstance(detail, SoakDetail | PlantDetail) and detail.again


def _ending(detail: Detail | None) -> Ending | None:
    """Return why a crop is over with a task, None for a picking that goes on and other work."""
    return detail.ending if isinstance(detail, HarvestDetail) else None


def _reading(task: MergedTask, measures: Measures) -> str:
    reading = "95F" if measures.us else "35C"
    batch = name(task.batches[0]).replace('"', "'")
    return f'strawbell record temperature {reading} --batch "{batch}"'


def _listed(crops: Iterable[str], voice: Voice, limit: int = NAME_LIMIT) -> str:
    return voice.tongue.listing(crops_name(crop, voice.tongue, limit) for crop in crops)


def _with_article(crops: Iterable[str], voice: Voice, limit: int = NAME_LIMIT) -> str:
    named = (crops_name(crop, voice.tongue, limit) for crop in crops)
    return voice.tongue.listing(voice.say("task.the-crop", crop=each) for each in named)


def _apart(task: MergedTask, voice: Voice) -> str:
    """Return the crops of a task, each with where it stands if they stand apart."""
    apart = {
        batch: _with_article(
            (c for one in task.tasks if one.batch == batch for c in one.crops), voice
        )
        for batch in task.batches
    }
    if len(set(apart.values())) <= 1:
        return next(iter(apart.values()))
    return voice.tongue.listing(
        voice.say("task.crops-in", crops=crops, batch=name(batch)) for batch, crops in apart.items()
    )


def _dose_places(dose: Dose, bales: int, measures: Measures) -> Places:
    feed = feed_name(dose.feed, measures.tongue)
    if dose.is_nothing:
        return {"feed": feed, "nothing": True}
    by_volume, each_g = _by_volume(dose), measures.dose_g(dose.per_bale_g)
    volume = "" if dose.per_bale_ml is None else measures.volume(dose.per_bale_ml)
    return {
        "form": dose.form,
        "feed": feed,
        "amount": volume if by_volume else measures.mass(each_g),
        "total": measures.volume(dose.total_ml) if by_volume else measures.mass(each_g * bales),
        "jug": volume,
        "rate": "" if dose.rate is None else measures.rate(dose.rate),
        "cakes": dose.material is Material.BLOOD_MEAL and not dose.form.is_poured,
    }


def _by_volume(dose: Dose) -> bool:
    """Return whether a dose is measured out by volume: a liquid, or a powder by the spoon."""
    spoons = dose.rate is not None and dose.rate.ml_per_l is not None
    powder = dose.form is FeedForm.SOLUBLE and spoons
    return dose.per_bale_ml is not None and (dose.form is FeedForm.LIQUID or powder)


def _detail_places(detail: Detail | None, bales: int, voice: Voice) -> Places:
    measures, length, water = voice.measures, voice.measures.length, voice.measures.water
    match detail:
        case FeedDetail(every_days=days):
            return {"every": days}
        case LookDetail():
            return {"walk": True}
        case MixDetail(layer_cm=layer, per_bale_l=litres):
            return {"deep": length(layer), "mix": water(litres), "mix_total": water(litres * bales)}
        case TopWaterDetail(dry_at=dry_at, up_in_days=up):
            told = dry_time(dry_at)
            at = "" if told is None else voice.clock(told)
            return {
                "dry_at": at,
                **({} if up is None else {"up": _up(up, voice), "seedlings": True}),
            }
        case PlantDetail() as plant:
            return {
                "apart": length(plant.spacing_cm),
                "edge": length(plant.edge_cm),
                "depth": "" if plant.depth_cm is None else length(plant.depth_cm),
                "per_bale": "" if plant.per_bale is None else measures.band(plant.per_bale),
                "rows": plant.rows or None,
                "upright": "" if plant.upright_cm is None else length(plant.upright_cm),
                "up": "" if plant.up_in_days is None else _up(plant.up_in_days, voice),
            }
        case ThinDetail(to_cm=to):
            return {"thin_to": length(to)}
        case SupportDetail(height_cm=height, upright_cm=upright):
            return {"height": length(height), "upright": length(upright)}
        case SpreadDetail() as spent:
            deep, area = length(spent.depth_cm), measures.area_band(spent.area_m2)
            return {"strings": spent.strings or None, "deep": deep, "area": area}
    return {}


def _up(in_days: Band, voice: Voice) -> str:
    low, high = (end and voice.measures.number(end, 0) for end in (in_days.low, in_days.high))
    return voice.say("task.up", low=low, high="same" if low == high else high or None)


# What waits.


def _held_figures(task: Task, voice: Voice) -> tuple[Figure, ...]:
    on, figures = task.held_until, []
    if on is not None and not _asks(task):
        until = voice.say("figure.until", near=voice.nearness(on), day=voice.near_day(on))
        figures.append((until, voice.say("figure.earliest")))
    chances = (each for why in task.reasons if (each := chance_figure(why, voice)))
    return (*figures, *(each for each in (next(chances, None),) if each))


def _held_subjects(task: Task, places: Places, voice: Voice) -> tuple[str, ...]:
    bales = voice.say("task.bales", count=2, all=False)
    plain = {**places, "label": "", "bales": bales, "crops": places["short"]}
    wait = voice.tongue.of("action", task.action, "wait", **plain)
    if not task.reasons:
        return (wait,)
    return voice.say("task.held", wait=wait, why=reason_headline(task.reasons[0], voice)), wait


def _until(task: Task, voice: Voice) -> str:
    """Return until when work waits, and whose decision it is."""
    on, said = task.held_until, None
    if on is not None:
        said = voice.nearness(on)
    if any(reason.code is ReasonCode.HELD_LONG for reason in task.reasons):
        said = "wait" if task.action in PUTS_IN else "yours"
    if _asks(task):
        said = "ask"
    return voice.say("task.until", until=said, day=None if on is None else voice.near_day(on))


def _asks(task: Task) -> bool:
    codes = {reason.code for reason in task.reasons}
    return ReasonCode.NOT_TOLD in codes or codes == {ReasonCode.UNANSWERED}
