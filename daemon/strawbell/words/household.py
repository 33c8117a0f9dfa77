"""The mornings of a household in one mail: the most urgent first, each answered by itself."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from strawbell.model.notice import Notice
from strawbell.words.catalogue import Tongue
from strawbell.words.escaping import cut, wrap

CARD_BEGINS, CARD_ENDS = "<!--garden-->", "<!--/garden-->"
"""Around what a page says of one garden."""
_GAP = "<tr><td>&nbsp;</td></tr>"
_BETWEEN = "* * *"
SUBJECT_LIMIT = 78
"""Longest subject [characters]: a line of a header (RFC 5322, section 2.1.1)."""


def joined(notices: Sequence[Notice]) -> Notice:
    """Return the addressed notices of several gardens as one; it goes by the name of the first.

    One answer counts for all of them, unless it names one.
    """
    ordered = sorted(notices, key=lambda each: -each.urgency)
    first, tongue = ordered[0], Tongue(ordered[0].locale)
    others = [each for each in ordered[1:] if each.urgency]
    subject = first.subject
    if len(others) == 1:
        subject = tongue.say("household.too", subject=subject, garden=others[0].garden)
    elif others:
        subject = tongue.say("household.more", subject=subject, count=len(others))
    asks = sum(each.asking is not None for each in notices) > 1
    example = notices[0].garden
    lead = tongue.say("household.lead", garden=example) if asks else ""
    texts = [each.text.rstrip("\n") for each in ordered]
    return replace(
        notices[0],
        subject=cut(subject, SUBJECT_LIMIT),
        text="\n\n".join((*((wrap(lead),) if lead else ()), f"\n\n{_BETWEEN}\n\n".join(texts)))
        + "\n",
        html=_pages([each.html for each in ordered]),
        short=" ".join(each.short for each in ordered),
        expires_at=max(each.expires_at for each in notices),
        token=" ".join(each.token for each in ordered if each.token),
    )


def _pages(pages: Sequence[str]) -> str:
    """Return the cards of pages one below the other, in the first page."""
    begin, _, _ = pages[0].partition(CARD_BEGINS)
    _, _, end = pages[-1].rpartition(CARD_ENDS)
    cards = [each.partition(CARD_BEGINS)[2].rpartition(CARD_ENDS)[0] for each in pages]
    return f"{begin}{_GAP.join(cards)}{end}"
