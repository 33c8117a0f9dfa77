"""What telling a brief writes down, and what counts as a change since it was told."""

from __future__ import annotations

from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from strawbell.decision.telling import (
    Changes,
    change_entries,
    changes_since,
    told_entries,
    weather_entries,
)
from strawbell.model.brief import Action, Alert, AlertCode, AlertKey, Reason, ReasonCode, State
from strawbell.model.forecast import ForecastStatus, Readings
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.season.journal_index import ALERT_PASSED, ALERT_TOLD, JournalIndex
from support.briefs import (
    MISSING_USE,
    TODAY,
    brief,
    feeding,
    fresh_use,
    held_feeding,
    hot_brief,
    local,
    protecting,
    watering,
)
from support.gardens import forecast

AT = local(9, 6, 30)
LATER = local(9, 14, 0)


ZURICH = ZoneInfo("Europe/Zurich")


def alert(code: AlertCode = AlertCode.FROST, batch: str | None = "Row C") -> Alert:
    """Return an alert."""
    return Alert(code, batch, None, None, ())


def told(*tasks, alerts=()) -> JournalIndex:
    """Return the index after a morning that told these."""
    return JournalIndex.of(told_entries(brief(*tasks, alerts=alerts), AT, {}))


class TestToldEntries:
    """The rows of a morning."""

    def test_the_whole_brief_then_tasks_then_alerts(self) -> None:
        """With the brief as it is kept for later questions."""
        kept = {"version": 1}
        rows = told_entries(brief(feeding(), watering(), alerts=(alert(),)), AT, kept)
        assert [row.kind for row in rows] == [
            EntryKind.BRIEF,
            EntryKind.TOLD,
            EntryKind.TOLD,
            EntryKind.ALERT,
        ]
        assert rows[0].data == kept
        assert {(row.at, row.garden, row.local_date) for row in rows} == {
            (AT.astimezone(UTC), "Orchard corner", TODAY)
        }
        assert rows[0].at.tzinfo is UTC

    @pytest.mark.parametrize(
        ("state", "written"),
        [(State.DUE, True), (State.HELD, True), (State.DONE, False), (State.MISSED, False)],
    )
    def test_only_what_is_asked_for_is_written_as_told(self, state: State, written: bool) -> None:
        """What is done or missed is the grower's own word already."""
        rows = told_entries(brief(feeding(state=state)), AT, {})
        assert [row.state for row in rows[1:]] == [state.value] * written

    @pytest.mark.parametrize(
        ("code", "name"),
        [
            (ReasonCode.HEAVY_RAIN, "rain_chance"),
            (ReasonCode.RAIN_POSSIBLE, "rain_chance"),
            (ReasonCode.UNDER_TARP, "rain_chance"),
            (ReasonCode.FREEZE, "freeze_chance"),
            (ReasonCode.WARM_HOURS, "freeze_chance"),
        ],
    )
    def test_a_chance_is_kept_with_the_work_it_was_told_with(
        self, code: ReasonCode, name: str
    ) -> None:
        """So that it can be held against what came; an unknown one is not kept."""
        why = Reason(code, 1.0, 0.0, "degC", chance=0.61234)
        row = told_entries(brief(feeding(reasons=(why,))), AT, {})[1]
        assert row.data[name] == 0.612
        unknown = feeding(reasons=(replace(why, chance=None),))
        assert name not in told_entries(brief(unknown), AT, {})[1].data

    def test_a_feeding_keeps_its_amounts(self) -> None:
        """What was told is what counts as given."""
        row = told_entries(brief(feeding()), AT, {})[1]
        assert (row.batch, row.task, row.state) == ("Row A", "row-a-5-feed", "due")
        assert row.data == {
            "action": "feed",
            "day": 5,
            "feed": "Blood meal",
            "per_bale_g": 500.0,
            "total_g": 3000.0,
            "nitrogen_per_bale_g": 60.0,
        }

    def test_a_hold_keeps_until_when_and_why(self) -> None:
        """For the question why, much later."""
        row = told_entries(brief(held_feeding()), AT, {})[1]
        assert row.data["held_until"] == "2027-04-10"
        assert row.data["reasons"] == [ReasonCode.FREEZE]

    def test_water_keeps_its_litres(self) -> None:
        """For a bale."""
        assert told_entries(brief(watering()), AT, {})[1].data == {
            "action": "water",
            "day": 6,
            "water_per_bale_l": 4.0,
        }

    def test_water_on_the_top_keeps_how_often(self) -> None:
        """Twice a day is twice the water."""
        (task,) = hot_brief().tasks
        often = {
            times: told_entries(brief(replace(task, times_a_day=times)), AT, {})[1].data
            for times in (1, 2, 3)
        }
        assert often[2]["times_a_day"] == 2
        assert often[3]["times_a_day"] == 3
        assert often[1] != often[2]

    def test_a_cover_keeps_its_crops(self) -> None:
        """They are uncovered by name the next morning."""
        task = protecting("tomato, cherry", "basil")
        assert told_entries(brief(task), AT, {})[1].data["crops"] == ["tomato, cherry", "basil"]

    def test_an_alert_is_written_with_its_key(self) -> None:
        """Told once a date."""
        rows = told_entries(brief(alerts=(alert(), alert(AlertCode.FREEZE, None))), AT, {})
        assert [(row.task, row.state, row.batch) for row in rows[1:]] == [
            ("alert-frost-row-c", ALERT_TOLD, "Row C"),
            ("alert-freeze", ALERT_TOLD, None),
        ]


