"""How each task is done, in sentences a grower can follow with the tool in hand."""

from __future__ import annotations

from collections.abc import Callable
from types import MappingProxyType

from strawbell.model.brief import Action, Task
from strawbell.model.details import (
    Band,
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
from strawbell.model.feeds import Dose, FeedForm
from strawbell.words.escaping import count, listing, name
from strawbell.words.figures import about_time, band
from strawbell.words.merge import MergedTask
from strawbell.words.voice import Voice

SQUARE_FEET_PER_M2 = 10.7639


def how_to(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    """Return the sentences that say how a task is done."""
    return tuple(sentence for sentence in _HOW[task.action](task, voice) if sentence)


def kitchen(volume_ml: float | None, voice: Voice) -> str:
    """Return a volume in brackets for a sentence, "" when it is unknown."""
    return "" if volume_ml is None else f" (about {voice.measures.volume(volume_ml)})"


def _each(task: MergedTask) -> str:
    return "the bale" if task.bales == 1 else f"each of the {task.bales} bales"


def _water_a_bale(task: MergedTask, voice: Voice) -> str:
    litres = task.water_per_bale_l
    return "" if litres is None else f"{voice.measures.water(litres)} a bale"


def _in_all(task: MergedTask, voice: Voice) -> str:
    litres = task.water_per_bale_l
    if litres is None or task.bales == 1:
        return ""
    return f", {voice.measures.water(litres * task.bales)} in all"


def _feed(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    dose = task.dose
    if dose is None:
        return ("The dose is unknown: go by the label of the feed.",)
    liquid = dose.form is FeedForm.LIQUID
    how = _liquid(task, dose, voice) if liquid else _dry(task, dose, voice)
    detail = task.detail
    if not isinstance(detail, FeedDetail):
        return how
    again = f"Again in {detail.every_days} days; a label that says less goes before this."
    return (*how, "Keep it off leaves and stems.", again)


def _dry(task: MergedTask, dose: Dose, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    amount = f"{measures.mass(dose.per_bale_g)}{kitchen(dose.per_bale_ml, voice)}"
    scatter = f"Scatter {amount} of {name(dose.feed)} evenly over the top of {_each(task)}."
    total = ""
    if task.bales > 1:
        in_all = f"{measures.mass(task.total_g)}{kitchen(task.total_ml, voice)}"
        total = f"That takes {in_all} for {count(task.bales, 'bale')}."
    litres = task.water_per_bale_l
    wash = "Wash it in slowly." if litres is None else ""
    if litres:
        wash = f"Wash it in slowly with {measures.water(litres)} of water a bale."
    return (scatter, total, wash)


def _liquid(task: MergedTask, dose: Dose, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    feed = name(dose.feed)
    volume = dose.per_bale_ml
    amount = measures.mass(dose.per_bale_g) if volume is None else measures.volume(volume)
    stir = f"Stir {amount} of {feed} for {_each(task)} into water"
    if dose.dilution_ml_per_l is not None:
        stir += f", {measures.rate(dose.dilution_ml_per_l)}"
    total = ""
    if task.bales > 1:
        in_all = task.total_ml
        said = measures.mass(task.total_g) if in_all is None else measures.volume(in_all)
        total = f"That takes {said} of feed for {count(task.bales, 'bale')}."
    water = _water_a_bale(task, voice)
    pour = "Pour it slowly over the whole top"
    return (f"{stir}.", total, f"{pour}; with the water it makes {water}." if water else f"{pour}.")


def _soak(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    """Return how straw is wetted through: dripping is the end, the amount what it mostly takes."""
    if task.water_per_bale_l == 0.0:
        return ()
    water = _water_a_bale(task, voice)
    takes = f" It takes about {water}{_in_all(task, voice)}" if water else ""
    again = soaked_before(task)
    soak = f"Soak {_each(task)} slowly{' again' if again else ''} until it drips from the bottom."
    if again:
        rest = "; where more goes in before it drips, the middle was dry." if takes else ""
        return (f"{soak}{takes}{rest}",)
    return (
        f"{soak}{takes}{'.' if takes else ''}",
        "Dry straw sheds water at first: come back two or three times.",
    )


def soaked_before(task: MergedTask) -> bool:
    """Return whether a soaking is of bales that were soaked before."""
    return isinstance(task.detail, SoakDetail) and task.detail.again


def _water(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    if task.water_per_bale_l == 0.0:
        return ()
    water = _water_a_bale(task, voice)
    many = f": {water}{_in_all(task, voice)}" if water else ""
    return (f"Water slowly over the whole top, so that it soaks in{many}.", _times(task))


def _surface_water(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    water = _water_a_bale(task, voice)
    many = f", {water}{_in_all(task, voice)} each time" if water else ""
    known = task.detail if isinstance(task.detail, TopWaterDetail) else TopWaterDetail()
    at = known.dry_at
    dry = "" if at is None else f"Without it the top is dry by about {about_time(at)}."
    # Where no amount is reckoned, the finger is the measure (common practice).
    until = "" if water else " until it is moist a finger deep"
    return (
        f"Wet the top layer with a fine rose{many}{until}; leaves stay dry where they can.",
        _times(task),
        dry,
        _comes_up(known.up_in_days),
    )


def _times(task: MergedTask) -> str:
    times = task.first.times_a_day
    if times <= 1:
        return ""
    if times == 2:  # noqa: PLR2004 - the sentence is about the number
        return "Do it twice: early in the morning, and again late in the afternoon."
    return f"Do it {times} times, spread from early morning to late afternoon."


def _comes_up(in_days: Band | None) -> str:
    if in_days is None:
        return ""
    low, high = in_days.low, in_days.high
    until = f"{low:.0f}" if high == low else f"{low:.0f} to {high:.0f}" if high else ""
    said = f"{until} days" if until else f"{low:.0f} days or more"
    return f"The seed is expected up {said} after sowing."


def _look_over(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return (
        "Pull sprouted grain and weeds while they are small; mushrooms do no harm, but are not "
        "for eating.",
        "Look for burrows and droppings of mice and rats, for slugs, and under leaves for eggs.",
        "Straighten bales that lean, tighten ties, and fill holes with potting mix.",
    )


def _inspect(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    if isinstance(task.detail, LookDetail):
        return _look_over(task, voice)
    limit = voice.measures.temperature(voice.rules.plant_below_c)
    batch = name(task.batches[0]).replace('"', "'")
    reading = "95F" if voice.measures.us else "35C"
    return (
        "Put a long thermometer into the middle of a bale and wait until it stands still.",
        f"It is fit for planting under {limit} and falling.",
        "Without a thermometer: it smells of earth rather than of ammonia, gives under the hand "
        "and darkens inside; sprouted grain and ink-cap mushrooms are good signs.",
        f'Write the reading down: strawbell record temperature {reading} --batch "{batch}"',
    )


def _cover_with_mix(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    mix = task.detail if isinstance(task.detail, MixDetail) else None
    how_much = "" if mix is None else f", about {measures.water(mix.per_bale_l)} a bale"
    thick = "a layer" if mix is None else f"a layer of {measures.length(mix.layer_cm)}"
    return (
        f"Spread {thick} of sterile potting mix over the top of {_each(task)}{how_much}.",
        "Garden soil is too heavy and brings weeds. Water the layer well.",
    )


def _plant(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    known = _planting(task)
    return (
        _again(known),
        "Feel inside each hole first: no warmer than the hand. Part the straw"
        f"{_apart(known, voice)}, set the root ball in with a handful of potting mix, and "
        "close the straw around it.",
        _layout(known, voice),
        _stakes(known, voice),
        _pour_at_once(task, voice),
    )


def _sow(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    known = _planting(task)
    depth_cm = None if known is None else known.depth_cm
    deep = "" if depth_cm is None else f" {voice.measures.length(depth_cm)} deep"
    return (
        _again(known),
        f"Sow into the layer of potting mix{deep}{_apart(known, voice)}, and firm it.",
        _layout(known, voice),
        _stakes(known, voice),
        "Keep the layer moist until the seed is up.",
        _comes_up(None if known is None else known.up_in_days),
        _pour_at_once(task, voice),
    )


def _planting(task: MergedTask) -> PlantDetail | None:
    return task.detail if isinstance(task.detail, PlantDetail) else None


def _apart(known: PlantDetail | None, voice: Voice) -> str:
    return "" if known is None else f", {voice.measures.length(known.spacing_cm)} apart"


def _layout(known: PlantDetail | None, voice: Voice) -> str:
    """Return how the plants of one bale stand."""
    if known is None or known.per_bale is None:
        return ""
    measures = voice.measures
    many = band(known.per_bale, lambda plants: measures.number(plants, 1), measures)
    in_rows = f" in {count(known.rows, 'row')}" if known.rows else ""
    edge = measures.length(known.edge_cm)
    return f"On each bale {many}{in_rows}, no nearer than {edge} to the edge."


def _stakes(known: PlantDetail | None, voice: Voice) -> str:
    if known is None or known.upright_cm is None:
        return ""
    long = voice.measures.length(known.upright_cm)
    return f"Stakes of about {long} go in now or tomorrow, before roots spread."


def _pour_at_once(task: MergedTask, voice: Voice) -> str:
    water = _water_a_bale(task, voice)
    return f"Water in at once, {water}." if water else "Water in at once."


def _protect(task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    what = listing(name(crop) for crop in task.crops) or "the plants"
    return (
        f"Before dusk, cover {what} with fleece or cloth down to the straw, held off the leaves "
        "and weighted at the edges.",
    )


def _uncover(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return ("Take covers off once the air is above freezing, before the sun heats them.",)


def _thin(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    to = " to the strongest"
    if isinstance(task.detail, ThinDetail):
        to = f" until they stand {voice.measures.length(task.detail.to_cm)} apart"
    return (f"Cut the weakest at the base{to}; pulling would tear the others' roots.",)


def _mulch(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return ("Lay clean straw or leaf mould thinly over the top, clear of the stems.",)


def _support(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    grown = uprights = ""
    if isinstance(task.detail, SupportDetail):
        high, long = map(voice.measures.length, (task.detail.height_cm, task.detail.upright_cm))
        grown = f" They grow to about {high}."
        uprights = f"Uprights of about {long} reach from the ground to the tops."
    return (
        f"Set stakes or a trellis into the ground at the ends of the row and tie the plants "
        f"loosely; a bale sinks and holds no stake by itself.{grown}",
        uprights,
    )


def _again(known: PlantDetail | None) -> str:
    """Return what to look at before a killed planting is put in again, "" for a first one."""
    if known is None or not known.again:
        return ""
    return (
        "A freeze is likely to have killed the first ones: look, and where they live leave them "
        "and record this as done."
    )


def ending_of(task: MergedTask | Task) -> Ending | None:
    """Return why a crop is over with a task, None for a picking that goes on and other work."""
    return task.detail.ending if isinstance(task.detail, HarvestDetail) else None


def _harvest(task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    ending = ending_of(task)
    if ending is Ending.KILLED:
        return (
            "A freeze is likely to have killed it: look, and where it lives record this as "
            "missed. Else pick what can still be used, cut the plants off at the straw and leave "
            "the roots in it.",
        )
    if ending is Ending.TOO_LATE:
        return (
            "Sow something quick and hardy in its place, or let the bales go: the spreading is "
            "told when nothing else is to come. Planted all the same, it counts once you record "
            "that planting as done.",
        )
    if ending is Ending.LAST:
        return (
            "Pick everything that is left, then cut the plants off at the straw and leave the "
            "roots in it.",
        )
    return ("Pick what is ripe in the cool of the morning; what is picked often bears longer.",)


def _spread(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    many = covers = carries = ""
    if isinstance(spent := task.detail, SpreadDetail):
        many = f" all {spent.strings} of them" if spent.strings else ""
        deep, area = measures.length(spent.depth_cm), _area(spent.area_m2, voice)
        covers = f"Spread {deep} deep it covers {area}."
        nitrogen = band(spent.nitrogen_g, measures.mass, measures)
        carries = f"It still carries about {nitrogen} of nitrogen, most of it set free slowly."
    return (
        f"Cut the strings and count{many} away: plastic twine does not rot, and animals and "
        "mowers suffer from it.",
        "Spread the spent straw as mulch, or put it on the compost.",
        covers,
        carries,
        "`strawbell summary` shows what the season came to.",
    )


def _area(area_m2: Band, voice: Voice) -> str:
    """Return the area the straw covers."""
    scale, unit = (SQUARE_FEET_PER_M2, "feet") if voice.measures.us else (1.0, "metres")
    ends = (end for end in (area_m2.low, area_m2.high) if end is not None)
    return f"{' to '.join(f'{end * scale:.0f}' for end in ends)} square {unit}"


_HOW: MappingProxyType[Action, Callable[[MergedTask, Voice], tuple[str, ...]]] = MappingProxyType(
    {
        Action.SOAK: _soak,
        Action.WATER: _water,
        Action.FEED: _feed,
        Action.INSPECT: _inspect,
        Action.COVER_WITH_MIX: _cover_with_mix,
        Action.PLANT: _plant,
        Action.SOW: _sow,
        Action.SURFACE_WATER: _surface_water,
        Action.PROTECT: _protect,
        Action.UNCOVER: _uncover,
        Action.THIN: _thin,
        Action.MULCH: _mulch,
        Action.SUPPORT: _support,
        Action.HARVEST: _harvest,
        Action.SPREAD: _spread,
    }
)
