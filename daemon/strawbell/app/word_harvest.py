"""What the season gave and what it took, in the grower's words: harvests and costs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from difflib import get_close_matches

from strawbell.app.called import singulars
from strawbell.app.word_parts import Word, batch_named, entry_at, refuse_before_start, when_meant
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Batch, Garden, Planting
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from strawbell.season.batch_state import BatchState, state_at
from strawbell.season.journal_index import JournalIndex
from strawbell.season.planned_tasks import once_due
from strawbell.season.season_summary import PIECES, PLANTING, harvested_so_far
from strawbell.season.stage import (
    last_harvest_key,
    over_on,
    planted_on,
    planting_key,
    planting_label,
)
from strawbell.words.escaping import clean, count
from strawbell.words.units import Measures
from strawbell.words.vocabulary import MASS_G
from strawbell.words.vocabulary import PIECES as PIECES_SAID

_AMOUNT = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-z]*)\s*")
_MONEY = re.compile(r"\s*([+-]?\d+(?:[.,]\d{1,2})?)\s*")
_THOUSANDS = re.compile(r"[+-]?\d{1,3},\d{3}")
"""Whether the comma parts thousands or is the decimal one, nobody can tell."""
MOST_KG, MOST_PIECES, MOST_MONEY = 2000.0, 100_000.0, 10_000_000.0
"""More in one line is a slip of the pen."""
AMOUNTS = "a mass such as 2.4kg, 850g, 5lb or 12oz, or a count such as 12"


def harvest(
    word: Word, garden: Garden, journal: Journal, now: datetime
) -> tuple[JournalEntry, ...]:
    """Return the row of a harvest, and with --last the row that the crop is over."""
    on, at = when_meant(word, garden, now)
    kg, pieces = _amount(word.amount)
    index = JournalIndex.of(journal)
    batch, planting = _planting(word, garden, index, on)
    refuse_before_start(batch, on, "harvest")
    if (kg or pieces or 0.0) > 0:
        _refuse_unplanted(garden, index, batch, planting, on)
    _refuse_less_than_nothing(journal, batch, planting, kg, pieces)
    data: dict[str, object] = {PLANTING: planting_label(batch, planting)}
    if pieces is not None:
        data[PIECES] = pieces
    row = entry_at(
        garden, at, EntryKind.HARVEST, batch=batch.name, value=kg, text=planting.crop.name,
        data=data, on=on,
    )  # fmt: skip
    if not word.last:
        return (row,)
    key = last_harvest_key(batch, planting)
    return (row, entry_at(garden, at, EntryKind.DONE, batch=batch.name, task=key.text(), on=on))


def cost(word: Word, garden: Garden, journal: Journal, now: datetime) -> tuple[JournalEntry, ...]:
    """Return the row of what something cost; a refund or a correction is below 0."""
    del journal
    on, at = when_meant(word, garden, now)
    found = _MONEY.fullmatch(word.amount)
    money = float(found[1].replace(",", ".")) if found else 0.0
    if found is None or money == 0.0 or abs(money) > MOST_MONEY:
        raise GrowerError(
            Problem(
                what="not an amount of money",
                where="record cost",
                found=repr(word.amount),
                allowed="a plain number in your own money, such as 12.50",
                remedy="Leave out currency and thousands; a refund is written -- -12.50.",
            )
        )
    text = clean(word.text)
    if not text:
        raise GrowerError(Problem("say what it was for", "record cost", allowed="a few words"))
    batch = batch_named(word.batch, garden).name if word.batch else None
    return (entry_at(garden, at, EntryKind.COST, batch=batch, value=money, text=text, on=on),)


def harvest_said(rows: Sequence[JournalEntry], garden: Garden, journal: Journal) -> str:
    """Return what was recorded of a harvest, and what the crop came to with it."""
    row = rows[0]
    measures = Measures(garden.units)
    amount = _said(row.value, row.data.get(PIECES), measures)
    batch, planting = next(
        pair
        for pair in _plantings(garden.batches)
        if pair[0].name == row.batch and planting_label(*pair) == row.data[PLANTING]
    )
    kg, pieces = harvested_so_far((*journal, row), batch, planting)
    total = " and ".join(
        said for said in (_said(kg, None, measures), _said(None, pieces, measures)) if said
    )
    over = "; its last harvest: from tomorrow what follows may go in" if len(rows) > 1 else ""
    what = clean(str(row.data[PLANTING]))
    return f"{amount} of {what} from {clean(batch.name)}, {total} in all{over}"


def _said(kg: float | None, pieces: object, measures: Measures) -> str:
    if kg is not None:
        return measures.mass(kg * 1000)
    return count(int(pieces), "piece") if isinstance(pieces, (int, float)) else ""


def _amount(text: str) -> tuple[float | None, float | None]:
    """Return a harvest as kg or as pieces; the other is unknown."""
    found = _AMOUNT.fullmatch(text)
    unit = found[2].lower() if found else ""
    if found is None or _THOUSANDS.fullmatch(found[1]):
        raise _no_amount(text)
    value = float(found[1].replace(",", "."))
    if unit in MASS_G:
        kg = round(value * MASS_G[unit] / 1000, 6)
        if not 0 < abs(kg) <= MOST_KG:
            raise _no_amount(text, f"more than nothing, at most {MOST_KG:g}kg")
        return kg, None
    if unit and unit not in PIECES_SAID:
        near = get_close_matches(unit, (*MASS_G, "pieces"), n=1)
        raise _no_amount(text, AMOUNTS, f"Did you mean {near[0]}?" if near else "")
    if value != int(value) or not 0 < abs(value) <= MOST_PIECES:
        raise _no_amount(text, "whole pieces from 1 on, or a mass such as 2.4kg")
    return None, value


def _no_amount(text: str, allowed: str = AMOUNTS, remedy: str = "") -> GrowerError:
    return GrowerError(Problem("not a harvest", "record harvest", repr(text), allowed, remedy))


def _planting(word: Word, garden: Garden, index: JournalIndex, on: date) -> tuple[Batch, Planting]:
    """Return the planting that is meant: in the batch named, else in the only one that has it."""
    batches = (batch_named(word.batch, garden),) if word.batch else garden.batches
    wanted = clean(_crop_of(word.crop, garden)).casefold()
    by_label = [pair for pair in _plantings(batches) if planting_label(*pair).casefold() == wanted]
    by_crop = [pair for pair in _plantings(batches) if pair[1].crop.name.casefold() == wanted]
    # "radish 2" is the second sowing; plain "radish" may be either of them.
    found = by_crop if len(by_crop) > 1 else by_label or by_crop
    if not found:
        raise _no_crop(word.crop, batches, garden)
    if len(found) == 1:
        return found[0]
    if len({batch.name for batch, _ in found}) == 1:
        # A sowing that is in the bales on that day goes before one that is over or still to come.
        inside = [pair for pair in found if _is_standing(garden, index, *pair, on)]
        return inside[0] if len(inside) == 1 else by_label[0]
    raise GrowerError(
        Problem(
            what="several plantings fit",
            where="record harvest",
            found=repr(word.crop),
            allowed=", ".join(
                f"{planting_label(batch, each)!r} in {batch.name!r}" for batch, each in found
            ),
            remedy="Say which batch with --batch.",
        )
    )


def _crop_of(typed: str, garden: Garden) -> str:
    """Return the crop of the plan that is meant, in the singular too; else as typed."""
    crops = {
        each.crop.name.casefold(): each.crop.name
        for batch in garden.batches
        for each in batch.plantings
    }
    return next((crops[each] for each in singulars(typed.casefold()) if each in crops), typed)


def _no_crop(typed: str, batches: Iterable[Batch], garden: Garden) -> GrowerError:
    here = list(dict.fromkeys(planting_label(*pair) for pair in _plantings(batches)))
    near = get_close_matches(clean(typed).casefold(), [each.casefold() for each in here], n=1)
    elsewhere = [
        batch.name
        for batch, each in _plantings(garden.batches)
        if each.crop.name.casefold() == clean(typed).casefold()
    ]
    remedy = f"Did you mean {near[0]!r}?" if near else ""
    if elsewhere:
        remedy = f"It grows in {', '.join(repr(each) for each in dict.fromkeys(elsewhere))}."
    return GrowerError(
        Problem(
            what="no such crop is planned there",
            where="record harvest",
            found=repr(typed),
            allowed=", ".join(repr(each) for each in here) or "none: the plan has no plantings",
            remedy=remedy,
        )
    )


def _plantings(batches: Iterable[Batch]) -> list[tuple[Batch, Planting]]:
    return [(batch, planting) for batch in batches for planting in batch.plantings]


def _state_after(garden: Garden, index: JournalIndex, batch: Batch, on: date) -> BatchState:
    return state_at(batch, index, on + timedelta(days=1), once_due(garden))


def _is_standing(
    garden: Garden, index: JournalIndex, batch: Batch, planting: Planting, on: date
) -> bool:
    state = _state_after(garden, index, batch, on)
    since, over = planted_on(batch, state, planting), over_on(batch, state, planting)
    return since is not None and since <= on and (over is None or over >= on)


def _refuse_unplanted(
    garden: Garden, index: JournalIndex, batch: Batch, planting: Planting, on: date
) -> None:
    if planted_on(batch, _state_after(garden, index, batch, on), planting) is not None:
        return
    raise GrowerError(
        Problem(
            what=f"by the journal {planting_label(batch, planting)} is not in the bales yet",
            where="record harvest",
            found=on.isoformat(),
            remedy=f"If it is, say `strawbell record done {planting_key(batch, planting)}` first;"
            " nothing was recorded.",
        )
    )


def _refuse_less_than_nothing(
    journal: Journal, batch: Batch, planting: Planting, kg: float | None, pieces: float | None
) -> None:
    """Refuse a correction that takes away more than was ever noted."""
    had_kg, had_pieces = harvested_so_far(journal, batch, planting)
    left = (had_kg or 0.0) + (kg or 0.0), (had_pieces or 0.0) + (pieces or 0.0)
    if min(left) < 0:
        raise GrowerError(
            Problem(
                what=f"less than nothing of {planting.crop.name} would be left",
                where="record harvest",
                allowed="to take back at most what was noted",
            )
        )
