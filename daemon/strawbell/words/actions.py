"""What each kind of work is called: one row an action, for every screen, mail and page."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from strawbell.model.brief import Action


class ActionWords(Struct, frozen=True):
    """The words of one action.

    `noun` names it among others ("feed"), `cell` stands in a narrow cell, `wait` is said of work
    that waits, `{crops}` in it for its crops. `did` and `do` are what somebody did, or did not do,
    to a batch.
    """

    noun: str
    cell: str
    wait: str
    did: str
    do: str


ACTIONS: Mapping[Action, ActionWords] = {
    Action.SOAK: ActionWords("soaking", "Soak", "don't soak {bales} yet", "soaked", "soak"),
    Action.WATER: ActionWords("watering", "Water", "don't water today", "watered", "water"),
    Action.FEED: ActionWords("feed", "Feed", "don't feed today", "fed", "feed"),
    Action.INSPECT: ActionWords(
        "check", "Check", "leave the thermometer for now", "looked at", "look at"
    ),
    Action.COVER_WITH_MIX: ActionWords(
        "potting compost",
        "Top",
        "leave the potting compost off {bales}",
        "covered the top of",
        "cover the top of",
    ),
    Action.PLANT: ActionWords("planting", "Plant", "don't plant {crops} yet", "planted", "plant"),
    Action.SOW: ActionWords("sowing", "Sow", "don't sow {crops} yet", "sowed", "sow"),
    Action.SURFACE_WATER: ActionWords(
        "watering", "Water", "don't water today", "watered the top of", "water the top of"
    ),
    Action.LAY_TARP: ActionWords(
        "tarp", "Tarp", "no tarp yet", "laid the tarp over", "lay the tarp over"
    ),
    Action.LIFT_TARP: ActionWords(
        "tarp off", "Open", "leave the tarp on", "took the tarp off", "take the tarp off"
    ),
    Action.PROTECT: ActionWords("cover", "Cover", "no cover yet", "covered", "cover"),
    Action.UNCOVER: ActionWords(
        "covers off", "Open", "leave the covers on", "uncovered", "uncover"
    ),
    Action.THIN: ActionWords("thinning", "Thin", "don't thin {crops} yet", "thinned", "thin"),
    Action.MULCH: ActionWords("mulch", "Mulch", "don't mulch yet", "mulched", "mulch"),
    Action.SUPPORT: ActionWords(
        "stakes",
        "Stake",
        "leave the stakes for now",
        "put up the supports of",
        "put up the supports of",
    ),
    Action.HARVEST: ActionWords("picking", "Pick", "leave the picking", "harvested", "harvest"),
    Action.SPREAD: ActionWords(
        "spreading the straw", "Spread", "don't spread the straw yet", "spread", "spread"
    ),
}
