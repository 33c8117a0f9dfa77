"""An answer that is proved has one effect; whatever is not sure has none, and is asked about."""

from __future__ import annotations

import json
from datetime import timedelta
from email.message import EmailMessage
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.app.answering import Answering
from strawbell.app.identity import known_entry
from strawbell.app.outbox import ANSWERABLE_D
from strawbell.app.pipeline import Pipeline
from strawbell.app.ports import Bounce, IgnoredFor, Reply
from strawbell.edges.desktop import DesktopChannel
from strawbell.edges.folder import FolderChannel
from strawbell.edges.smtp import SmtpChannel
from strawbell.model.brief import Action, State, TaskKey
from strawbell.model.configuration import MailSettings
from strawbell.model.identity import KnownGarden
from strawbell.model.journal import EntryKind
from strawbell.model.notice import NoticeKind
from strawbell.season.journal_index import ANSWERED_BY, JournalIndex
from support.answered import (
    GROWER,
    NEIGHBOUR,
    Answered,
    buttons,
    day_of,
    opened,
    soaked_first,
    text_of,
)
from support.fake_clock import sender
from support.gardens import START, at, done, forecast, garden, hour_at, planting
from support.keys import key_of
from support.letters import letter

SOAK = "row-a-1-soak"


def fed_morning() -> tuple[Answered, object]:
    """Return a season whose first feeding has just been told."""
    days = Answered()
    for day in (1, 2, 3):
        days.morning(day)
    return days, days.morning(4)


def feed_key(days: Answered) -> TaskKey:
    told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told[day_of(4)]
    return next(key for key in told if key.action is Action.FEED)


def test_a_reply_in_a_word_is_taken() -> None:
    """By the references that every mail program repeats; the subject needs no token."""
    days = Answered()
    mail = days.morning()
    assert "[" not in mail["Subject"]
    assert days.reply(mail, "Done\n\n> Reply done\n") == ""
    assert days.said() == [(EntryKind.DONE, SOAK)]
    assert days.words()[0].data[ANSWERED_BY] == "email"


@pytest.mark.parametrize(
    ("label", "kind"), [("Done", EntryKind.DONE), ("Not today", EntryKind.MISSED)]
)
def test_a_button_is_taken_as_it_is(label: str, kind: EntryKind) -> None:
    """Its mail is a new one, so the token stands in its subject."""
    days = Answered()
    assert days.press(days.morning(), label) == ""
    assert days.said() == [(kind, SOAK)]


def test_a_reply_from_a_new_mail_is_taken_by_what_the_text_says() -> None:
    """Where no button works, the text tells address and token."""
    days = Answered()
    mail = days.morning()
    code = text_of(mail).rsplit(", ", 1)[1].strip()
    assert days.take(letter("done\n", f"my bales {code}", GROWER)) == ""
    assert days.said() == [(EntryKind.DONE, SOAK)]


def test_the_same_answer_has_one_effect_however_often_it_comes() -> None:
    """Delivered again, or typed again."""
    days = Answered()
    mail = days.morning()
    again = {"identity": "<same@mail.example.org>"}
    assert days.reply(mail, "done", **again) == ""
    assert "again" in days.reply(mail, "done", **again)
    assert "before" in days.reply(mail, "Done!")
    assert days.press(mail, "Done") != ""
    assert days.said() == [(EntryKind.DONE, SOAK)]
    assert len(days.rows()) == 1


