"""How a batch of bales stands, by computation."""

from __future__ import annotations

from strawbell.model.brief import BatchOutlook
from strawbell.model.details import CoreEstimate, MakeUpEstimate, NitrogenEstimate
from strawbell.words.escaping import name
from strawbell.words.figures import band
from strawbell.words.voice import Voice, day


def outlook_words(outlook: BatchOutlook, voice: Voice) -> str:
    """Return how a batch stands, in a few sentences."""
    said = [
        sentence
        for sentence in (
            _conditioned(outlook, voice),
            _ready(outlook, voice),
            _core(outlook.core, voice),
            _nitrogen(outlook.nitrogen, voice),
            _make_up(outlook.make_up, voice),
            _evaporation(outlook, voice),
        )
        if sentence
    ]
    known = " ".join(said) or "nothing is known yet."
    return f"{name(outlook.batch)}, {outlook.stage.value}: {known}"


def _conditioned(outlook: BatchOutlook, voice: Voice) -> str:
    if outlook.conditioning is None:
        return ""
    done, to_go = (
        band(days, lambda value: voice.measures.number(value, 1), voice.measures)
        for days in (outlook.conditioning.done_days, outlook.conditioning.to_go_days)
    )
    return (
        f"About {done} days of mild weather done, about {to_go} days to go as the forecast stands."
    )


def _ready(outlook: BatchOutlook, voice: Voice) -> str:
    if outlook.ready_on is None:
        return ""
    said = f"Ready to plant about {voice.date_said(outlook.ready_on)}"
    latest = outlook.ready_on_latest
    if latest is not None and latest != outlook.ready_on:
        said += f", by {day(latest)} at the latest"
    return f"{said}."


def _core(core: CoreEstimate | None, voice: Voice) -> str:
    if core is None:
        return ""
    # A band tens of degrees wide has no tenths.
    low, high = map(voice.measures.whole_degrees, (core.low_c, core.high_c))
    span = high if low == high else f"{low} to {high}"
    inside = voice.measures.joined(voice.measures.degree, span)
    how = (
        "by your probe and the model"
        if core.from_probe
        else "by the model alone, so the band is wide; a probe narrows it"
    )
    return f"Inside about {inside} today, {how}."


def _nitrogen(nitrogen: NitrogenEstimate | None, voice: Voice) -> str:
    if nitrogen is None:
        return ""
    measures = voice.measures
    given, planned = map(measures.mass, (nitrogen.given_g, nitrogen.planned_g))
    said = f"Nitrogen: {given} of {planned} a bale given"
    if (nitrogen.lost_g.high or 0.0) >= LEAST_LOSS_G:
        lost = band(nitrogen.lost_g, measures.mass, measures)
        said += f", {lost} of it washed out or gone to the air, as far as a balance can tell"
    ratio = nitrogen.carbon_to_nitrogen
    low, high = (measures.number(end, 0) for end in (ratio.low, ratio.high))
    now = f"about {low}:1" if low == high else f"between {low}:1 and {high}:1"
    return f"{said}; carbon to nitrogen now {now}."


def _evaporation(outlook: BatchOutlook, voice: Voice) -> str:
    if outlook.evaporation_mm is None:
        return ""
    return f"Evaporation today {voice.measures.rain(outlook.evaporation_mm)}."


def _make_up(make_up: MakeUpEstimate | None, voice: Voice) -> str:
    if make_up is None:
        return ""
    mass = voice.measures.mass
    return (
        f"Heavy rain took a large share: once it is dry, {mass(make_up.feed_g)} of the feed a "
        f"bale ({mass(make_up.nitrogen_g)} of nitrogen) would make up for it; your local rules "
        "come first. If you give it, write it down: strawbell record feed, with the amount a bale."
    )


LEAST_LOSS_G = 1.0
"""A loss under this is not worth a word [g N per bale]."""
