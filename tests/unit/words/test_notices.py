"""Every notice has a subject, a text, a page, and one or two sentences for the desktop."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from msgspec.structs import replace

from strawbell.model.brief import Action, AlertCode, AlertKey
from strawbell.model.notice import Notice, NoticeKind, OutboxRow, OutboxState, Useful
from strawbell.words import notices
from strawbell.words.asking import TEXT_PLACE
from strawbell.words.catalogue import BRITISH
from support.briefs import (
    TODAY,
    brief,
    feeding,
    feeding_brief,
    freeze_alert,
    frost_brief,
    frost_reason,
    garden,
    held_feeding,
    watering,
)

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
LATER = NOW + timedelta(hours=12)
USEFUL = Useful(NOW, LATER)
LOST = OutboxRow(
    *("key", "email", "a@b.example", "id", b"", "Feed Row A", "Old corner", TODAY),
    *(NoticeKind.MORNING, OutboxState.FOR_GOOD, 1, NOW, NOW, LATER),
)


def morning(made: object = None, troubles: tuple[str, ...] = ()) -> Notice:
    """Return a morning notice."""
    return notices.morning_notice(
        made or feeding_brief(),  # type: ignore[arg-type]
        garden(),
        USEFUL,
        troubles,
    )


def change(**parts: object) -> Notice:
    """Return a change notice of the frosty morning."""
    given = {"tasks": (), "alerts": (), "passed": (), **parts}
    return notices.change_notice(frost_brief(), garden(), occasion="14:05", useful=USEFUL, **given)  # type: ignore[arg-type]


def evening(**parts: object) -> Notice:
    """Return an evening notice of the frosty day."""
    given = {"protect": (freeze_alert(),), "prepare": (feeding(),), **parts}
    return notices.evening_notice(frost_brief(), garden(), useful=USEFUL, **given)  # type: ignore[arg-type]


def trouble() -> Notice:
    """Return a notice of a forecast outage."""
    sentences = ("open-meteo: no answer within 30 s",)
    return notices.trouble_notice(garden(), TODAY, "forecast", sentences, USEFUL)


ALL: dict[NoticeKind, Callable[[], Notice]] = {
    NoticeKind.MORNING: morning,
    NoticeKind.EVENING: evening,
    NoticeKind.CHANGE: lambda: change(tasks=(held_feeding(),), alerts=(freeze_alert(),)),
    NoticeKind.TROUBLE: trouble,
    NoticeKind.ALL_CLEAR: lambda: notices.all_clear_notice(garden(), feeding_brief(), USEFUL),
    NoticeKind.ANSWER: lambda: notices.answer_notice(
        garden(), TODAY, "how", "How it is done", ("Soak Row A.",), USEFUL
    ),
    NoticeKind.TEST: lambda: notices.test_notice(garden(), TODAY, "06:31", USEFUL),
}


@pytest.mark.parametrize("kind", NoticeKind)
def test_every_kind_of_notice_is_whole(kind: NoticeKind) -> None:
    notice = ALL[kind]()
    assert notice.kind is kind
    assert (notice.garden, notice.local_date) == ("Orchard corner", TODAY)
    assert (notice.created_at, notice.expires_at) == (NOW, LATER)
    assert "\n" not in notice.subject
    assert 0 < len(notice.subject) <= 52
    assert notice.html.startswith("<!DOCTYPE html>")
    assert all(len(line) <= 78 for line in notice.text.split("\n"))
    assert len(notice.short) <= 240


MORE: dict[str, Callable[[], Notice]] = {
    "morning of supplies": lambda: notices.morning_notice(
        feeding_brief(), garden(), USEFUL, supplies=("1.2 kg of urea by Friday.",)
    ),
    "evening before work": lambda: notices.evening_notice(
        feeding_brief(), garden(), (), (feeding(),), USEFUL
    ),
    **{
        f"{code} has passed": lambda code=code: change(passed=(AlertKey(code),))  # type: ignore[misc]
        for code in AlertCode
    },
}


@pytest.mark.parametrize("make", [*ALL.values(), *MORE.values()], ids=[*map(str, ALL), *MORE])
def test_the_page_says_all_that_the_text_says(make: Callable[[], Notice]) -> None:
    """Whoever reads the page does not open the text; the days ahead are drawn."""
    notice = make()
    text = notice.text.replace(TEXT_PLACE, "")
    told = re.sub(r"Next:.*?\n\n", "", text, flags=re.DOTALL).lower()
    page = re.sub(
        r"<style.*?</style>|<div style=.display:none.*?</div>", " ", notice.html, flags=re.S
    )
    shown = unescape(re.sub(r"<[^>]*>", " ", page)).lower() + notice.html.partition("href=")[2]
    assert [each for each in re.findall(r"[^\W\d_]{4,}|\d+", told) if each not in shown] == []


@pytest.mark.parametrize("kind", [NoticeKind.MORNING, NoticeKind.EVENING, NoticeKind.CHANGE])
def test_what_rests_on_a_forecast_names_its_source(kind: NoticeKind) -> None:
    notice = ALL[kind]()
    assert "https://open-meteo.com/" in notice.text
    assert 'href="https://open-meteo.com/"' in notice.html


def test_the_same_arguments_give_the_same_notice() -> None:
    """It is frozen on disk before the first attempt, so nothing in it may vary."""
    for make in ALL.values():
        assert make() == make()


@pytest.mark.parametrize(
    ("made", "short"),
    [
        (
            feeding_brief(),
            "Feed all 9 bales: 500 g of blood meal each, 4.5 kg in all. Then 4 L of water each.",
        ),
        (frost_brief(), "Row C: cover the tomatoes and the basil before dark."),
        (brief(held_feeding()), "Row A: don't feed today. Tomorrow at the earliest."),
        (brief(), "Nothing to do today."),
    ],
)
def test_the_desktop_hears_the_main_task(made: object, short: str) -> None:
    assert morning(made).short.startswith(short)


def test_no_work_that_silence_takes_for_done_goes_unsaid_on_a_phone() -> None:
    """What does not fit is counted."""
    two = morning(brief(feeding(), watering("Row C", 3))).short
    assert "Row A: feed the bales" in two
    assert "Row C: water the bales" in two
    many = morning(brief(*(feeding(f"Row {name}", 3, note=f"Note {name}.") for name in "ABCDEF")))
    assert "And " in many.short
    assert "more: see the mail, or strawbell today." in many.short
    assert len(many.short) <= 240


def test_notices_that_did_not_arrive_are_told_before_the_work() -> None:
    notice = morning(troubles=('"Thu 8 Apr" did not reach a@example.org by email: 550',))
    for said in (notice.text, notice.html):
        assert "did not reach a@example.org" in " ".join(said.split())
    assert notice.text.index("Earlier notices") < notice.text.index("Feed all 9 bales")


def test_a_garden_is_named_in_a_subject_where_a_phone_still_shows_it() -> None:
    assert morning().subject == "Feed today: 500 g blood meal a bale (Orchard corner)"
    assert morning(frost_brief()).subject == "Cover the tomatoes and the basil tonight: frost"


def test_a_feeding_that_becomes_held_says_so_and_why() -> None:
    notice = change(tasks=(held_feeding(), held_feeding("Row C", 3)))
    assert notice.subject == "Don't feed today: frost tonight (Orchard corner)"
    assert "Don't feed today. Tomorrow at the earliest." in notice.text
    assert "Frost (-3 °C) at 05:00 tomorrow" in " ".join(notice.text.split())
    assert "This replaces what I wrote this morning." in notice.text
    assert notice.occasion == "14:05"


def test_a_hold_that_is_lifted_says_why_it_may_go_ahead() -> None:
    rain = (AlertKey(AlertCode.HEAVY_RAIN, "row-a"),)
    notice = change(tasks=(feeding(),), passed=rain)
    assert notice.subject == "You can feed after all: the rain has moved off"
    assert change(tasks=(feeding(),)).subject.startswith("You can feed after all")
    assert "Gloves" not in notice.text, "the morning told the steps"


def test_a_warning_that_has_passed_is_named_once() -> None:
    keys = tuple(AlertKey(AlertCode.HEAVY_RAIN, batch) for batch in ("row-a", "row-c"))
    notice = change(passed=keys)
    assert notice.subject == "The rain has moved off (Orchard corner)"
    assert notice.text.count("The rain has moved off: covers over bales may come off.") == 1


def test_a_new_alert_is_told_with_its_advice() -> None:
    frost = replace(freeze_alert(), code=AlertCode.FROST)
    notice = change(alerts=(frost,))
    assert notice.subject.startswith("Frost tonight")
    assert "Cover the tomatoes and the basil before dark." in " ".join(notice.text.split())


def test_the_evening_says_what_to_protect_and_what_to_have_at_hand() -> None:
    text = " ".join(evening().text.split())
    order = ("before dark", "Tomorrow, Row A: feed the bales")
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert "heavy rain or frost before" not in text, "tomorrow is judged tomorrow"


def test_an_evening_that_only_prepares_says_for_what() -> None:
    only = evening(protect=(), prepare=(feeding("Row C", 3),))
    assert only.subject.startswith("Cover the tomatoes"), "tonight goes first"
    quiet = notices.evening_notice(feeding_brief(), garden(), (), (feeding(),), useful=USEFUL)
    assert quiet.subject == "For tomorrow: feed (Orchard corner)"
    assert "500\u00a0g of blood meal each" in quiet.html, "the page has the work too"


def test_what_has_to_be_bought_goes_with_the_morning_and_names_one_without_work() -> None:
    supplies = ("1.2 kg of urea by Friday.",)
    busy = notices.morning_notice(feeding_brief(), garden(), USEFUL, supplies=supplies)
    assert busy.subject.startswith("Feed")
    idle = replace(feeding_brief(), tasks=(), alerts=(), questions=(), preparing=())
    bought = notices.morning_notice(idle, garden(), USEFUL, supplies=supplies)
    assert bought.subject.startswith("Supplies to get ready")
    for notice in (busy, bought):
        assert supplies[0] in " ".join(notice.text.split())


def test_a_forecast_outage_says_what_it_means_and_what_to_try() -> None:
    text = " ".join(trouble().text.split())
    assert "open-meteo: no answer within 30 s." in text
    assert "I can't hold work or warn you for the weather" in text
    assert "strawbell check --connect" in text


@pytest.mark.parametrize(
    "made",
    [
        notices.bounce_notice(LOST, "5.1.1 no such user", BRITISH, USEFUL),
        notices.undelivered_notice(
            LOST, "failed x", "A notice did not arrive", ("5.1.1 no such user",), USEFUL
        ),
    ],
)
def test_what_did_not_arrive_is_told_as_every_trouble_is(made: Notice) -> None:
    """With a page, and of a garden that is no longer in the plan; a desktop gets all of it."""
    assert made.subject.endswith(f"({LOST.garden})")
    for said in (made.text, made.html, made.short):
        assert "5.1.1 no such user" in " ".join(said.split())
    assert "<h1" in made.html
    assert (made.garden, made.local_date, made.kind) == (LOST.garden, TODAY, NoticeKind.TROUBLE)
    assert made.asking is None


def test_an_unknown_trouble_still_says_something_useful() -> None:
    notice = notices.trouble_notice(garden(), TODAY, "odd", (), USEFUL)
    assert "Strawbell needs your help" in notice.subject
    assert "strawbell journal" in notice.text


def test_the_return_of_forecasts_judges_the_day_again() -> None:
    notice = ALL[NoticeKind.ALL_CLEAR]()
    assert "No heavy rain or frost" in " ".join(notice.text.split())


def test_a_very_long_plan_still_has_a_short_subject() -> None:
    tasks = tuple(
        watering(f"Row {number}", action=Action.PLANT, crops=("k" * 300,)) for number in "ABC"
    )
    notice = morning(brief(*tasks))
    assert len(notice.subject) <= 52
    assert len(notice.short) <= 240


def test_a_reason_in_a_page_has_a_real_minus_and_in_text_a_plain_one() -> None:
    notice = change(tasks=(held_feeding(reasons=(frost_reason(),)),))
    assert "−3" in notice.html
    assert "−" not in notice.text