def test_a_later_word_corrects_an_earlier_one() -> None:
    """Both are in the journal, the later one counts."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, "done")
    days.reply(mail, "missed, hose burst")
    assert days.said() == [(EntryKind.DONE, SOAK), (EntryKind.MISSED, SOAK)]
    word = JournalIndex.of(days.store.journal(days.plan.name)).word_on(key_of(SOAK), START)
    assert word is not None
    assert not word.done


@pytest.mark.parametrize("sender", ["eve@example.com", NEIGHBOUR])
def test_a_token_counts_only_from_whom_it_was_asked(sender: str) -> None:
    """A forwarded mail carries it along."""
    days = Answered()
    assert "not asked" in days.reply(days.morning(), "done", sender=sender)
    assert days.said() == []
    assert len(days.rows()) == 1


def test_a_tag_of_an_address_is_no_other_address() -> None:
    """Mail programs let one choose among them."""
    days = Answered()
    assert days.reply(days.morning(), "done", sender="Ada@Example.org") == ""
    other = Answered(recipients=("ada+bales@example.org",))
    assert other.reply(other.morning(), "done", sender=GROWER) == ""


def test_each_recipient_answers_with_a_token_of_their_own() -> None:
    """The one of another is refused, with either sender."""
    days = Answered(recipients=(GROWER, NEIGHBOUR))
    days.morning()
    hers, his = days.mails()
    assert opened(hers, "Done")[1] != opened(his, "Done")[1]
    assert "not asked" in days.reply(hers, "done", sender=NEIGHBOUR)
    assert days.reply(his, "done", sender=NEIGHBOUR) == ""


def test_a_token_that_is_not_right_proves_nothing() -> None:
    """One sign off, or of another store."""
    days, other = Answered(), Answered()
    mail = days.morning()
    _, subject, body = opened(mail, "Done")
    flipped = subject[:-2] + ("0" if subject[-2] != "0" else "1") + "]"
    assert "proves nothing" in days.take(letter(body, flipped, GROWER))
    other.store.secret = replace(other.store.secret, key=b"x" * 32)
    assert "proves nothing" in other.take(letter(body, subject, GROWER))
    assert days.said() == other.said() == []


def test_mail_that_is_about_something_else_is_left_alone_in_silence() -> None:
    """A mailbox holds other mail too."""
    days = Answered()
    days.morning()
    assert days.take(letter("done\n", "Dinner on Friday?", GROWER)) == ""
    assert days.answering.take(IgnoredFor.LIST, at(START, 9)) == ""
    assert days.said() == []
    assert len(days.rows()) == 1


@pytest.mark.parametrize(("late", "counts"), [(ANSWERABLE_D, True), (ANSWERABLE_D + 1, False)])
def test_an_answer_counts_for_a_week(late: int, counts: bool) -> None:
    """By the server's clock, whatever the mail says."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, "missed", at(START, 9) + timedelta(days=late))
    assert bool(days.said()) is counts


def test_a_late_answer_is_about_its_own_day() -> None:
    """The soaking that was not done on Monday is due again."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, "not today", at(day_of(2), 5))
    assert days.words()[0].local_date == START
    days.morning(2)
    told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told[day_of(2)]
    assert key_of(SOAK) in told


@pytest.mark.parametrize(
    "typed",
    [
        "How much was it again?",
        "done\n\nno wait, missed",
        "do\0ne",
        "rain",
        "fed",
        "done Row B",
        "missed 1 Apr",
        "2 kg pineapples",
        "999",
    ],
)
def test_what_is_not_understood_is_asked_about_once(typed: str) -> None:
    """Nothing is noted, and the question itself can be answered."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, typed)
    days.reply(mail, f"{typed} \n")
    assert days.said() == []
    asked = days.mails()[1:]
    assert [row.kind for row in days.rows()[1:]] == [NoticeKind.ANSWER]
    assert "didn't understand" in asked[0]["Subject"]
    days.press(asked[0], "Done")
    assert days.said() == [(EntryKind.DONE, SOAK)]


def test_each_answer_that_is_not_understood_is_asked_about_and_no_more_than_a_few() -> None:
    """None is dropped in silence; one who answers every question with a riddle is let be."""
    days = Answered()
    mail = days.morning()
    for typed in ("half of it", "the other half", "half of it", "nearly all", "most", "some"):
        days.reply(mail, typed)
    asked = [" ".join(text_of(each).split()) for each in days.mails()[1:]]
    assert [said.split('You wrote: "')[1].split('"')[0] for said in asked] == [
        "half of it",
        "the other half",
        "nearly all",
    ]
    assert days.said() == []


