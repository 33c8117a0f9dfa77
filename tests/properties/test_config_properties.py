"""Whatever is done to a configuration file, it loads or is refused in words, never otherwise."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from strawbell.config.load import Loaded, load
from strawbell.errors import GrowerError
from support.config_mistakes import SECRET, SLIPS, SOUND, TODAY
from support.measured import record

CASES_IN_CI = 200
CASES_NIGHTLY = 10_000
_TOKENS = (
    b"[", b"]", b"{", b"}", b'"', b"'", b'"""', b"=", b".", b",", b"#", b"\n", b"\r", b"\x00",
    b"\xff", b"\\", b"nan", b"inf", b"-", b"1e999", b"9" * 5000, b"[" * 3000, b"true",
    b"2027-02-30", b"25:00:00", b"\xed\xa0\x80", b"\xe2\x80\xa8", b"[[gardens]]", b"[gardens]",
    b"[email]", b"a.b.c = 1\n", b"[[gardens.batches.plantings]]\n", b'"" = 1\n', b"_x = 1\n",
    b"_env_file = 'x'\n", b"gardens = 3\n", b"email = []\n", b"0x", b"\\u0000", b"\xef\xbb\xbf",
)  # fmt: skip


def _mutated(dice: random.Random) -> bytes:
    """Return the sound file, or one with a common mistake, with one to six random wounds."""
    text = SOUND
    if dice.random() < 0.3:
        text = dice.choice(SLIPS).make(text)
    raw = text.encode()
    for _ in range(dice.randint(1, 6)):
        raw = _wound(raw, dice)
    return raw


def _wound(raw: bytes, dice: random.Random) -> bytes:
    lines = raw.split(b"\n")
    at = dice.randrange(len(raw) + 1)
    kind = dice.randrange(8)
    if kind == 0:
        return raw[:at] + dice.choice(_TOKENS) + raw[at:]
    if kind == 1:
        return raw[:at] + raw[at + dice.randint(1, 12) :]
    if kind == 2:
        return raw[:at] + bytes([dice.randrange(256)]) + raw[at + 1 :]
    if kind == 3:
        del lines[dice.randrange(len(lines))]
    elif kind == 4:
        lines.insert(dice.randrange(len(lines)), dice.choice(lines))
    elif kind == 5:
        one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
        lines[one], lines[other] = lines[other], lines[one]
    elif kind == 6:
        return raw[:at]
    else:
        number = dice.randrange(len(lines))
        key, equals, _ = lines[number].partition(b"=")
        lines[number] = key + equals + b" " + dice.choice(_TOKENS) if equals else key
    return b"\n".join(lines)


def _outcome(path: Path, raw: bytes) -> Loaded | GrowerError:
    path.write_bytes(raw)
    path.chmod(0o600)
    try:
        return load(path, {}, today=TODAY)
    except GrowerError as error:
        return error


def _survives(path: Path, seeds: range) -> int:
    """Read mutated files; return how many were refused."""
    refused = 0
    for seed in seeds:
        raw = _mutated(random.Random(seed))
        outcome = _outcome(path, raw)
        if isinstance(outcome, Loaded):
            assert SECRET not in repr(outcome), seed
            assert outcome.gardens, seed
            continue
        refused += 1
        assert outcome.problems, seed
        for problem in outcome.problems:
            sentence = problem.sentence()
            assert problem.what, seed
            assert problem.where, seed
            assert sentence.isprintable(), (seed, sentence)
            assert SECRET not in sentence, (seed, sentence)
    return refused


def test_mutated_files_load_or_are_refused_in_words(tmp_path: Path) -> None:
    """200 wounded files: no traceback, every problem placed and printable."""
    refused = _survives(tmp_path / "config.toml", range(CASES_IN_CI))

    assert CASES_IN_CI / 2 < refused < CASES_IN_CI
    record(17, "each change: wounded files, none with a traceback", CASES_IN_CI, target=">= 200")


@pytest.mark.nightly
def test_ten_thousand_mutated_files_load_or_are_refused_in_words(tmp_path: Path) -> None:
    """10,000 wounded files; none of them makes the password be shown either."""
    refused = _survives(tmp_path / "config.toml", range(CASES_IN_CI, CASES_IN_CI + CASES_NIGHTLY))

    assert refused > CASES_NIGHTLY / 2
    record(17, "nightly: wounded files, none with a traceback", CASES_NIGHTLY, target=">= 10000")


_VARIABLES = st.sampled_from(
    [
        "UNITS", "RULES__RAIN_HOLD_MM", "TIMES__MORNING", "TIMES__AWAY", "WEATHER__SOURCES",
        "WEATHER__BASE_URLS__OPEN_METEO", "EMAIL__PORT", "EMAIL__PASSWORD", "EMAIL__RECIPIENTS",
        "DESKTOP__ENABLED", "FOLDER__PATH", "STATE__PATH", "PUSH__TOPIC", "TIMES__NO_SUCH",
    ]
)  # fmt: skip
_TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=20) | st.builds(
    str, st.integers(-(10**30), 10**30) | st.floats() | st.booleans() | st.dates() | st.times()
)


@settings(
    max_examples=CASES_IN_CI,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(variables=st.dictionaries(_VARIABLES, _TEXTS, max_size=3))
def test_variables_of_any_kind_are_taken_or_refused_in_words(
    variables: dict[str, str], tmp_path: Path
) -> None:
    """A text for any key is validated like a value of the file."""
    path = tmp_path / "config.toml"
    path.write_text(SOUND, encoding="utf-8")
    path.chmod(0o600)
    try:
        load(path, {f"STRAWBELL_{name}": text for name, text in variables.items()}, today=TODAY)
    except GrowerError as error:
        told = [problem.sentence() for problem in error.problems]
    else:
        told = []
    assert all(sentence.isprintable() for sentence in told)


@settings(
    max_examples=CASES_IN_CI,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    secret=st.text(
        st.characters(codec="utf-8", exclude_characters="\x00\r\n"), min_size=8, max_size=40
    ).filter(lambda text: text.strip() == text)
)
def test_a_password_of_the_environment_is_seen_nowhere(secret: str, tmp_path: Path) -> None:
    """Whatever the password, neither settings nor problems show it."""
    path = tmp_path / "config.toml"
    path.write_text(SOUND.replace("port = 587", "port = 0"), encoding="utf-8")
    path.chmod(0o600)
    with pytest.raises(GrowerError) as caught:
        load(path, {"STRAWBELL_EMAIL__PASSWORD": secret}, today=TODAY)

    told = "".join(problem.sentence() for problem in caught.value.problems)
    assert (
        secret not in told or secret in "config.toml, line [email] port: the value is out of range"
    )
