"""How a batch of bales stands, by computation."""

from __future__ import annotations

from strawbell.model.brief import BatchOutlook
from strawbell.model.details import CoreEstimate, MakeUpEstimate, NitrogenEstimate
from strawbell.words.escaping import name
from strawbell.words.voice import Voice


def outlook_words(outlook: BatchOutlook, voice: Voice) -> str:
    """Return how a batch stands, in a few sentences."""
    say, measures, said = voice.say, voice.measures, []
    if (conditioning := outlook.conditioning) is not None:
        done, to_go = map(measures.band, (conditioning.done_days, conditioning.to_go_days))
        said.append(say("outlook.conditioned", done=done, to_go=to_go))
    if (on := outlook.ready_on) is not None:
        latest = None if outlook.ready_on_latest == on else outlook.ready_on_latest
        until = None if latest is None else voice.day(latest)
        said.append(say("outlook.ready", ready=voice.date_said(on), latest=until))
    if outlook.core is not None:
        said.append(_core(outlook.core, voice))
    if outlook.nitrogen is not None:
        said.append(_nitrogen(outlook.nitrogen, voice))
    if outlook.make_up is not None:
        said.append(_make_up(outlook.make_up, voice))
    if outlook.evaporation_mm is not None:
        said.append(say("outlook.evaporation", rain=measures.rain(outlook.evaporation_mm)))
    stage = voice.tongue.of("stage", outlook.stage)
    return say("outlook.line", batch=name(outlook.batch), stage=stage, said=" ".join(said))


def _core(core: CoreEstimate, voice: Voice) -> str:
    # A band tens of degrees wide has no tenths.
    measures = voice.measures
    low, high = map(measures.whole_degrees, (core.low_c, core.high_c))
    inside = measures.joined(measures.degree, measures.from_to(low, high))
    return voice.say("outlook.core", inside=inside, probe=core.from_probe)


def _nitrogen(nitrogen: NitrogenEstimate, voice: Voice) -> str:
    measures, ratio, lost = voice.measures, nitrogen.carbon_to_nitrogen, None
    if (nitrogen.lost_g.high or 0.0) >= LEAST_LOSS_G:
        lost = measures.span(nitrogen.lost_g, measures.mass)
    low, high = (measures.number(end, 0) for end in (ratio.low, ratio.high))
    return voice.say(
        "outlook.nitrogen",
        given=measures.mass(nitrogen.given_g),
        planned=measures.mass(nitrogen.planned_g),
        lost=lost,
        low=low,
        high=None if low == high else high,
    )


def _make_up(make_up: MakeUpEstimate, voice: Voice) -> str:
    mass = voice.measures.mass
    feed, nitrogen = mass(make_up.feed_g), mass(make_up.nitrogen_g)
    return voice.say("outlook.make-up", feed=feed, nitrogen=nitrogen)


LEAST_LOSS_G = 1.0
"""A loss under this is not worth a word [g N per bale]."""
