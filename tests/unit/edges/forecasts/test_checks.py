"""What is believed of an answer."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from msgspec.structs import replace

from strawbell.edges.forecasts.checks import (
    RANGES,
    UNITS,
    Grid,
    Service,
    at_height,
    check_issue,
    check_place,
    column,
    coordinate,
    forecast_of,
    grid_around,
    identity,
    moment,
    moments,
    number,
    read_json,
)
from strawbell.errors import OperationalError
from strawbell.model.forecast import Forecast, Hour
from strawbell.model.garden import Place

SERVICE = Service("met-norway", "https://example.org/")
PLACE = Place(47.05, 8.31, "Europe/Zurich")
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"  \n",
        b"<!DOCTYPE html><html>502</html>",
        b"\xef\xbb\xbf <html>",
        b'{"hourly": [1, 2',
        b'{"a": "\xff\xfe"}',
        b"[" * 100_000,
        b'{"a":' * 50_000,
        b"1" * 5000,
        b"[0," * 130_000,
        b"not json",
        b'{"a": 1} Unexpected error while streaming data: timeout',
        "{}".encode("utf-16"),
    ],
    ids=lambda body: repr(body[:16]),
)
def test_a_body_that_is_no_json_is_refused_in_one_sentence_naming_the_service(body: bytes) -> None:
    with pytest.raises(OperationalError, match=r"^The fake service sent [^\n]+\.$"):
        read_json("The fake service", body)


@pytest.mark.parametrize(
    ("most", "over"),
    [
        (b"[" + b"1," * 60_000 + b"1]", b"[" + b"1," * 60_001 + b"1]"),
        (b"[" + b"[]," * 24_998 + b"[]]", b"[" + b"[]," * 24_999 + b"[]]"),
        (b'"' + b"x" * 2_097_150 + b'"', b'"' + b"x" * 2_097_151 + b'"'),
        (b'"' + b"x" * 524_280 + b'\\u00e4"', b'"' + b"x" * 524_281 + b'\\u00e4"'),
        (
            b'"' + b"x" * 524_282 + b'\xf0\x9f\x98\x80"',
            b'"' + b"x" * 524_283 + b'\xf0\x9f\x98\x80"',
        ),
        (b'"' + b"x" * 1_048_572 + b'\xc5\x81"', b'"' + b"x" * 1_048_573 + b'\xc5\x81"'),
    ],
    ids=["values", "containers", "text", "escaped", "wide", "double"],
)
def test_a_json_text_is_read_up_to_its_limits_and_not_beyond(most: bytes, over: bytes) -> None:
    assert read_json("x", most)
    with pytest.raises(OperationalError, match="far too much"):
        read_json("x", over)


def test_a_byte_order_mark_before_good_json_does_no_harm() -> None:
    assert read_json("x", b'\xef\xbb\xbf{"a": 1}') == {"a": 1}


@pytest.mark.parametrize(
    "value",
    [
        None,
        True,
        False,
        "3",
        [],
        {},
        float("nan"),
        float("inf"),
        -float("inf"),
        10**4000,
        -(10**400),
        1.1e10,
    ],
    ids=lambda value: repr(value)[:12],
)
def test_what_is_no_finite_number_is_unknown(value: object) -> None:
    assert number(value) is None


@pytest.mark.parametrize("value", [0, -3, 2.5, 1e10])
def test_a_finite_number_is_taken(value: float) -> None:
    assert number(value) == value


@pytest.mark.parametrize(
    ("field", "value", "believed"),
    [
        ("temperature_c", -90.1, None),
        ("temperature_c", -90.0, -90.0),
        ("temperature_c", 60.0, 60.0),
        ("temperature_c", 60.1, None),
        ("temperature_c", 999.0, None),
        ("rain_mm", -0.1, None),
        ("rain_mm", -5.0, None),
        ("rain_mm", 0.0, 0.0),
        ("rain_mm", 500.0, 500.0),
        ("rain_mm", 500.1, None),
        ("relative_humidity_percent", 100.0, 100.0),
        ("relative_humidity_percent", 105.0, 100.0),
        ("relative_humidity_percent", 105.1, None),
        ("relative_humidity_percent", -1.0, None),
        ("wind_m_s", 120.0, 120.0),
        ("wind_m_s", 120.1, None),
        ("radiation_w_m2", -0.2, 0.0),
        ("radiation_w_m2", -5.1, None),
        ("radiation_w_m2", 1500.1, None),
        ("rain_chance_percent", 100.1, None),
        ("cloud_percent", -0.1, None),
        ("rain_mm", None, None),
    ],
)
def test_a_value_that_cannot_be_is_unknown(
    field: str, value: float | None, believed: float | None
) -> None:
    assert column([value, None], field, identity) == [believed, None]


def test_values_in_another_unit_are_converted_before_they_are_believed() -> None:
    raw = [50, 41.0, "50", True, None, 10**400, 140.1, 139.9]
    found = column(raw, "temperature_c", UNITS["temperature_c"]["°F"])
    assert found[:7] == [10.0, 5.0, None, None, None, None, None]
    assert found[7] == pytest.approx(59.94, abs=0.01)
    assert not any(isinstance(each, int) for each in column([50, 1], "cloud_percent", identity))


def test_minus_zero_is_zero() -> None:
    assert str(column([-0.0], "rain_mm", identity)) == "[0.0]"
    assert str(column([-0.0, -0.2], "radiation_w_m2", identity)) == "[0.0, 0.0]"


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("2027-04-09T04:30:00Z", NOW),
        ("2027-04-09T04:30", NOW),
        ("2027-04-09T00:30:00-04:00", NOW),
        ("1999-12-31T23:00Z", None),
        ("2100-01-01T00:00Z", None),
        ("0001-01-01T00:00+14:00", None),
        ("9999-12-31T23:59-14:00", None),
        ("yesterday", None),
        ("2027-13-40T99:00", None),
        ("2" * 5000, None),
        (20270409, None),
        (None, None),
    ],
)
def test_a_time_is_read_as_utc_or_is_unknown(text: object, read: datetime | None) -> None:
    assert moment(text) == read
    assert list(moments([text], timedelta())) == [read]
    assert list(moments([text, "2027-04-09T04:30"], timedelta())) == [read, NOW]


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        (8.31, 47.05),  # swapped
        (-47.05, 8.31),
        (47.05, -8.31),
        (47.56, 8.31),
        (47.05, 7.80),
        (None, 8.31),
        ("47.05", "8.31"),
        (float("nan"), 8.31),
    ],
)
def test_an_answer_for_another_place_is_refused(latitude: object, longitude: object) -> None:
    with pytest.raises(OperationalError, match=r"MET Norway .*place"):
        check_place(SERVICE, PLACE, latitude, longitude)


@pytest.mark.parametrize(("latitude", "longitude"), [(47.36, 8.31), (47.05, 8.77)])
def test_the_middle_of_a_wide_cell_nearby_is_still_the_place(
    latitude: float, longitude: float
) -> None:
    """34.5 and 34.9 km away; a hundredth of a degree more is another place."""
    check_place(SERVICE, PLACE, latitude, longitude)
    away = (latitude - PLACE.latitude) * 1.02, (longitude - PLACE.longitude) * 1.02
    with pytest.raises(OperationalError, match="another place"):
        check_place(SERVICE, PLACE, PLACE.latitude + away[0], PLACE.longitude + away[1])


@pytest.mark.parametrize(
    ("answered_m", "air_c", "dew_c"),
    [(141.0, 10.0, 5.0), (140.0, 8.05, 3.05), (740.0, 11.95, 6.95), (None, 10.0, 5.0)],
)
def test_a_forecast_made_300_m_off_is_moved_to_the_height_of_the_garden_and_says_so(
    answered_m: float | None, air_c: float, dew_c: float
) -> None:
    """6.5 degC a kilometre; the garden lies at 440 m."""
    hour = Hour(NOW, temperature_c=10.0, dew_point_c=5.0, rain_mm=1.0)
    made = Forecast("fake", NOW, NOW, (hour, Hour(NOW + HOUR)), "By the fake service")
    found = at_height(made, replace(PLACE, elevation_m=440.0), answered_m)
    assert found.hours[0].temperature_c == pytest.approx(air_c)
    assert found.hours[0].dew_point_c == pytest.approx(dew_c)
    assert found.hours[0].rain_mm == 1.0
    assert found.hours[1].temperature_c is None
    assert ("moved" in found.attribution) is (air_c != 10.0)


def test_a_garden_of_unknown_height_keeps_the_forecast_as_it_is() -> None:
    made = Forecast("fake", NOW, NOW, (Hour(NOW, temperature_c=10.0),), "")
    assert at_height(made, PLACE, 2000.0) is made


def test_the_date_line_does_not_part_a_place_from_itself() -> None:
    check_place(SERVICE, Place(52.0, 179.9, "Asia/Kamchatka"), 52.0, -179.9)


def test_a_forecast_issued_more_than_a_day_before_it_was_fetched_is_refused() -> None:
    check_issue(SERVICE, NOW - 24 * HOUR, NOW)
    with pytest.raises(OperationalError, match="hours old"):
        check_issue(SERVICE, NOW - 24 * HOUR - HOUR / 60, NOW)


def warm(first: datetime, count: int) -> Grid:
    times = [first + number * HOUR for number in range(count)]
    grid = grid_around(NOW, times)
    grid.put("temperature_c", grid.places(times), [5.0] * count)
    return grid


def test_eleven_known_hours_ahead_are_too_few_and_twelve_are_enough() -> None:
    start = datetime(2027, 4, 9, 5, tzinfo=UTC)
    assert len(forecast_of(SERVICE, warm(start, 12), NOW, NOW).hours) == 12
    with pytest.raises(OperationalError, match="knows only 11 of the coming hours"):
        forecast_of(SERVICE, warm(start, 11), NOW, NOW)


def test_hours_of_the_past_do_not_count_as_known() -> None:
    with pytest.raises(OperationalError, match="knows only 0"):
        forecast_of(SERVICE, warm(NOW - 48 * HOUR, 40), NOW, NOW)


def test_hours_far_from_the_fetch_are_left_out() -> None:
    begins_at = NOW - timedelta(days=400)
    hours = forecast_of(SERVICE, warm(begins_at, 800 * 24), NOW, NOW).hours
    assert (hours[0].starts_at, hours[-1].starts_at) == (
        NOW - timedelta(days=3),
        NOW + timedelta(days=17),
    )


def test_hours_come_sorted_and_one_that_begins_within_another_is_left_out() -> None:
    start = NOW.replace(minute=0)
    times = [start + number * HOUR for number in (0, 2, 1, *range(3, 20))]
    grid = grid_around(NOW, times)
    grid.put("temperature_c", grid.places(times), [5.0] * 20)
    grid.put("rain_mm", grid.places([start + HOUR / 2, None, start + HOUR]), [9.0, 9.0, 1.0])
    hours = forecast_of(SERVICE, grid, NOW, NOW).hours
    assert [hour.starts_at for hour in hours] == [start + n * HOUR for n in range(20)]
    assert [hour.rain_mm for hour in hours] == [None, 1.0, *[None] * 18]


@pytest.mark.parametrize("in_a_row", [True, False])
def test_the_first_of_doubles_counts_and_an_unknown_one_does_not_stand_in_its_way(
    *, in_a_row: bool
) -> None:
    grid = Grid(NOW, 3)
    for values in ([None, 1.0, None, 7.0], [3.0], [8.0, 8.0, 8.0]):
        grid.put("rain_mm", range(3) if in_a_row else [0, 1, 2], values)
    assert grid.columns["rain_mm"] == [3.0, 1.0, 8.0]


def test_a_grid_gives_its_columns_to_the_fields_of_an_hour_of_their_name() -> None:
    grid = Grid(NOW, 2)
    known = {field: float(value) for value, field in enumerate(RANGES)}
    for field, value in known.items():
        grid.put(field, range(1, 2), [value])
    assert grid.hours() == (Hour(NOW + HOUR, **known),)


@pytest.mark.parametrize(
    ("degrees", "text"),
    [
        (47.05, "47.05"),
        (8.0, "8"),
        (-74.00604, "-74.01"),
        (12.30456, "12.3"),
        (-0.00499, "0"),
        (0.0, "0"),
        (100.0, "100"),
    ],
)
def test_coordinates_have_at_most_two_decimals_and_no_trailing_zeros(
    degrees: float, text: str
) -> None:
    assert coordinate(degrees) == text


def test_coordinates_must_be_finite() -> None:
    with pytest.raises(ValueError, match="degrees"):
        coordinate(float("nan"))


def test_units_are_converted_exactly() -> None:
    """NIST SP 811 (2008), appendix B: exact factors, printed in bold there."""
    for field, unit, value, ours in (
        ("temperature_c", "°F", 32.0, 0.0),
        ("dew_point_c", "degF", -40.0, -40.0),
        ("wind_m_s", "km/h", 3.6, 1.0),
        ("wind_m_s", "mph", 1.0, 0.44704),
        ("wind_m_s", "kn", 3600.0, 1852.0),
        ("rain_mm", "inch", 1.0, 25.4),
        ("snow_cm", "inch", 1.0, 2.54),
        ("snow_cm", "mm", 25.0, 2.5),
    ):
        assert UNITS[field][unit](value) == pytest.approx(ours, abs=1e-12), unit
