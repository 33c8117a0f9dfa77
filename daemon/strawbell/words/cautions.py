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
from dataclasses import dataclass
from types import MappingProxyType

from strawbell.model.brief import Caution
from strawbell.words.voice import Voice


@dataclass(frozen=True, slots=True)
class CautionWords:
    """A caution as shown: what it is about, and the sentences."""

    head: str
    sentences: str

    def whole(self) -> str:
        """Return head and sentences in one string."""
        return f"{self.head}: {self.sentences}"


def caution_words(caution: Caution, voice: Voice) -> CautionWords:
    """Return a caution in the grower's units."""
    head, sentences = _WORDS[caution]
    if caution is Caution.WET_WEIGHT:
        weight = "150 to 175 lb" if voice.measures.us else "70 to 80 kg"
        sentences = sentences.replace("WEIGHT", weight)
    return CautionWords(head, sentences)


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
            "Wear gloves, keep dust out of eyes and mouth, wash afterwards and keep the bag dry, "
            "closed and out of reach of children. Never mix feeds dry. The label comes first.",
        ),
        Caution.AMMONIUM_NITRATE: (
            "Ammonium nitrate",
            "Never bring or store it near straw: it is an oxidiser and feeds a fire. Use another "
            "nitrogen feed, and follow the label and the law on keeping it.",
        ),
        Caution.PETS: (
            "Pets",
            "Blood meal, bone meal and fish feeds draw dogs and can make them very ill. Water them "
            "in at once, keep animals and the bag apart, and call a vet if one has eaten of it.",
        ),
        Caution.WATERCOURSE: (
            "Wells and water",
            "Keep feed and what drains from the bales away from wells, ditches and ponds; your "
            "local code says how far. Nitrate in drinking water harms infants first.",
        ),
        Caution.BACKFLOW: (
            "Hose",
            "Fit a vacuum breaker at the tap and never leave the end of the hose in a bucket of "
            "feed: it can be sucked back into the drinking water. Local plumbing code applies.",
        ),
        Caution.DUST: (
            "Dust and mould",
            "Dry or mouldy straw can harm the lungs. Wet it first, stand upwind and wear a "
            "respirator of N95 or better; see a doctor if fever or cough follows.",
        ),
        Caution.WET_WEIGHT: (
            "Weight",
            "A soaked bale weighs about WEIGHT. Put it where it will stay before you wet it, do "
            "not lift it wet, and have decks and balconies checked by someone qualified.",
        ),
        Caution.HERBICIDE: (
            "Herbicide",
            "Straw and manure can carry herbicide that cripples beans and tomatoes. Ask where it "
            "grew, and test it: beans sown in it beside beans in clean mix, for three weeks.",
        ),
        Caution.HOT_BALE: (
            "Hot bale",
            "The middle of a working bale can scald. Use a long thermometer rather than a bare "
            "hand, and plant only once it has cooled.",
        ),
        Caution.SELF_HEATING: (
            "Fire",
            "Smoke, a smell of burning or a very hot bale: keep away and call the fire service; do "
            "not pull it apart yourself. Keep bales clear of buildings and of other dry straw.",
        ),
        Caution.LOCAL_RULES: (
            "Local rules",
            "Many places forbid feeding in some months or before heavy rain. Ask your local "
            "authority or extension office; their rule comes before this reminder.",
        ),
        Caution.SALT: (
            "Salt",
            "Too much feed burns roots and drains away. Give no more than said here or on the "
            "label, whichever is less, and keep grains off stems and leaves.",
        ),
        Caution.SLOW_RELEASE: (
            "Slow feed",
            "A coated, slow or very weak feed does not heat a bale in time. Take a quick nitrogen "
            "feed for conditioning, and keep this one for the season.",
        ),
        Caution.HEAT_PERSON: (
            "Heat",
            "Work early or late, drink, wear a hat and rest in the shade. Stop when dizzy, sick or "
            "confused, and call for medical help if it does not pass.",
        ),
        Caution.STAKES: (
            "Stakes",
            "Cap the tops of stakes at eye height. Keep tall ones well away from overhead wires, "
            "and ask about buried pipes and cables before driving them.",
        ),
        Caution.FROST_COVER: (
            "Covers",
            "Hold covers off the leaves and weight them against wind; put no open flame or heater "
            "near straw. Take them off in the morning.",
        ),
    }
)
