"""Every usual caution in one or two sentences.

They are reminders, never instructions of their own authority: the label, the local code and
whoever is licensed for the work come first.

References:
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

from msgspec import Struct

from strawbell.model.brief import Caution
from strawbell.words.voice import Voice


class CautionWords(Struct, frozen=True):
    """A caution as shown: what it is about, and the sentences."""

    code: Caution
    head: str
    sentences: str
    whole: str
    """Head and sentences in one."""


def caution_words(caution: Caution, voice: Voice) -> CautionWords:
    """Return a caution in the grower's units."""
    head, said = (voice.tongue.of("caution", caution, row) for row in ("head", "text"))
    return CautionWords(caution, head, said, voice.say("task.care", head=head, text=said))


def caution_list(cautions: Iterable[Caution], voice: Voice) -> tuple[CautionWords, ...]:
    """Return cautions in the order of the vocabulary, the gravest first, each once."""
    wanted = set(cautions)
    order = (*_GRAVE, *(caution for caution in Caution if caution not in _GRAVE))
    return tuple(caution_words(caution, voice) for caution in order if caution in wanted)


_GRAVE = (Caution.AMMONIUM_NITRATE, Caution.SELF_HEATING, Caution.HEAT_PERSON)
