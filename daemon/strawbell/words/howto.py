"""How each task is done, in sentences a grower can follow with the tool in hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from strawbell.model.brief import Action
from strawbell.model.feeds import Dose, FeedForm
from strawbell.words.escaping import count, listing, name
from strawbell.words.figures import about_hour, band
from strawbell.words.merge import MergedTask
from strawbell.words.voice import Voice

USED_FIGURES = frozenset(
    {
        "layer_cm",
        "mix_per_bale_l",
        "depth_cm",
        "spacing_cm",
        "thin_to_cm",
        "height_cm",
        "upright_cm",
        "edge_cm",
        "rows",
        "plants_per_bale_low",
        "plants_per_bale_high",
        "up_in_days_low",
        "up_in_days_high",
        "every_days",
        "week",
        "last_harvest",
        "killed",
        "too_late",
        "soaked_before",
        "strings",
        "spread_cm",
        "area_m2_low",
        "area_m2_high",
        "nitrogen_g_low",
        "nitrogen_g_high",
        "dry_at_hour",
        "core_c",
        "core_c_low",
        "core_c_high",
    }
)
"""Figures of a task that are said in its sentences."""

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
    every = task.first.figures.get("every_days")
    if every is None:
        return how
    again = f"Again in {every:.0f} days; a label that says less goes before this."
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
    again = "soaked_before" in task.first.figures
    soak = f"Soak {_each(task)} slowly{' again' if again else ''} until it drips from the bottom."
    if again:
        rest = "; where more goes in before it drips, the middle was dry." if takes else ""
        return (f"{soak}{takes}{rest}",)
    return (
        f"{soak}{takes}{'.' if takes else ''}",
        "Dry straw sheds water at first: come back two or three times.",
    )


def _water(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    if task.water_per_bale_l == 0.0:
        return ()
    water = _water_a_bale(task, voice)
    many = f": {water}{_in_all(task, voice)}" if water else ""
    return (f"Water slowly over the whole top, so that it soaks in{many}.", _times(task))


def _surface_water(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    water = _water_a_bale(task, voice)
    many = f", {water}{_in_all(task, voice)} each time" if water else ""
    hour = task.first.figures.get("dry_at_hour")
    dry = "" if hour is None else f"Without it the top is dry by about {about_hour(hour)}."
    # Where no amount is reckoned, the finger is the measure (common practice).
    until = "" if water else " until it is moist a finger deep"
    return (
        f"Wet the top layer with a fine rose{many}{until}; leaves stay dry where they can.",
        _times(task),
        dry,
        _comes_up(task),
    )


def _times(task: MergedTask) -> str:
    times = task.first.times_a_day
    if times <= 1:
        return ""
    if times == 2:  # noqa: PLR2004 - the sentence is about the number
        return "Do it twice: early in the morning, and again late in the afternoon."
    return f"Do it {times} times, spread from early morning to late afternoon."


def _comes_up(task: MergedTask) -> str:
    low, high = (task.first.figures.get(f"up_in_days_{end}") for end in ("low", "high"))
    if low is None:
        return ""
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
    if "week" in task.first.figures:
        return _look_over(task, voice)
    limit = voice.measures.temperature(voice.rules.plant_below_c)
    expected = band(task.first.figures, "core_c", "c", voice.measures)
    batch = name(task.batches[0]).replace('"', "'")
    reading = "95F" if voice.measures.us else "35C"
    return (
        "Put a long thermometer into the middle of a bale and wait until it stands still.",
        f"Expected there: {expected}." if expected else "",
        f"It is fit for planting under {limit} and falling.",
        "Without a thermometer: it smells of earth rather than of ammonia, gives under the hand "
        "and darkens inside; sprouted grain and ink-cap mushrooms are good signs.",
        f'Write the reading down: strawbell record temperature {reading} --batch "{batch}"',
    )


def _cover_with_mix(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    layer = band(task.first.figures, "layer_cm", "cm", measures)
    mix = task.first.figures.get("mix_per_bale_l")
    how_much = f", about {measures.water(mix)} a bale" if mix is not None else ""
    thick = f"a layer of {layer}" if layer else "a layer"
    return (
        f"Spread {thick} of sterile potting mix over the top of {_each(task)}{how_much}.",
        "Garden soil is too heavy and brings weeds. Water the layer well.",
    )


def _plant(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    apart = band(task.first.figures, "spacing_cm", "cm", voice.measures)
    space = f", {apart} apart" if apart else ""
    return (
        _again(task),
        f"Feel inside each hole first: no warmer than the hand. Part the straw{space}, set the "
        "root ball in with a handful of potting mix, and close the straw around it.",
        _layout(task, voice),
        _stakes(task, voice),
        _pour_at_once(task, voice),
    )


def _sow(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    measures = voice.measures
    depth = band(task.first.figures, "depth_cm", "cm", measures)
    apart = band(task.first.figures, "spacing_cm", "cm", measures)
    deep = f" {depth} deep" if depth else ""
    space = f", {apart} apart" if apart else ""
    return (
        _again(task),
        f"Sow into the layer of potting mix{deep}{space}, and firm it.",
        _layout(task, voice),
        _stakes(task, voice),
        "Keep the layer moist until the seed is up.",
        _comes_up(task),
        _pour_at_once(task, voice),
    )


def _layout(task: MergedTask, voice: Voice) -> str:
    """Return how the plants of one bale stand."""
    figures = task.first.figures
    many = band(figures, "plants_per_bale", "", voice.measures)
    rows, edge = figures.get("rows"), band(figures, "edge_cm", "cm", voice.measures)
    if not many or not edge:
        return ""
    in_rows = f" in {count(round(rows), 'row')}" if rows else ""
    return f"On each bale {many}{in_rows}, no nearer than {edge} to the edge."


def _stakes(task: MergedTask, voice: Voice) -> str:
    long = band(task.first.figures, "upright_cm", "cm", voice.measures)
    return f"Stakes of about {long} go in now or tomorrow, before roots spread." if long else ""


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
    apart = band(task.first.figures, "thin_to_cm", "cm", voice.measures)
    to = f" until they stand {apart} apart" if apart else " to the strongest"
    return (f"Cut the weakest at the base{to}; pulling would tear the others' roots.",)


def _mulch(_task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    return ("Lay clean straw or leaf mould thinly over the top, clear of the stems.",)


def _support(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    high = band(task.first.figures, "height_cm", "cm", voice.measures)
    grown = f" They grow to about {high}." if high else ""
    long = band(task.first.figures, "upright_cm", "cm", voice.measures)
    return (
        f"Set stakes or a trellis into the ground at the ends of the row and tie the plants "
        f"loosely; a bale sinks and holds no stake by itself.{grown}",
        f"Uprights of about {long} reach from the ground to the tops." if long else "",
    )


def _again(task: MergedTask) -> str:
    """Return what to look at before a killed planting is put in again, "" for a first one."""
    if "killed" not in task.first.figures:
        return ""
    return (
        "A freeze is likely to have killed the first ones: look, and where they live leave them "
        "and record this as done."
    )


def _harvest(task: MergedTask, _voice: Voice) -> tuple[str, ...]:
    if "killed" in task.first.figures:
        return (
            "A freeze is likely to have killed it: look, and where it lives record this as "
            "missed. Else pick what can still be used, cut the plants off at the straw and leave "
            "the roots in it.",
        )
    if "too_late" in task.first.figures:
        return (
            "Sow something quick and hardy in its place, or let the bales go: the spreading is "
            "told when nothing else is to come.",
        )
    if "last_harvest" in task.first.figures:
        return (
            "Pick everything that is left, then cut the plants off at the straw and leave the "
            "roots in it.",
        )
    return ("Pick what is ripe in the cool of the morning; what is picked often bears longer.",)


def _spread(task: MergedTask, voice: Voice) -> tuple[str, ...]:
    figures, measures = task.first.figures, voice.measures
    strings = figures.get("strings")
    many = f" all {strings:.0f} of them" if strings else ""
    deep = band(figures, "spread_cm", "cm", measures)
    area = _area(figures, voice)
    covers = f"Spread {deep} deep it covers {area}." if deep and area else ""
    nitrogen = band(figures, "nitrogen_g", "g", measures)
    carries = f"It still carries about {nitrogen} of nitrogen, most of it set free slowly."
    return (
        f"Cut the strings and count{many} away: plastic twine does not rot, and animals and "
        "mowers suffer from it.",
        "Spread the spent straw as mulch, or put it on the compost.",
        covers,
        carries if nitrogen else "",
        "`strawbell summary` shows what the season came to.",
    )


def _area(figures: Mapping[str, float], voice: Voice) -> str:
    """Return the area the straw covers, "" when it is unknown."""
    ends = [figures.get(f"area_m2_{end}") for end in ("low", "high")]
    low, high = (None if end is None else end * SQUARE_FEET_PER_M2 for end in ends)
    unit = "square feet"
    if not voice.measures.us:
        (low, high), unit = ends, "square metres"
    return "" if low is None or high is None else f"{low:.0f} to {high:.0f} {unit}"


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