def test_the_steps_are_told_again_of_work_that_is_noted() -> None:
    """Whoever writes "not done" and then "how" wants to do it."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, "not done")
    days.reply(mail, "how")
    assert "Stop at the first steady drip." in " ".join(text_of(days.mails()[-1]).split())


def stormy_feeding() -> tuple[Answered, EmailMessage]:
    """Return a morning on which the feed is held for a storm, and its mail."""
    days = Answered()
    for day in (1, 2, 3):
        days.morning(day)
    days.weather = lambda now: forecast(now, rain_mm=3.0)
    return days, days.morning(4)


def test_what_waits_is_never_asked_for_by_a_reminder_or_a_question() -> None:
    """No forecast is at hand where answers are read, and the storm is still on its way."""
    for typed in ("later", "half of it"):
        days, mail = stormy_feeding()
        assert "Don't feed today" in str(mail["Subject"])
        days.reply(mail, typed, at(day_of(4), 9))
        said = text_of(days.mails()[-1])
        assert "400 g of blood meal" not in said
        assert "No reply means you waited." in said
        days.reply(mail, "how", at(day_of(4), 10))
        steps = text_of(days.mails()[-1])
        assert "Don't feed today" in steps
        assert "\n1. " in steps


def test_a_question_says_of_silence_what_the_mail_before_said() -> None:
    days, mail = fed_morning()
    assert "No reply means done." in text_of(mail)
    days.reply(mail, "half of it", at(day_of(4), 9))
    assert "No reply means done." in text_of(days.mails()[-1])


def test_what_is_done_may_be_said_with_its_amount() -> None:
    for typed in ("done 350 g", "Done, 350 g each.", "fed 350 g"):
        days, mail = fed_morning()
        days.reply(mail, typed, at(day_of(4), 9))
        assert "350 g a bale" in " ".join(text_of(days.morning(5)).split()), typed


def test_what_is_taken_back_after_it_was_confirmed_is_confirmed_as_well() -> None:
    days = Answered()
    days.reply(days.morning(1), "rain 12", at(day_of(1), 9))
    second = days.morning(2)
    assert "12 mm of rain fell" in text_of(second)
    days.reply(second, "undo rain", at(day_of(2), 9))
    told = " ".join(text_of(days.morning(3)).split())
    assert "You told me on Tuesday that the rain you told me of no longer counts." in told
    assert "Wrong?" not in told
    assert "You told me" not in text_of(days.morning(4))


def test_a_day_without_power_is_told_once() -> None:
    days = Answered()
    days.morning(1)
    days.morning(2)
    for day, told in ((4, True), (5, False), (6, False)):
        assert ("I couldn't reach you" in text_of(days.morning(day))) is told


def test_a_damaged_mail_is_asked_about() -> None:
    """A word may have come of the damage."""
    days = Answered()
    days.reply(days.morning(), "ZG9u!!!ZQo\n", encoding="base64")
    assert days.said() == []
    assert len(days.rows()) == 2


def test_what_each_bale_got_goes_into_the_book_of_nitrogen() -> None:
    """Instead of the told dose, in proportion."""
    days, mail = fed_morning()
    key = feed_key(days)
    told = JournalIndex.of(days.store.journal(days.plan.name)).amounts[key]
    assert "Other amount" in buttons(mail)
    half_g = float(told["per_bale_g"]) / 2
    days.reply(mail, f"fed {half_g:g} g", at(day_of(4), 9))
    index = JournalIndex.of(days.store.journal(days.plan.name))
    assert days.said() == [(EntryKind.DONE, key.text())]
    noted = index.amounts[key]
    assert float(noted["nitrogen_per_bale_g"]) == pytest.approx(
        float(told["nitrogen_per_bale_g"]) / 2, abs=0.01
    )


def test_the_button_for_another_amount_asks_back_when_it_is_left_blank() -> None:
    """A blank is not zero."""
    days, mail = fed_morning()
    days.press(mail, "Other amount", at(day_of(4), 9))
    assert days.said() == []
    assert "didn't understand" in days.mails()[-1]["Subject"]


def test_measurements_are_taken() -> None:
    """Each on a line, in one mail."""
    days = Answered(garden(soaked_first(plantings=(planting(),))))
    days.reply(days.morning(), "54\nrain 12\nlow -2\nnote: slugs\n")
    assert [(row.kind, row.value, row.text) for row in days.words()] == [
        (EntryKind.TEMPERATURE, 54.0, ""),
        (EntryKind.RAIN, 12.0, ""),
        (EntryKind.LOW, -2.0, ""),
        (EntryKind.NOTE, None, "slugs"),
    ]


def test_the_gauge_and_the_thermometer_go_before_the_forecast() -> None:
    """A gauge read in the morning holds the rain of the day before."""
    days = Answered()
    days.morning(1)
    mail = days.morning(2)
    days.reply(mail, "rain 7\nlow -1", at(day_of(2), 8))
    weather = JournalIndex.of(days.store.journal(days.plan.name)).weather
    assert weather[day_of(1)].rain_mm == 7.0
    assert weather[day_of(2)].low_c == -1.0


def test_a_reading_in_the_range_of_self_heating_is_warned_of_at_once() -> None:
    """It cannot wait for the next morning."""
    days = Answered()
    days.reply(days.morning(), "70 C")
    assert [row.kind for row in days.rows()[1:]] == [NoticeKind.ANSWER]


def test_which_bales_were_measured_is_asked_where_there_are_several() -> None:
    """With their names, as they can be replied."""
    days = Answered(garden(soaked_first(), soaked_first("Row B")))
    mail = days.morning()
    days.reply(mail, "54")
    assert '"54 Row B"' in " ".join(text_of(days.mails()[-1]).split())
    days.reply(mail, "54 row b")
    assert [(row.kind, row.batch) for row in days.words()] == [(EntryKind.TEMPERATURE, "Row B")]


def test_part_of_the_work_is_answered_by_its_name() -> None:
    """By batch, or by what is done."""
    days = Answered(garden(soaked_first(), soaked_first("Row B")))
    mail = days.morning()
    days.reply(mail, "done\nnot today Row B")
    assert days.said() == [
        (EntryKind.DONE, "row-a-1-soak"),
        (EntryKind.DONE, "row-b-1-soak"),
        (EntryKind.MISSED, "row-b-1-soak"),
    ]


def test_the_next_brief_says_what_an_answer_was_taken_for() -> None:
    """Once, with the way to take it back."""
    days = Answered()
    days.reply(days.morning(), "done")
    said = " ".join(text_of(days.morning(2)).split())
    assert 'You told me on Monday that you soaked Row A. Wrong? Reply "undo".' in said
    assert "You told me" not in text_of(days.morning(3))


def test_a_word_is_taken_back_by_a_word() -> None:
    """The row stays, and counts no more; also in an index that is kept."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, "missed")
    days.reply(mail, "undo")
    assert [kind for kind, _ in days.said()] == [EntryKind.MISSED, EntryKind.UNDONE]
    index = JournalIndex.of(days.store.journal(days.plan.name))
    assert index.word_on(SOAK, START) is None
    days.morning(2)
    told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told[day_of(2)]
    assert SOAK not in told