class TestChangesSince:
    """What is worth a message in the middle of the day."""

    def test_nothing_has_changed(self) -> None:
        """And an empty change is false."""
        found = changes_since(brief(feeding()), told(feeding()))
        assert found == Changes()
        assert not found

    def test_due_that_became_held_is_a_change(self) -> None:
        """The bag is still closed, one hopes."""
        found = changes_since(brief(held_feeding()), told(feeding()))
        assert [task.state for task in found.tasks] == [State.HELD]
        assert found

    def test_held_that_became_due_is_a_change(self) -> None:
        """The hold is taken back."""
        found = changes_since(brief(feeding()), told(held_feeding()))
        assert [task.state for task in found.tasks] == [State.DUE]

    @pytest.mark.parametrize("status", [ForecastStatus.MISSING, ForecastStatus.STALE])
    def test_without_a_fresh_forecast_no_hold_is_taken_back(self, status: ForecastStatus) -> None:
        """Silence is not good weather."""
        now = brief(feeding(), forecast=fresh_use(status=status))
        assert not changes_since(now, told(held_feeding()))

    def test_without_a_forecast_a_hold_that_came_up_is_still_told(self) -> None:
        """It rests on something else, such as a reading."""
        now = brief(held_feeding(), forecast=MISSING_USE)
        assert changes_since(now, told(feeding())).tasks

    def test_what_was_not_told_today_is_no_change(self) -> None:
        """Tomorrow's brief has it."""
        assert not changes_since(brief(held_feeding()), told(watering()))

    @pytest.mark.parametrize("state", [State.DONE, State.MISSED])
    def test_what_the_grower_answered_is_left_alone(self, state: State) -> None:
        """Done is done."""
        assert not changes_since(brief(feeding(state=state)), told(held_feeding()))

    @pytest.mark.parametrize(
        ("code", "urgent"),
        [
            (AlertCode.FROST, True),
            (AlertCode.HEAVY_RAIN, True),
            (AlertCode.SELF_HEATING, True),
            (AlertCode.FREEZE, False),
            (AlertCode.HOT_DRY, False),
            (AlertCode.HEAT_PERSON, False),
            (AlertCode.NO_FORECAST, False),
            (AlertCode.STALE_FORECAST, False),
        ],
    )
    def test_only_what_cannot_wait_until_tomorrow_is_told(
        self, code: AlertCode, urgent: bool
    ) -> None:
        """Plants, feed and fire."""
        found = changes_since(brief(alerts=(alert(code),)), told(feeding()))
        assert bool(found.alerts) is urgent

    def test_an_alert_is_told_once(self) -> None:
        """Not every hour."""
        assert not changes_since(brief(alerts=(alert(),)), told(feeding(), alerts=(alert(),)))

    def test_the_same_alert_of_another_batch_is_new(self) -> None:
        """It has a key of its own."""
        now = brief(alerts=(alert(), alert(batch="Row D")))
        found = changes_since(now, told(alerts=(alert(),)))
        assert [each.batch for each in found.alerts] == ["Row D"]

    def test_an_alert_that_no_longer_stands_has_passed(self) -> None:
        """Told with its key."""
        found = changes_since(brief(), told(alerts=(alert(),)))
        assert found.passed == (AlertKey(AlertCode.FROST, "row-c"),)
        assert found

    def test_one_that_passed_is_not_taken_back_again(self) -> None:
        """It was said already."""
        passed = JournalEntry(
            AT, "Orchard corner", TODAY, EntryKind.ALERT, task="alert-frost-row-c",
            state=ALERT_PASSED,
        )  # fmt: skip
        index = JournalIndex.of((*told_entries(brief(alerts=(alert(),)), AT, {}), passed))
        assert not changes_since(brief(), index)

    def test_one_that_passed_and_comes_up_again_is_told_again(self) -> None:
        """The forecast turned twice."""
        passed = JournalEntry(
            AT, "Orchard corner", TODAY, EntryKind.ALERT, task="alert-frost-row-c",
            state=ALERT_PASSED,
        )  # fmt: skip
        index = JournalIndex.of((*told_entries(brief(alerts=(alert(),)), AT, {}), passed))
        assert changes_since(brief(alerts=(alert(),)), index).alerts == (alert(),)

    def test_without_a_forecast_no_alert_has_passed(self) -> None:
        """Nobody knows."""
        now = brief(forecast=MISSING_USE)
        assert not changes_since(now, told(alerts=(alert(),)))

    def test_a_warning_that_may_wait_does_not_pass_either(self) -> None:
        """Heat on the person was told in the morning; evening brings no all-clear."""
        hot = alert(AlertCode.HOT_DRY)
        assert not changes_since(brief(), told(alerts=(hot,)))

    def test_one_alert_is_not_taken_for_another_with_a_longer_name(self) -> None:
        """The frost of the whole garden passes; that of a batch stands for itself."""
        whole = alert(batch=None)
        found = changes_since(brief(alerts=(alert(),)), told(alerts=(whole,)))
        assert found.passed == (AlertKey(AlertCode.FROST),)
        assert found.alerts == (alert(),)


