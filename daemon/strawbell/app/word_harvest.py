"""What the season gave and what it took, in the grower's words: harvests and costs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from strawbell.app.word import Case, nearest, quoted, singulars
from strawbell.errors import GrowerError
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.fold import state_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.season_summary import PIECES, PLANTING, harvested_so_far
from strawbell.season.stage import (
    BatchState,
    last_harvest_key,
    over_on,
    planted_on,
    planting_key,
    planting_label,
)
from strawbell.words.escaping import clean
from strawbell.words.summary_text import harvest_amounts
from strawbell.words.vocabulary import MASS_G
from strawbell.words.vocabulary import PIECES as PIECES_SAID
from strawbell.words.voice import Voice

_AMOUNT = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-z]*)\s*")
_MONEY = re.compile(r"\s*([+-]?\d+(?:[.,]\d{1,2})?)\s*")
_THOUSANDS = re.compile(r"[+-]?\d{1,3},\d{3}")
"""Whether the comma parts thousands or is the decimal one, nobody can tell."""
MOST_KG, MOST_PIECES, MOST_MONEY = 2000.0, 100_000.0, 10_000_000.0
"""More in one line is a slip of the pen."""


def harvest(case: Case) -> tuple[JournalEntry, ...]:
    """Return the row of a harvest, and with --last the row that the crop is over."""
    on, at = case.day()
    kg, pieces = _amount(case)
    index = JournalIndex.of(case.journal)
    batch, planting = _planting(case, index, on)
    case.begun(batch, on)
    if (kg or pieces or 0.0) > 0:
        _refuse_unplanted(case, index, batch, planting, on)
    _refuse_less_than_nothing(case, batch, planting, kg, pieces)
    data: dict[str, object] = {PLANTING: planting_label(batch, planting)}
    if pieces is not None:
        data[PIECES] = pieces
    row = case.entry(
        EntryKind.HARVEST, at=at, batch=batch.name, value=kg, text=planting.crop.name,
        data=data, on=on,
    )  # fmt: skip
    if not case.word.last:
        return (row,)
    key = last_harvest_key(batch, planting).text()
    return row, case.entry(EntryKind.DONE, at=at, batch=batch.name, task=key, on=on)


def cost(case: Case) -> tuple[JournalEntry, ...]:
    """Return the row of what something cost; a refund or a correction is below 0."""
    on, at = case.day()
    typed, text = case.word.amount, clean(case.word.text)
    found = _MONEY.fullmatch(typed)
    money = float(found[1].replace(",", ".")) if found else 0.0
    if found is None or money == 0.0 or abs(money) > MOST_MONEY:
        raise case.refused("refusal.no-money", typed)
    if not text:
        raise case.refused("refusal.cost-of-what")
    batch = case.batch().name if case.word.batch else None
    return (case.entry(EntryKind.COST, at=at, batch=batch, value=money, text=text, on=on),)


def harvest_total(rows: Sequence[JournalEntry], garden: Garden, journal: Journal) -> str:
    """Return what a crop came to with a harvest, masses and pieces apart; and whether it ended."""
    row = rows[0]
    voice = Voice.of(garden, row.local_date)
    batch, planting = next(
        pair
        for pair in _plantings(garden.batches)
        if pair[0].name == row.batch and planting_label(*pair) == row.data[PLANTING]
    )
    kg, pieces = harvested_so_far((*journal, row), batch, planting)
    return voice.say(
        "recorded.harvest",
        batch=clean(batch.name),
        total=voice.tongue.listing(harvest_amounts(kg, pieces, voice)),
        over=len(rows) > 1,
    )


def _amount(case: Case) -> tuple[float | None, float | None]:
    """Return a harvest as kg or as pieces; the other is unknown."""
    text = case.word.amount

    def refused(most_kg: float | None = None, remedy: str = "") -> GrowerError:
        return case.refused("refusal.no-harvest", text, remedy, most=most_kg)

    found = _AMOUNT.fullmatch(text)
    unit = found[2].lower() if found else ""
    if found is None or _THOUSANDS.fullmatch(found[1]):
        raise refused()
    value = float(found[1].replace(",", "."))
    if unit in MASS_G:
        kg = round(value * MASS_G[unit] / 1000, 6)
        if not 0 < abs(kg) <= MOST_KG:
            raise refused(MOST_KG)
        return kg, None
    if unit and unit not in PIECES_SAID:
        raise refused(remedy=nearest(unit, (*MASS_G, "pieces"), case.tongue))
    if value != int(value) or not 0 < abs(value) <= MOST_PIECES:
        raise refused()
    return None, value


def _planting(case: Case, index: JournalIndex, on: date) -> tuple[Batch, Planting]:
    """Return the planting that is meant: in the batch named, else in the only one that has it."""
    word, garden, tongue = case.word, case.garden, case.tongue
    batches = (case.batch(),) if word.batch else garden.batches
    wanted = clean(_crop_of(word.crop, garden)).casefold()
    by_label = [pair for pair in _plantings(batches) if planting_label(*pair).casefold() == wanted]
    by_crop = [pair for pair in _plantings(batches) if pair[1].crop.name.casefold() == wanted]
    # "radish 2" is the second sowing; plain "radish" may be either of them.
    found = by_crop if len(by_crop) > 1 else by_label or by_crop
    if not found:
        raise _no_crop(case, batches)
    if len(found) == 1:
        return found[0]
    if len({batch.name for batch, _ in found}) == 1:
        # A sowing that is in the bales on that day goes before one that is over or still to come.
        inside = [pair for pair in found if _is_standing(garden, index, *pair, on)]
        return inside[0] if len(inside) == 1 else by_label[0]
    plantings = tongue.listing(
        tongue.say("refusal.planting-in", crop=planting_label(batch, each), batch=batch.name)
        for batch, each in found
    )
    raise case.refused("refusal.several-plantings", word.crop, plantings=plantings)


def _crop_of(typed: str, garden: Garden) -> str:
    """Return the crop of the plan that is meant, in the singular too; else as typed."""
    crops = {
        each.crop.name.casefold(): each.crop.name
        for batch in garden.batches
        for each in batch.plantings
    }
    return next((crops[each] for each in singulars(typed.casefold()) if each in crops), typed)


def _no_crop(case: Case, batches: Iterable[Batch]) -> GrowerError:
    typed, tongue = case.word.crop, case.tongue
    here = [planting_label(*pair) for pair in _plantings(batches)]
    elsewhere = [
        batch.name
        for batch, each in _plantings(case.garden.batches)
        if each.crop.name.casefold() == clean(typed).casefold()
    ]
    remedy = nearest(clean(typed).casefold(), [each.casefold() for each in here], tongue)
    if elsewhere:
        remedy = tongue.say("refusal.grows-in", batches=quoted(elsewhere, tongue))
    return case.refused("refusal.no-crop", typed, remedy, crops=quoted(here, tongue))


def _plantings(batches: Iterable[Batch]) -> list[tuple[Batch, Planting]]:
    return [(batch, planting) for batch in batches for planting in batch.plantings]


def _state_after(garden: Garden, index: JournalIndex, batch: Batch, on: date) -> BatchState:
    return state_at(garden, batch, index, on + timedelta(days=1))


def _is_standing(
    garden: Garden, index: JournalIndex, batch: Batch, planting: Planting, on: date
) -> bool:
    state = _state_after(garden, index, batch, on)
    since, over = planted_on(batch, state, planting), over_on(batch, state, planting)
    return since is not None and since <= on and (over is None or over >= on)


def _refuse_unplanted(
    case: Case, index: JournalIndex, batch: Batch, planting: Planting, on: date
) -> None:
    if planted_on(batch, _state_after(case.garden, index, batch, on), planting) is None:
        crop, task = planting_label(batch, planting), planting_key(batch, planting).text()
        raise case.refused("refusal.not-planted", on.isoformat(), crop=crop, task=task)


def _refuse_less_than_nothing(
    case: Case, batch: Batch, planting: Planting, kg: float | None, pieces: float | None
) -> None:
    """Refuse a correction that takes away more than was ever noted."""
    had_kg, had_pieces = harvested_so_far(case.journal, batch, planting)
    if min((had_kg or 0.0) + (kg or 0.0), (had_pieces or 0.0) + (pieces or 0.0)) < 0:
        raise case.refused("refusal.less-than-nothing", crop=planting.crop.name)