def test_how_brings_the_steps_to_the_one_who_asked() -> None:
    """And writes nothing into the journal."""
    days = Answered(recipients=(GROWER, NEIGHBOUR))
    days.morning()
    days.reply(days.mails()[0], "how")
    assert days.said() == []
    assert [row.recipient for row in days.rows()[2:]] == [GROWER]
    assert "Soak" in text_of(days.mails()[-1])


def test_a_reminder_comes_later_the_same_day_and_not_after_an_answer() -> None:
    """It waits in the outbox, where an answer lets it go without a complaint."""
    days = Answered()
    mail = days.morning()
    days.reply(mail, "later", at(START, 9))
    assert len(days.store.due(at(START, 11, 59), ("email",))) == 1
    assert len(days.store.due(at(START, 12), ("email",))) == 2
    days.reply(mail, "done", at(START, 10))
    assert len(days.store.due(at(START, 12), ("email",))) == 1
    assert days.store.unsurfaced() == ()


def test_no_reminder_breaks_the_quiet_hours() -> None:
    """Who asks in the evening is told so."""
    days = Answered()
    days.reply(days.morning(), "later", at(START, 19))
    assert "no hour left today" in " ".join(text_of(days.mails()[-1]).split())


def test_a_bounce_is_told_once_by_another_way() -> None:
    """It has to name a message of ours; a delay is nothing to write about."""
    days = Answered()
    days.morning()
    (row,) = days.rows()
    moment = at(START, 9)
    stranger = Bounce("<x@strawbell.invalid>", "failed", "5.1.1", GROWER, "no such user")
    assert "not ours" in days.answering.take(stranger, moment)
    ours = replace(stranger, message_id=row.message_id)
    assert "delayed" in days.answering.take(replace(ours, action="delayed"), moment)
    assert len(days.rows()) == 1
    spare = FolderChannel(Path("unused"))
    ways = {
        "nobody else": (days.answering, 0),
        "the spare folder": (Answering((days.plan,), days.store, (days.mail,), spare), 1),
        "the other one": (Answering((days.plan,), days.store, (both_by_mail(),)), 2),
    }
    for answering, more in ways.values():
        for _ in range(2):
            assert "came back" in answering.take(ours, moment)
        assert len(days.rows()) == 1 + more
    told = [(row.channel, row.recipient) for row in days.rows()[1:]]
    assert told == [("folder", "folder"), ("email", NEIGHBOUR)]