@pytest.mark.parametrize(
    ("code", "hour", "night"),
    [
        (AlertCode.FROST, 22, 0),
        (AlertCode.FROST, 29, 0),
        (AlertCode.FROST, 35, 0),
        (AlertCode.FROST, 36, 1),
        (AlertCode.FROST, 53, 1),
        (AlertCode.FROST, None, None),
        (AlertCode.FREEZE, 29, None),
    ],
)
def test_a_frost_is_kept_with_the_evening_of_its_night(
    code: AlertCode, hour: int | None, night: int | None
) -> None:
    """So that a warning of tomorrow's night is not counted as a cover of this one's."""
    midnight = AT.replace(hour=0, minute=0)
    begins = None if hour is None else midnight + timedelta(hours=hour)
    warning = replace(alert(code), starts_at=begins)
    (row,) = (
        each
        for each in told_entries(brief(alerts=(warning,)), AT, {})
        if each.kind is EntryKind.ALERT
    )
    kept = {} if night is None else {"night": str(midnight.date() + timedelta(days=night))}
    assert row.data == kept


def test_a_change_is_written_down_so_that_it_is_told_once() -> None:
    """After its rows nothing has changed any more."""
    morning = brief(feeding(), alerts=(alert(),))
    now = brief(held_feeding(), alerts=(alert(batch="Row D"),), as_of=LATER)
    rows = told_entries(morning, AT, {})
    changes = changes_since(now, JournalIndex.of(rows))
    written = change_entries(now, changes, LATER)

    assert [(row.kind, row.task, row.state) for row in written] == [
        (EntryKind.TAKEN_BACK, "row-a-5-feed", "held"),
        (EntryKind.ALERT, "alert-frost-row-d", ALERT_TOLD),
        (EntryKind.ALERT, "alert-frost-row-c", ALERT_PASSED),
    ]
    assert {row.at for row in written} == {LATER.astimezone(UTC)}
    assert {row.local_date for row in written} == {TODAY}
    assert not changes_since(now, JournalIndex.of((*rows, *written)))
    assert written[0].data["action"] == Action.FEED


