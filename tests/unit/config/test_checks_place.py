"""Coordinates and time zones that cannot belong together."""

from __future__ import annotations

import pytest

from support.config_trial import Trial, edited


def _place(latitude: float, longitude: float, zone: str) -> Trial:
    return edited(
        ("latitude = 47.05\nlongitude = 8.31", f"latitude = {latitude}\nlongitude = {longitude}"),
        ('time_zone = "Europe/Zurich"', f'time_zone = "{zone}"'),
    )


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (47.61, -122.33, "America/Los_Angeles"),
        (-37.81, 144.96, "Australia/Melbourne"),
        (64.15, -21.94, "Atlantic/Reykjavik"),
        (1.87, -157.36, "Pacific/Kiritimati"),  # 14 h ahead of Greenwich, 10 h behind its sun
        (43.83, 87.62, "Asia/Shanghai"),  # Urumqi on Beijing time, 2.2 h from its sun
        (28.61, 77.21, "Asia/Kolkata"),
        (40.42, -3.70, "Europe/Madrid"),
        (25.76, -80.19, "America/New_York"),
        (51.5, 0.0, "UTC"),
        (-45.0, 170.5, "Pacific/Auckland"),
    ],
)
def test_real_places_are_not_doubted(latitude: float, longitude: float, zone: str) -> None:
    """Wide zones and odd offsets exist."""
    assert _place(latitude, longitude, zone).fine


def test_zero_zero_is_doubted() -> None:
    """It is where unset coordinates point."""
    assert "in the sea off Africa" in _place(0, 0, "Europe/Zurich").warning.what


@pytest.mark.parametrize(
    ("longitude", "doubted"), [(59.9, False), (60.0, False), (60.1, True), (-150, True)]
)
def test_a_longitude_over_three_hours_from_the_clock_is_doubted(
    longitude: float, doubted: bool
) -> None:
    """Zurich's clock is 1 h ahead in winter: 15 degrees east, and 45 degrees are 3 h."""
    # The summer clock, 2 h ahead at 30 degrees, may be the nearer one: 75 degrees.
    trial = _place(47.05, longitude + 15 if longitude > 0 else longitude, "Europe/Zurich")

    assert bool(trial.warnings) is doubted
    assert not trial.errors


def test_a_missing_minus_sign_is_found() -> None:
    """Seattle written to the east lies in Manchuria."""
    assert "degrees east; west of Greenwich is negative" in (
        _place(47.61, 122.33, "America/Los_Angeles").warning.allowed
    )


@pytest.mark.parametrize(
    ("zone", "meant"),
    [
        ("europe/zurich", "Europe/Zurich"),
        ("Zurich", "Europe/Zurich"),
        ("Europe/Zürich", "Europe/Zurich"),
        ("CET", "Europe/Zurich"),  # by the coordinates
        ("MEZ", "Europe/Zurich"),
        ("GMT+1", "Europe/Zurich"),
        ("Mars/Olympus", "Europe/Zurich"),
    ],
)
def test_an_unknown_zone_is_refused_with_the_likely_one(zone: str, meant: str) -> None:
    """By spelling, by city, else by the coordinates."""
    assert edited(('"Europe/Zurich"', f'"{zone}"')).error.remedy == f'Did you mean "{meant}"?'


@pytest.mark.parametrize("zone", ["../../etc/passwd", "/etc/localtime", "Europe", "a\\u0000b"])
def test_a_zone_that_is_a_path_is_refused(zone: str) -> None:
    """The name is looked up, never opened as the grower's file."""
    assert edited(('"Europe/Zurich"', f'"{zone}"')).error.where.endswith("time_zone")


def test_a_suggestion_is_not_made_from_wrong_coordinates() -> None:
    """With a latitude of 91 nobody knows where the garden lies."""
    errors = edited(('"Europe/Zurich"', '"CET"'), ("latitude = 47.05", "latitude = 91")).errors

    assert [each.remedy for each in errors if "time_zone" in each.where] == [""]