def both_by_mail() -> SmtpChannel:
    return SmtpChannel(
        MailSettings("localhost", 1, "none", "bales@example.org", (GROWER, NEIGHBOUR))
    )


def test_a_button_of_the_desktop_proves_itself_by_its_token_alone() -> None:
    """Whoever can press it sits before the screen."""
    days = Answered()
    desktop = DesktopChannel({})
    pipeline = Pipeline(
        (days.plan,), days.store, (desktop,), lambda _, now: (days.weather(now), ()), sender()
    )
    pipeline.tick(at(START))
    (row,) = days.rows()
    token = json.loads(row.body)["token"]
    answering = Answering((days.plan,), days.store, (desktop,))
    press = Reply("desktop 1 done", None, f"[{token}]", ("done",), at(START, 9))
    assert answering.take(press, at(START, 9)) == ""
    assert days.said() == [(EntryKind.DONE, SOAK)]


def test_a_harvest_is_taken_in_the_plural() -> None:
    """Once the crop stands in the bales."""
    days = Answered(garden(soaked_first(plantings=(planting(),))))
    mail = days.morning()
    days.store.write([done("row-a-plant-tomato", at(START), START)])
    days.reply(mail, "2 kg tomatoes")
    assert [(row.kind, row.value, row.text) for row in days.words()[1:]] == [
        (EntryKind.HARVEST, 2.0, "tomato")
    ]


def test_a_time_away_is_answered_and_ended() -> None:
    """What is told meanwhile waits; who is back early says so."""
    days, mail = fed_morning()
    days.reply(mail, "away 9 Apr to 20 Apr", at(day_of(4), 9))
    index = JournalIndex.of(days.store.journal(days.plan.name))
    assert index.away_on(day_of(5)) == day_of(16)
    assert index.away_on(day_of(4)) is None
    away = days.morning(5)
    said = " ".join(text_of(away).split())
    assert "You're away until" in said
    assert "No reply means not yet." in said
    told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told
    feed = next(key for key in told[day_of(5)] if key.action is Action.FEED)
    days.morning(6)
    again = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told[day_of(6)]
    assert feed in again
    assert "Done already? Say so" in " ".join(text_of(days.mails()[-1]).split())
    days.reply(away, "back", at(day_of(6), 9))
    assert JournalIndex.of(days.store.journal(days.plan.name)).away_on(day_of(6)) is None


def test_the_mail_before_a_time_away_says_what_cannot_wait() -> None:
    """And what waits."""
    days = Answered()
    stretch = (day_of(4), day_of(9))
    days.plan = replace(days.plan, times=replace(days.plan.times, away=(stretch,)))
    days.pipeline = Pipeline(
        (days.plan,), days.store, (days.mail,), lambda _, now: (days.weather(now), ()), sender()
    )
    for day in (1, 2):
        assert "You are away" not in text_of(days.morning(day))
    said = " ".join(text_of(days.morning(3)).split())
    assert "You're away from tomorrow to Tue 13 Apr." in said
    assert "This waits for you: feed Row A" in said


def test_work_that_became_due_after_noon_is_not_taken_for_done() -> None:
    """The next morning has it again, and says why; an answer that it was done moves on."""
    for answer, is_again in (("", True), ("done", False)):
        days = Answered()
        for day in (1, 2, 3):
            days.morning(day)
        frost = hour_at(at(day_of(5), 5, 0), temperature_c=-6.0)
        days.weather = lambda now, frost=frost: forecast(now, frost)
        days.morning(4)
        days.weather = forecast
        days.pipeline.tick(at(day_of(4), 14, 0))
        change = days.mails()[-1]
        assert "No reply means not yet." in text_of(change)
        if answer:
            days.reply(change, answer, at(day_of(4), 17))
        days.morning(5)
        told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told
        held = {key for key in told[day_of(4)] if key.action is Action.FEED}
        assert bool(held & set(told[day_of(5)])) is is_again
        said = " ".join(text_of(days.mails()[-1]).split())
        assert ("Done already? Say so" in said) is is_again


