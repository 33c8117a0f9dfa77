"""A name is only a name: which bales are which, and what is asked when some are lost."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.app.identity import SAME_PLACE_DEG, SEASON, Settled, known_in, settle
from strawbell.model.garden import Batch, Garden
from strawbell.model.journal import EntryKind, Journal, JournalEntry
from support.gardens import PLACE, START, batch, garden

TODAY = START + timedelta(days=6)
NOW = datetime(2027, 4, 11, 4, 30, tzinfo=UTC)
LATER = START + timedelta(days=20)


def no_rows(_key: str) -> Journal:
    """Return an empty journal, whatever is asked for."""
    return ()


def after(before: Settled, *gardens: Garden, today: date = TODAY, rows: Journal = ()) -> Settled:
    """Return what is which in a store that was left by `before`."""
    return settle(gardens, before.known, today, lambda _key: rows)


def begun(*gardens: Garden) -> Settled:
    """Return what is which in a new store."""
    return settle(gardens, (), TODAY, no_rows)


def keys(settled: Settled) -> dict[str, str]:
    """Return the keys of the batches of the only garden, by name, where they differ."""
    return dict(next(iter(settled.names.batches.values()), {}))


def test_a_new_store_keeps_everything_under_its_name_and_asks_nothing() -> None:
    found = begun(garden(batch(), batch(name="Row B")))
    assert (found.names.gardens, found.names.batches) == ({}, {})
    assert found.lost == found.followed == ()
    assert [each.key for each in found.changed] == ["Orchard corner"]


def test_what_is_known_already_is_not_written_again() -> None:
    assert after(begun(garden()), garden()).changed == ()


def test_what_was_written_is_read_back() -> None:
    found = begun(garden(batch(id="b1"), batch(name="Row B"), id="g1"))
    assert known_in(found.entries(NOW)) == found.known


def test_the_last_row_of_a_garden_counts() -> None:
    first = begun(garden())
    second = after(first, garden(batch(name="Long row")))
    assert known_in((*first.entries(NOW), *second.entries(NOW))) == second.known


def test_a_batch_with_another_name_and_the_same_start_goes_on() -> None:
    found = after(begun(garden()), garden(batch(name="Long row")))
    assert keys(found) == {"Long row": "Row A"}
    assert found.followed == (
        ("Orchard corner", '"Row A" is called "Long row" now; its journal goes on.'),
    )
    assert found.lost == ()


def test_a_name_that_changes_twice_goes_on_under_the_first_key() -> None:
    once = after(begun(garden()), garden(batch(name="Long row")))
    twice = after(once, garden(batch(name="Sunny row")))
    assert keys(twice) == {"Sunny row": "Row A"}


def test_a_garden_with_another_name_at_the_same_place_goes_on() -> None:
    found = after(begun(garden()), garden(name="Mill lane"))
    assert dict(found.names.gardens) == {"Mill lane": "Orchard corner"}
    assert found.lost == ()


def test_a_garden_and_its_batch_may_change_their_names_at_once() -> None:
    found = after(begun(garden()), garden(batch(name="Long row"), name="Mill lane"))
    assert found.names.gardens["Mill lane"] == "Orchard corner"
    assert found.names.batches["Mill lane"] == {"Long row": "Row A"}


@pytest.mark.parametrize(
    "new",
    [
        pytest.param(garden(batch(name="Long row", start_on=LATER)), id="another start"),
        pytest.param(
            garden(batch(name="Long row"), batch(name="Short row")), id="two that it may be"
        ),
    ],
)
def test_a_batch_that_may_be_none_or_several_is_asked_about(new: Garden) -> None:
    found = after(begun(garden()), new)
    (lost,) = found.lost
    assert (lost.name, lost.asked_in, found.followed) == ("Row A", "Orchard corner", ())
    assert lost.may_be == tuple(each.name for each in new.batches)


def test_two_lost_batches_of_one_start_are_not_guessed_at() -> None:
    """One new name may be either of them."""
    before = begun(garden(batch(), batch(name="Row B")))
    found = after(before, garden(batch(name="Long row")))
    assert [each.name for each in found.lost] == ["Row A", "Row B"]


@pytest.mark.parametrize(
    ("moved_deg", "is_one"),
    [(SAME_PLACE_DEG * 0.9, True), (SAME_PLACE_DEG * 1.1, False)],
)
def test_a_garden_is_the_same_within_a_hundred_metres(moved_deg: float, is_one: bool) -> None:
    place = replace(PLACE, latitude=PLACE.latitude + moved_deg)
    found = after(begun(garden()), garden(name="Mill lane", place=place))
    assert ("Mill lane" in found.names.gardens) is is_one
    assert (found.lost == ()) is is_one


def test_a_lost_garden_is_asked_about_in_the_brief_of_every_other() -> None:
    found = after(begun(garden()), garden(name="Far field", place=replace(PLACE, latitude=40.0)))
    (question,) = found.questions("Far field")
    assert question == (
        '[[gardens]]: "Orchard corner", begun on 2027-04-05, is no longer in the configuration, '
        'and its season still runs. If it has another name now (it may be "Far field"), write '
        'id = "Orchard corner" under it, so that nothing is fed twice; if the bales are gone, '
        'type: strawbell record gone "Orchard corner".'
    )


def test_the_id_in_the_question_is_the_answer_to_it() -> None:
    before = begun(garden())
    later = batch(name="Long row", start_on=LATER)
    assert after(before, garden(later)).lost
    found = after(before, garden(replace(later, id="Row A")))
    assert found.lost == ()
    assert keys(found) == {"Long row": "Row A"}


def test_an_id_counts_whatever_else_changes() -> None:
    before = begun(garden(batch(id="b1"), id="g1"))
    moved = replace(PLACE, latitude=40.0)
    new = garden(batch(name="Long row", start_on=LATER, id="b1"), name="Far", place=moved, id="g1")
    found = after(before, new)
    assert found.names.gardens["Far"] == "Orchard corner"
    assert found.names.batches["Far"] == {"Long row": "Row A"}
    assert found.lost == ()


def test_two_batches_with_ids_may_swap_their_names() -> None:
    before = begun(garden(batch(id="b1"), batch(name="Row B", id="b2")))
    found = after(before, garden(batch(id="b2"), batch(name="Row B", id="b1")))
    assert keys(found) == {"Row A": "Row B", "Row B": "Row A"}


def test_an_id_that_is_added_or_removed_changes_nothing() -> None:
    plain, with_id = garden(batch()), garden(batch(id="b1"), id="g1")
    for one, other in ((plain, with_id), (with_id, plain)):
        found = after(begun(one), other)
        assert (found.names.gardens, found.names.batches, found.lost) == ({}, {}, ())


def test_a_new_batch_never_gets_the_key_of_another() -> None:
    renamed = after(begun(garden()), garden(batch(name="Long row")))
    second = batch(start_on=LATER)
    found = after(renamed, garden(batch(name="Long row"), second))
    assert keys(found) == {"Long row": "Row A", "Row A": "Row A 2"}


@pytest.mark.parametrize(
    ("today", "is_asked"),
    [
        (START - timedelta(days=1), False),
        (START, True),
        (START + SEASON - timedelta(days=1), True),
        (START + SEASON, False),
    ],
)
def test_a_batch_is_asked_about_while_its_season_runs(today: date, is_asked: bool) -> None:
    other = batch(name="Row B", start_on=LATER)
    before = begun(garden(batch(), other))
    assert bool(after(before, garden(other), today=today).lost) is is_asked


def test_spread_bales_are_not_asked_about() -> None:
    other = batch(name="Row B", start_on=LATER)
    spread = JournalEntry(
        NOW, "Orchard corner", TODAY, EntryKind.TOLD, "Row A", "row-a-spread", "due"
    )
    before = begun(garden(batch(), other))
    assert after(before, garden(other), rows=(spread,)).lost == ()


def test_what_the_grower_says_is_gone_is_not_asked_about_again() -> None:
    other: Batch = batch(name="Row B", start_on=LATER)
    asked = after(begun(garden(batch(), other)), garden(other))
    (lost,) = asked.lost
    known = (asked.without(lost),)
    assert settle((garden(other),), known, TODAY, no_rows).lost == ()


def test_a_gone_garden_is_not_asked_about_again() -> None:
    far = garden(name="Far field", place=replace(PLACE, latitude=40.0))
    asked = after(begun(garden()), far)
    (lost,) = asked.lost
    assert settle((far,), (asked.without(lost),), TODAY, no_rows).lost == ()
