"""What a grower types when first asked, and the configuration it comes to."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from strawbell.config.first_plan import (
    Bales,
    FirstDay,
    FirstPlan,
    MailAccess,
    Reach,
    Sown,
    feeds_meant,
    read_bales,
    read_coordinates,
    read_crops,
    read_feeds,
    read_first_day,
    read_reach,
    written,
)
from strawbell.config.load import load
from strawbell.errors import GrowerError
from strawbell.model.garden import Method, Place, Straw

TODAY = date(2027, 2, 1)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("47.05, 8.31", (47.05, 8.31)),
        ("-34.6037 -58.3816", (-34.6, -58.38)),
        ("Luzern", None),
        ("6003", None),
    ],
)
def test_two_numbers_are_coordinates_and_all_else_is_a_name(
    typed: str, meant: tuple[float, float] | None
) -> None:
    assert read_coordinates(typed) == meant


@pytest.mark.parametrize("typed", ["90.01, 0", "0, 180.01", "-91 8"])
def test_numbers_off_the_globe_are_refused(typed: str) -> None:
    with pytest.raises(GrowerError, match="no place on earth"):
        read_coordinates(typed)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("6", Bales(6)),
        ("4 three-string oat", Bales(4, "three-string", Straw.OAT)),
        ("12 bales of barley straw", Bales(12, "two-string", Straw.BARLEY)),
    ],
)
def test_bales_are_counted_with_their_size_and_straw(typed: str, meant: Bales) -> None:
    assert read_bales(typed) == meant


@pytest.mark.parametrize("typed", ["", "six", "0", "1001", "6 hay"])
def test_bales_that_are_none_are_refused_with_what_is_allowed(typed: str) -> None:
    with pytest.raises(GrowerError, match="allowed"):
        read_bales(typed)


def test_feeds_are_read_as_printed_on_the_bag() -> None:
    """A built-in feed needs no numbers; its namesake of another label is one of the grower's."""
    urea, lawn, fish, balanced = read_feeds(
        "urea; lawn food 20-0-0, fish feed 5 - 1 - 1 liquid\ntomato food 5-5-5"
    )

    assert (urea.name, urea.built_in) == ("Urea", True)
    assert (lawn.name, str(lawn.label), lawn.built_in) == ("Lawn food", "20-0-0", False)
    assert (fish.name, fish.form.value) == ("Fish feed", "liquid")
    assert [feed.is_balanced for feed in (urea, lawn, fish, balanced)] == [False] * 3 + [True]
    assert read_feeds("blood meal 13-0-0")[0].name == "Blood meal 13-0-0"
    assert read_feeds("") == ()


@pytest.mark.parametrize("typed", ["what the shop had", "moss killer 60-60-0"])
def test_a_feed_without_believable_numbers_is_refused(typed: str) -> None:
    with pytest.raises(GrowerError):
        read_feeds(typed)


def test_the_nitrogen_comes_from_the_strongest_dry_feed() -> None:
    """A liquid at its label's strength feeds plants; it cannot condition a bale."""
    nitrogen, finishing = feeds_meant(read_feeds("fish 9-1-1 liquid, blood meal, plain 10-10-10"))
    assert nitrogen is not None
    assert nitrogen.name == "Blood meal"
    assert finishing is not None
    assert finishing.name == "Plain"

    assert feeds_meant(read_feeds("fish 5-1-1 liquid, powder 24-0-0 soluble")) == (None, None)
    assert feeds_meant(read_feeds("weak 2-0-0")) == (None, None)
    assert feeds_meant(read_feeds("enough 3-0-0"))[0] is not None


def test_crops_are_read_with_plurals_and_seed() -> None:
    assert read_crops("8 tomatoes, 1 lettuce; 40 carrot seed") == (
        Sown("tomato", 8, Method.TRANSPLANT),
        Sown("lettuce", 1, Method.TRANSPLANT),
        Sown("carrot", 40, Method.SEED),
    )


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("tomato", "a number first"),
        ("0 tomato", "a number first"),
        ("8 tomto", "Did you mean tomato"),
        ("2 rhubarb", "several years"),
    ],
)
def test_crops_that_cannot_be_meant_are_refused_with_the_way_out(typed: str, said: str) -> None:
    with pytest.raises(GrowerError, match=said):
        read_crops(typed)


def test_a_first_day_is_of_soaking_or_of_planting() -> None:
    assert read_first_day("2027-04-05", TODAY) == FirstDay(date(2027, 4, 5))
    assert read_first_day("plant 2027-05-15", TODAY) == FirstDay(date(2027, 5, 15), planting=True)


@pytest.mark.parametrize(
    "typed", ["", "plant", "5 April", "2027-04-05 or so", "2026-12-02", "2028-03-08"]
)
def test_a_day_that_cannot_be_meant_is_refused(typed: str) -> None:
    """Sixty days back and four hundred ahead are the last that can be."""
    with pytest.raises(GrowerError):
        read_first_day(typed, TODAY)


@pytest.mark.parametrize("typed", ["2026-12-03", "2028-03-07"])
def test_the_first_and_last_day_that_can_be_meant(typed: str) -> None:
    assert read_first_day(typed, TODAY).on == date.fromisoformat(typed)


def test_ways_to_be_told_go_together() -> None:
    assert read_reach("me@example.org and desktop") == Reach("me@example.org", desktop=True)
    assert read_reach("files") == Reach()
    assert read_reach("https://push.example.org") == Reach(push="https://push.example.org")
    with pytest.raises(GrowerError, match="a mail address, desktop, the address"):
        read_reach("by pigeon")


def plan(*, us_units: bool = False, name: str = 'The "new" corner') -> FirstPlan:
    """Everything that can be answered."""
    return FirstPlan(
        garden=name,
        place=Place(47.05, 8.31, "Europe/Zurich", 435.0),
        bales=Bales(6, "three-string", Straw.OAT),
        feeds=read_feeds("lawn food 20-0-0, plain 10-10-10, fish 5-1-1 liquid"),
        crops=read_crops("8 tomato, 40 carrot seed"),
        first_day=FirstDay(date(2027, 4, 5)),
        reach=Reach("grower@example.org", desktop=True),
        mail=MailAccess("smtp.example.org", 465, "tls", "grower@example.org", "mail-password"),
        us_units=us_units,
    )


def test_what_is_written_is_read_again_as_it_was_meant(tmp_path: Path) -> None:
    """Names with quotes, own feeds, crops from seed, mail with its password in a file."""
    (tmp_path / "mail-password").write_text("secret")
    (tmp_path / "mail-password").chmod(0o600)
    path = tmp_path / "config.toml"
    path.write_text(written(plan(us_units=True)), encoding="utf-8")

    loaded = load(path, {}, today=TODAY)

    (garden,) = loaded.gardens
    (batch,) = garden.batches
    assert garden.name == 'The "new" corner'
    assert garden.place == Place(47.05, 8.31, "Europe/Zurich", 435.0)
    assert (batch.bales, batch.start_on) == (6, date(2027, 4, 5))
    assert (batch.feed.name, batch.finishing_feed.name) == ("Lawn food", "Plain")
    assert [(each.crop.name, each.plants) for each in batch.plantings] == [
        ("tomato", 8),
        ("carrot", 40),
    ]
    assert loaded.settings.email is not None
    assert loaded.settings.email.effective_port == 465
    assert loaded.settings.weather.contact == "grower@example.org"


def test_what_is_written_has_comments_and_no_password() -> None:
    """It reads like a file written by hand."""
    text = written(plan())

    assert text.count("#") > 6
    assert "secret" not in text
    assert all(len(line) <= 100 for line in text.splitlines())