def test_a_question_that_nobody_answers_is_answered_by_the_next_day() -> None:
    """What was never told was not done: it is due again, and nothing stalls."""
    days = Answered()
    for day in (1, 2, 3):
        days.morning(day)
    asked = days.morning(6)
    assert "No reply by tomorrow means missed" in text_of(asked)
    told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told[day_of(6)]
    assert State.HELD in told.values()
    days.morning(7)
    told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told[day_of(7)]
    assert {key.action: state for key, state in told.items()}[Action.FEED] is State.DUE


def test_a_question_is_answered_by_a_word() -> None:
    """Done moves on from the feeding that could not be told."""
    days = Answered()
    for day in (1, 2, 3):
        days.morning(day)
    days.press(days.morning(6), "Done", at(day_of(6), 9))
    assert all(kind is EntryKind.DONE for kind, _ in days.said())
    days.morning(7)
    assert "Please answer" not in text_of(days.mails()[-1])


def test_a_token_counts_after_its_garden_was_renamed() -> None:
    """The mail of before is answered as if nothing had happened."""
    days = Answered()
    mail = days.morning()
    place = days.plan.place
    for name in (days.plan.name, "Elm Lane"):
        known = KnownGarden(days.plan.name, name, None, place.latitude, place.longitude)
        days.store.write([known_entry(known, at(START, 8))])
    renamed = replace(days.plan, name="Elm Lane")
    days.answering = Answering((renamed,), days.store, (days.mail,))
    days.reply(mail, "note: slugs")
    assert [row.kind for row in days.store.journal("Elm Lane") if row.text] == [EntryKind.NOTE]


def test_each_fact_has_one_effect_in_whatever_order_replies_come_again() -> None:
    """A mail that is sent on twice under other identities; what was taken back may be said anew."""
    days = Answered()
    mail = days.morning()
    for typed in ("rain 12", "done", "54", "rain 12", "54", "done"):
        days.reply(mail, typed)
    expected = [EntryKind.RAIN, EntryKind.DONE, EntryKind.TEMPERATURE]
    assert [kind for kind, _ in days.said()] == expected
    for typed in ("undo rain", "undo rain", "rain 12"):
        days.reply(mail, typed)
    expected += [EntryKind.UNDONE, EntryKind.RAIN]
    assert [kind for kind, _ in days.said()] == expected


def unjudged_feeding() -> tuple[Answered, object]:
    """Return a season in which a feeding was told on a morning without any forecast."""
    days = Answered()
    for day in (1, 2, 3):
        days.morning(day)
    days.weather = lambda _: None
    return days, days.morning(4)


def test_in_silence_a_feeding_without_a_forecast_is_asked_about() -> None:
    """And counts as missed when that is not answered either: it is due on the third morning."""
    days, mail = unjudged_feeding()
    assert "No reply? I'll ask tomorrow." in text_of(mail)
    days.weather = forecast
    days.morning(5)
    asked = next(each for each in days.mails() if "Did you" in str(each["Subject"]))
    assert str(asked["Subject"]).startswith("Did you feed Row A yesterday?")
    assert "No reply by tomorrow means missed" in text_of(asked)
    told = days.morning(6)
    assert str(told["Subject"]).startswith("Feed ")
    assert "It was due before." in " ".join(text_of(told).split())


@pytest.mark.parametrize(("typed", "again"), [("done", False), ("missed", True)])
def test_an_answer_to_a_feeding_without_a_forecast_is_not_asked_for_again(
    typed: str, again: bool
) -> None:
    """Neither the answer to the mail itself nor that to the question."""
    for late in (0, 1):
        days, mail = unjudged_feeding()
        days.weather = forecast
        if late:
            mail = days.morning(5)
        days.reply(mail, typed, at(day_of(4 + late), 9))
        days.morning(5 + late)
        told = JournalIndex.of(days.store.journal(days.plan.name)).batch("Row A").told
        assert (told[day_of(5 + late)].get(feed_key(days)) is State.DUE) is again


def test_water_is_given_without_a_forecast_and_not_asked_about() -> None:
    """Rain only adds to it."""
    days = Answered()
    days.morning(1)
    days.weather = lambda _: None
    told = text_of(days.morning(2))
    assert "No soaking today." in told
    assert "Nothing to answer." in told
    assert "Steps and care" not in told
    assert "Did you" not in text_of(days.morning(3))
