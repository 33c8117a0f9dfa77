"""How values and places are put into words, and passwords are not."""

from __future__ import annotations

from datetime import date, time

import pytest

from strawbell.config.mistakes import Labels, Mistake, is_secret, problem_of, secrets_in, shown
from strawbell.config.validate import Validated


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        (6, "6"),
        (2.5, "2.5"),
        ("a\nb", '"a\\nb"'),
        ("a\u202eb", '"a\\u202eb"'),
        (date(2027, 4, 5), "2027-04-05"),
        (time(6, 30), "06:30:00"),
        (["a", 1], '["a", 1]'),
        ({"a": 1}, "a table"),
        ([{"a": 1}], "a list of tables"),
        (10**900, "a number of very many digits"),
        ("smtp://me:pw@host", '"smtp://...@host"'),
    ],
)
def test_values_are_shown_as_toml(value: object, text: str) -> None:
    """Shortened, on one line, without a login."""
    assert shown(value) == text


def test_long_values_are_cut() -> None:
    """A message is read on a terminal."""
    assert len(shown("x" * 10_000)) < 70


@pytest.mark.parametrize(
    "name",
    ["password", "Password", "pasword", "passwort", "passwd", "smtp_pass", "api_token", "secret"],
)
def test_keys_like_password_are_secret(name: str) -> None:
    """Also mistyped."""
    assert is_secret(name)
    assert shown("rye", name) == "(not shown)"


@pytest.mark.parametrize("name", ["password_file", "name", "path", "port", "sender", "plants"])
def test_other_keys_are_not_secret(name: str) -> None:
    """Their values help to find the mistake."""
    assert not is_secret(name)


def test_secrets_are_found_wherever_they_stand() -> None:
    """In any table, also as numbers and in lists."""
    data = {"email": {"password": "one"}, "x": [{"pass": 22}, {"secret": ["three"]}], "y": "no"}

    assert sorted(secrets_in(data)) == ["22", "one", "three"]


@pytest.mark.parametrize("secret", ["hunter22", 'qu"ote\\s', "x" * 200, "tab\there", "\u202eabc"])
def test_a_known_secret_is_struck_out_of_every_field(secret: str) -> None:
    """In whatever form it got there."""
    mistake = Mistake(f"a {secret}", ("units",), shown(secret), secret, shown(secret))
    problem = problem_of(mistake, Labels("config.toml"), [secret])

    assert secret not in problem.sentence()
    assert secret[:50] not in problem.sentence()
    assert "(not shown)" in problem.found


def test_a_place_is_named_with_headers_and_names() -> None:
    """By position where there is no name."""
    data = {"gardens": [{"name": "Mill lane", "batches": [{}, {"plantings": [{"crop": "kale"}]}]}]}
    labels = Labels("config.toml", data=data)
    planting = ("gardens", 0, "batches", 1, "plantings", 0)

    assert labels.key(("gardens", 0, "latitude")) == '[[gardens]] "Mill lane", latitude'
    assert labels.key((*planting, "plants")) == (
        '[[gardens]] "Mill lane", [[gardens.batches]] number 2, '
        '[[gardens.batches.plantings]] "kale", plants'
    )
    assert labels.key(("email", "port")) == "[email] port"
    assert labels.key(("units",)) == "units"
    assert labels.key(("weather", "base_urls", "nws")) == "[weather.base_urls] nws"


def test_a_finding_is_in_doubt_when_a_value_or_a_table_around_it_is() -> None:
    """Not when only a neighbour is."""
    result = Validated(None, tainted={("email",), ("gardens", 0, "latitude")})

    assert result.rests_on_doubt((("email", "port"),))
    assert result.rests_on_doubt((("units",), ("gardens", 0, "latitude")))
    assert not result.rests_on_doubt((("gardens", 0, "longitude"), ("gardens", 0)))


@pytest.mark.parametrize(
    "url", ["https://mirror.example/v1?apikey=s3cret", "https://mirror.example/v1#s3cret"]
)
def test_what_follows_an_address_is_not_shown(url: str) -> None:
    """It is often a key of somebody's account."""
    assert "s3cret" not in shown(url)
    assert "mirror.example/v1" in shown(url)