class TestWeatherEntries:
    """What the days were like: as expected in the morning, put right once it is known."""

    def test_today_is_kept_as_it_is_expected(self) -> None:
        """Without a service that knows yesterday, nothing is said of yesterday."""
        expected = brief(feeding())
        (row,) = weather_entries(expected, ZURICH, None, AT)
        assert (row.kind, row.local_date) == (EntryKind.WEATHER, TODAY)
        assert JournalIndex.of((row,)).weather == {TODAY: expected.weather}

    def test_yesterday_is_put_right_by_a_service_that_knows_all_of_it(self) -> None:
        """What was expected is replaced by what came; one unknown hour leaves it as it was."""
        yesterday = TODAY - timedelta(days=1)
        since = local(8, 0)
        came = forecast(since, rain_mm=0.5, temperature_c=3.0)
        rows = weather_entries(brief(feeding()), ZURICH, came, AT)
        kept = JournalIndex.of(rows).weather[yesterday]
        assert (kept.low_c, kept.high_c, kept.rain_mm, kept.complete) == (3.0, 3.0, 12.0, True)
        gap = replace(came, hours=came.hours[:5] + came.hours[6:])
        assert (
            yesterday
            not in JournalIndex.of(weather_entries(brief(feeding()), ZURICH, gap, AT)).weather
        )

    @pytest.mark.parametrize(
        ("cloud_percent", "wind_m_s", "clear"),
        [(10.0, 1.0, True), (90.0, 1.0, False), (None, 1.0, None)],
    )
    def test_readings_stand_beside_what_was_said_and_the_kind_of_night(
        self, cloud_percent: float | None, wind_m_s: float, clear: bool | None
    ) -> None:
        """So that a hollow is learned by clear nights and by others."""
        yesterday = TODAY - timedelta(days=1)
        came = forecast(local(8, 0), rain_mm=0.5, temperature_c=3.0)
        seen = tuple(
            replace(hour, cloud_percent=cloud_percent, wind_m_s=wind_m_s) for hour in came.hours
        )
        rows = weather_entries(brief(feeding()), ZURICH, replace(came, hours=seen), AT)
        read = tuple(
            JournalEntry(AT, "Orchard corner", yesterday, kind, value=value)
            for kind, value in ((EntryKind.LOW, -1.0), (EntryKind.RAIN, 9.0))
        )
        index = JournalIndex.of((*rows, *read))
        assert index.readings() == Readings(((3.0, -1.0, clear),), ((12.0, 9.0),))
        assert index.weather[yesterday].rain_mm == 9.0

    def test_readings_stand_beside_what_was_said_and_not_beside_what_came(self) -> None:
        """What the service knows of yesterday is right where it was wrong, and teaches nothing."""
        rows = tuple(
            JournalEntry(
                AT, "Orchard corner", TODAY, EntryKind.WEATHER,
                data={"low_c": low_c, "high_c": 9.0, "rain_mm": rain_mm, "complete": True},
            )
            for low_c, rain_mm in ((3.0, 12.0), (-1.0, 0.0))
        )  # fmt: skip
        read = JournalEntry(AT, "Orchard corner", TODAY, EntryKind.LOW, value=-1.0)
        index = JournalIndex.of((*rows, read))
        assert index.readings().lows == ((3.0, -1.0, None),)
        assert index.weather[TODAY].low_c == -1.0

    def test_an_old_forecast_puts_nothing_right(self) -> None:
        """It may have been made before yesterday was over."""
        old = brief(feeding(), forecast=replace(fresh_use(), status=ForecastStatus.STALE))
        rows = weather_entries(old, ZURICH, forecast(local(8, 0)), AT)
        assert [row.local_date for row in rows] == [TODAY]


class TestWhatAChangeCovers:
    """The evening does not say again what the same look has told as a change."""

    def test_the_alert_itself(self) -> None:
        """Of the same batch; another row is another matter."""
        changes = Changes(alerts=(alert(batch="Row A"),))
        assert changes.cover(alert(batch="Row A"))
        assert not changes.cover(alert(batch="Row B"))

    def test_work_that_is_held_for_the_same_reason(self) -> None:
        """A feeding held for the freeze has said that the hose is to be drained."""
        held = held_feeding()
        freeze = replace(alert(AlertCode.FREEZE, None), reasons=held.reasons)
        other = replace(freeze, reasons=(Reason(ReasonCode.FROST),))
        assert Changes(tasks=(held,)).cover(freeze)
        assert not Changes(tasks=(held,)).cover(other)
        assert not Changes().cover(freeze)
