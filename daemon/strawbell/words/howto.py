"""How each task is done, as steps a grower can follow with the tool in hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from strawbell.model.brief import Action, Task
from strawbell.model.details import (
    Band,
    Ending,
    FeedDetail,
    HarvestDetail,
    LookDetail,
    PlantDetail,
    Sign,
    SoakDetail,
    SpreadDetail,
    SupportDetail,
    ThinDetail,
    TopWaterDetail,
)
from strawbell.model.feeds import Dose, FeedForm, Material
from strawbell.words.escaping import count, name
from strawbell.words.figures import band
from strawbell.words.merge import MergedTask
from strawbell.words.nouns import feed_name
from strawbell.words.reasons import below
from strawbell.words.voice import Voice

SQUARE_FEET_PER_M2 = 10.7639


def how_to(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    """Return the steps in which a task is done."""
    return tuple(step for step in _HOW[task.action](task, voice) if step)


def potting_mix(voice: Voice) -> str:
    """Return what goes on top of a bale, as it is called there."""
    return "potting mix" if voice.measures.us else "potting compost"


def mould(voice: Voice) -> str:
    """Return rotted leaves, as they are spelt there."""
    return "leaf mold" if voice.measures.us else "leaf mould"


def _feed(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    dose = task.dose
    if dose is None:
        return ("The dose is unknown: go by the label of the feed.",)
    if dose.is_nothing:
        return ()
    how = _poured(dose, voice) if dose.form.is_poured else _dry(task, dose, voice)
    if isinstance(task.detail, FeedDetail):
        how += (
            "Keep it off leaves and stems.",
            f"Again in {task.detail.every_days} days, or less often where the label says so.",
        )
    return how


def _dry(task: MergedTask, dose: Dose, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    jug = "" if dose.per_bale_ml is None else f" (about {measures.volume(dose.per_bale_ml)} by jug)"
    litres = task.water_per_bale_l
    wash = ""
    if litres is None or litres > 0.0:
        much = "" if litres is None else f", {measures.water(litres)} a bale"
        wash = f"Water it in slowly with a rose{much}. Stop if it runs out below."
    return (
        "Gloves on. Stay upwind; keep dust out of eyes and mouth.",
        f"Weigh {measures.mass(dose.per_bale_g)} a bale{jug}.",
        "Scatter it evenly over the whole top.",
        _CAKES if dose.material is Material.BLOOD_MEAL else "",
        wash,
        "Wash your hands. Shut the bag; keep it dry, away from children and animals.",
    )


_CAKES = "Work it in with a hand fork: left on top, blood meal cakes and sheds water."


def by_volume(dose: Dose) -> bool:
    """Return whether a dose is measured out by volume: a liquid, or a powder by the spoon."""
    spoons = dose.rate is not None and dose.rate.ml_per_l is not None
    return dose.per_bale_ml is not None and (
        dose.form is FeedForm.LIQUID or (dose.form is FeedForm.SOLUBLE and spoons)
    )


def _poured(dose: Dose, voice: Voice) -> tuple[str, ...]:
    measures, feed = voice.measures, feed_name(dose.feed, voice.measures)
    much = measures.volume(dose.per_bale_ml) if by_volume(dose) else measures.mass(dose.per_bale_g)
    rate = "" if dose.rate is None else f", {measures.rate(dose.rate)}"
    stir = (
        f"Dissolve {much} of {feed} a bale in the water{rate}. Stir until it's clear."
        if dose.form is FeedForm.SOLUBLE
        else f"Stir {much} of {feed} a bale into the water{rate}."
    )
    return (
        f"Gloves on. {stir}",
        "Pour it slowly over the whole top. No water after it.",
    )


def _soak(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    """Return how straw is wetted through: dripping is the end, the amount what it mostly takes."""
    soap = "dish soap" if voice.measures.us else "washing-up liquid"
    if task.water_per_bale_l == 0.0:
        return ()
    if soaked_before(task):
        return ("Water slowly until it drips. Takes it much more, the middle was dry.",)
    return (
        "Stand each bale cut ends up, strings round the sides. Leave the strings on.",
        "Water the whole top slowly with a soft spray, then move to the next bale.",
        "Go round again, three or four times: dry straw sheds water at first. Where it still runs "
        f"off, put a few drops of {soap} into the can.",
        "Stop at the first steady drip. Don't lift a wet bale.",
    )


def soaked_before(task: MergedTask) -> bool:
    """Return whether a soaking is a later one."""
    return isinstance(task.detail, SoakDetail) and task.detail.again


def _water(task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    if task.water_per_bale_l == 0.0:
        return ()
    return ("Pour slowly over the whole top, so that it soaks in.",)


def _surface_water(task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    top = task.detail if isinstance(task.detail, TopWaterDetail) else TopWaterDetail()
    # Where no amount is reckoned, the finger is the measure (common practice).
    until = "" if task.water_per_bale_l else " until it is moist a finger deep"
    return (
        f"Wet the top with a fine rose{until}; keep the leaves dry where you can.",
        _comes_up(top.up_in_days),
    )


def _comes_up(in_days: Band | None) -> str:
    if in_days is None:
        return ""
    low, high = in_days.low, in_days.high
    until = f"{low:.0f}" if high == low else f"{low:.0f} to {high:.0f}" if high else ""
    said = f"{until} days" if until else f"{low:.0f} days or more"
    return f"Seed is up {said} after sowing."


_SIGNS: Mapping[Sign, str] = {
    Sign.SPROUTS: "Grain sprouts like a lawn: pull it, or cut it short. It takes water and feed.",
    Sign.MUSHROOMS: "Mushrooms after rain show that the straw rots: harmless, but don't eat them.",
    Sign.SLUGS: "Slugs after rain: collect them at dusk, and lift boards and pots by day.",
    Sign.SUNK: "Sunk, and roots bare? Top up with {mix}. Stakes hold one that bursts.",
}


def _inspect(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    if isinstance(task.detail, LookDetail):
        return (
            *(_SIGNS[sign].format(mix=potting_mix(voice)) for sign in task.detail.signs),
            "Pull weeds while they're small. Look for eggs under leaves, and for burrows of mice "
            "and rats.",
            f"Straighten bales that lean, tighten strings, fill holes with {potting_mix(voice)}.",
        )
    limit = below(voice.rules.plant_below_c, voice)
    batch = name(task.batches[0]).replace('"', "'")
    reading = "95F" if voice.measures.us else "35C"
    return (
        "Push a long thermometer into the middle of a bale; wait until it stands still.",
        f"Ready to plant: below {limit} and falling.",
        "No thermometer? It smells of earth rather than ammonia, and gives under your hand.",
        f'Note it: reply with the reading, or strawbell record temperature {reading} --batch "'
        f'{batch}"',
    )


def _cover_with_mix(_task: MergedTask, voice: Voice) -> tuple[str, ...]:
    return (
        f"Use bought {potting_mix(voice)}, never garden soil: it's heavy and full of weeds.",
        "Level it to the edges and water it well.",
    )


def _plant(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    known = task.detail if isinstance(task.detail, PlantDetail) else None
    return (
        _again(known),
        "Feel inside each hole first: no warmer than your hand. Water the pots.",
        f"Part the straw{_apart(known, voice)}. Two handfuls of {potting_mix(voice)}, plant level "
        "with the top, firm.",
        *_layout(known, voice),
        _pour_at_once(task, voice),
    )


def _sow(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    known = task.detail if isinstance(task.detail, PlantDetail) else None
    depth_cm = None if known is None else known.depth_cm
    deep = "" if depth_cm is None else f" {voice.measures.length(depth_cm)} deep"
    return (
        _again(known),
        f"Sow into the {potting_mix(voice)}{deep}{_apart(known, voice)}, and firm it.",
        *_layout(known, voice),
        _pour_at_once(task, voice),
        "Keep the top moist until the seed is up.",
        _comes_up(None if known is None else known.up_in_days),
    )


def _again(known: PlantDetail | None) -> str:
    """Return what to look at before a killed planting is put in again, "" for a first one."""
    if known is None or not known.again:
        return ""
    return "Frost has probably killed the first ones. Look: where they live, leave them, note done."


def _apart(known: PlantDetail | None, voice: Voice) -> str:
    return "" if known is None else f", {voice.measures.length(known.spacing_cm)} apart"


def _layout(known: PlantDetail | None, voice: Voice) -> tuple[str, ...]:
    """Return how the plants of one bale stand, and the stakes that go in with them."""
    if known is None:
        return ()
    measures, said = voice.measures, []
    if known.per_bale is not None:
        many = band(known.per_bale, lambda plants: measures.number(plants, 1), measures)
        in_rows = f" in {count(known.rows, 'row')}" if known.rows else ""
        edge = measures.length(known.edge_cm)
        said.append(f"On each bale {many}{in_rows}, at least {edge} from the edge.")
    if known.upright_cm is not None:
        long = measures.length(known.upright_cm)
        said.append(f"Stakes of about {long} go in now, before roots spread.")
    return tuple(said)


def _pour_at_once(task: MergedTask, voice: Voice) -> str:
    litres = task.water_per_bale_l
    much = "" if litres is None else f", {voice.measures.water(litres)} a bale"
    return f"Water in at once{much}."


def _lay_tarp(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return (
        "Lay something down the middle of the row, so that rain runs off to the sides.",
        "Spread the sheet over the tops and a hand down the sides; leave the ends open to the air.",
        "Weigh it down against wind.",
    )


def _lift_tarp(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return ("Tip the water off beside the bales, and dry the sheet before it is put away.",)


def _protect(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return ("Fleece or cloth down to the straw, held off the leaves, edges weighed down.",)


def _uncover(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return ("Once it's above freezing, before the sun heats them.",)


def _thin(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    to = ", leave the strongest"
    if isinstance(task.detail, ThinDetail):
        to = f" until they stand {voice.measures.length(task.detail.to_cm)} apart"
    return (f"Cut the weakest at the base{to}. Pulling would tear the others' roots.",)


def _mulch(_task: MergedTask, voice: Voice) -> tuple[str, ...]:
    return (f"A thin layer of clean straw or {mould(voice)}, clear of the stems.",)


def _support(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    long = ""
    if isinstance(task.detail, SupportDetail):
        long = f" about {voice.measures.length(task.detail.upright_cm)} long"
    return (
        f"Stakes or a trellis{long}, driven into the ground at the ends of the row: a bale sinks "
        "and holds no stake.",
        "Tie the plants loosely.",
    )


def ending_of(task: MergedTask | Task) -> Ending | None:
    """Return why a crop is over with a task, None for a picking that goes on and other work."""
    return task.detail.ending if isinstance(task.detail, HarvestDetail) else None


def _harvest(task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return _ENDINGS[ending_of(task)]


_CUT = "Cut the plants off at the straw; leave the roots in it."
_ENDINGS: Mapping[Ending | None, tuple[str, ...]] = {
    None: ("Pick in the cool of the morning; what is picked often bears longer.",),
    Ending.LAST: ("Pick all that is left.", _CUT),
    Ending.KILLED: (
        "Frost has probably killed it. Look: where it lives, note this as not done.",
        "Pick what you can still use.",
        _CUT,
    ),
    Ending.TOO_LATE: (
        "Sow something quick and hardy in its place, or let the bales go.",
        "Planted all the same? Note that planting as done, and I'll count it.",
    ),
}


def _spread(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    many = covers = ""
    if isinstance(spent := task.detail, SpreadDetail):
        many = f", all {spent.strings} of them" if spent.strings else ""
        deep, area = measures.length(spent.depth_cm), _area(spent.area_m2, voice)
        covers = f" {deep} deep it covers {area}."
    return (
        f"Cut the strings and take them away{many}: twine doesn't rot, and harms animals.",
        f"Use the straw as mulch, or compost it.{covers}",
        "`strawbell summary` shows what the season came to.",
    )


def _area(area_m2: Band, voice: Voice) -> str:
    """Return the area the straw covers."""
    scale, unit = (SQUARE_FEET_PER_M2, "feet") if voice.measures.us else (1.0, "metres")
    ends = (end for end in (area_m2.low, area_m2.high) if end is not None)
    return f"{' to '.join(f'{end * scale:.0f}' for end in ends)} square {unit}"


_HOW: Mapping[Action, Callable[[MergedTask, Voice], tuple[str, ...]]] = {
    Action.SOAK: _soak,
    Action.WATER: _water,
    Action.FEED: _feed,
    Action.INSPECT: _inspect,
    Action.COVER_WITH_MIX: _cover_with_mix,
    Action.PLANT: _plant,
    Action.SOW: _sow,
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
