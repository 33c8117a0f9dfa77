"""Every usual caution in one or two sentences.

They are reminders, never instructions of their own authority: the label, the local code and
whoever is licensed for the work come first.

References
----------
[1] Ammonium nitrate is an oxidiser, kept away from straw and other organic matter (hazard
    statement H272 of its safety data sheets).
[2] Blood and bone meal harm dogs that eat them (veterinary case series; common practice).
[3] Farmer's lung from mouldy straw, respirators of N95 or better (Agricultural Safety and Health,
    ag-safety.extension.org).
[4] Weight of a soaked bale: a 40-50 lb bale takes up about 15 US gal of water, 165-175 lb in all
    (Mississippi State University Extension, "Growing in the Bale"); 75-79 kg by arithmetic.
[5] Herbicide carry-over and the bean test: NC State Extension, "Herbicide Carryover"; WSU Whatcom
    County, "Bioassay".
[6] Self-heating of stacked hay: Purdue Extension; University of Kentucky. A single bale seldom
    ignites.
[7] Raw manure: USDA National Organic Program, 7 CFR 205.203(c).
"""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType

from msgspec import Struct

from strawbell.model.brief import Caution
from strawbell.words.voice import Voice


class CautionWords(Struct, frozen=True):
    """A caution as shown: what it is about, and the sentences."""

    code: Caution
    head: str
    sentences: str

    def whole(self) -> str:
        """Return head and sentences in one string."""
        return f"{self.head}: {self.sentences}"


def caution_words(caution: Caution, voice: Voice) -> CautionWords:
    """Return a caution in the grower's units."""
    head, sentences = _WORDS[caution]
    weight, mask = ("150 to 175 lb", "N95") if voice.measures.us else ("70 to 80 kg", "FFP2")
    sentences = sentences.replace("WEIGHT", weight).replace("MASK", mask)
    return CautionWords(caution, head, sentences)


def caution_list(cautions: Iterable[Caution], voice: Voice) -> tuple[CautionWords, ...]:
    """Return cautions in the order of the vocabulary, the gravest first, each once."""
    wanted = set(cautions)
    order = (*_GRAVE, *(caution for caution in Caution if caution not in _GRAVE))
    return tuple(caution_words(caution, voice) for caution in order if caution in wanted)


_GRAVE = (Caution.AMMONIUM_NITRATE, Caution.SELF_HEATING, Caution.HEAT_PERSON)

_WORDS: MappingProxyType[Caution, tuple[str, str]] = MappingProxyType(
    {
        Caution.FEED_HANDLING: (
            "Feed",
            "The label comes first. Never mix feeds dry. Keep the bag out of children's reach; if "
            "anyone swallows some, call a poison helpline.",
        ),
        Caution.AMMONIUM_NITRATE: (
            "Ammonium nitrate",
            "Never bring it near straw: it feeds a fire. Use another nitrogen feed, and keep to "
            "the law on storing it.",
        ),
        Caution.PETS: (
            "Pets",
            "Keep dogs and cats away: meals and fish feeds can make them very ill. If one has "
            "eaten any, call a vet.",
        ),
        Caution.WATERCOURSE: (
            "Water",
            "Keep feed and run-off away from wells, ditches and ponds; local rules say how far.",
        ),
        Caution.BACKFLOW: (
            "Hose",
            "Fit a backflow preventer at the tap, and never leave the hose end in a bucket of "
            "feed: it can be sucked into the drinking water.",
        ),
        Caution.DUST: (
            "Dust",
            "Straw dust and mould harm lungs: damp it first, stay upwind, wear an MASK mask. See a "
            "doctor if fever or cough follows.",
        ),
        Caution.WET_WEIGHT: (
            "Weight",
            "A wet bale weighs WEIGHT and stays put: place it dry. Have decks and balconies "
            "checked by someone qualified.",
        ),
        Caution.HERBICIDE: (
            "Weedkiller",
            "Straw and manure can carry it. Ask where they came from, and sow beans in them and "
            "in clean mix: three weeks show it.",
        ),
        Caution.HOT_BALE: (
            "Heat inside",
            "The middle of a working bale can scald. Use a thermometer, not your hand.",
        ),
        Caution.SELF_HEATING: (
            "Fire",
            "Smoke, a burning smell or a very hot bale: keep away and call the fire service; don't "
            "pull it apart. Keep bales clear of buildings.",
        ),
        Caution.LOCAL_RULES: (
            "Local rules",
            "Some places forbid feeding in some months or before heavy rain: their rule comes "
            "before mine.",
        ),
        Caution.SALT: (
            "Too much",
            "More than said here or on the label burns roots and drains away. Keep grains off "
            "stems and leaves.",
        ),
        Caution.SLOW_RELEASE: (
            "Slow feed",
            "A coated or very weak feed won't heat a bale in time. Use a quick nitrogen feed now, "
            "and this one in the season.",
        ),
        Caution.RAW_MANURE: (
            "Raw manure",
            "It can carry germs. Wait 120 days until you pick what grows in it, unless the bag "
            "says that it was heat-treated; wash your hands and what you pick.",
        ),
        Caution.HEAT_PERSON: (
            "Heat",
            "Work early or late, drink, wear a hat, rest in the shade. Dizzy, sick or confused? "
            "Stop, and get medical help if it doesn't pass.",
        ),
        Caution.STAKES: (
            "Stakes",
            "Cap the tops at eye height. Stay clear of overhead wires, and ask about buried pipes "
            "and cables first.",
        ),
        Caution.TARP: (
            "Tarp",
            "It tears loose in wind: weigh it down. Straw under it may mould: stay upwind when you "
            "lift it.",
        ),
        Caution.FROST_COVER: (
            "Covers",
            "No flame or heater near straw.",
        ),
    }
)
