"""The fifty mistakes of a configuration, alone and in pairs: told, placed, without secrets."""

from __future__ import annotations

import os
import random
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

from strawbell.cli.main import run as command
from strawbell.config.load import Loaded, load
from strawbell.errors import GrowerError, Problem
from support.config_mistakes import SECRET, SLIPS, SOUND, TODAY, Slip
from support.config_trial import WARNING, trial
from support.config_typos import typos
from support.measured import record

CHECKS = 3
PAIRS = 100
PAIRS_BOTH_TOLD_LEAST = 0.95


def _write(folder: Path, text: str | bytes, mode: int = 0o600) -> Path:
    path = folder / "config.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    path.chmod(mode)
    return path


def _load(path: Path) -> Loaded:
    return load(path, {}, today=TODAY)


def _problems(path: Path) -> tuple[tuple[Problem, ...], tuple[Problem, ...]]:
    """Return the mistakes and the warnings of a configuration."""
    try:
        return (), _load(path).warnings
    except GrowerError as error:
        warnings = tuple(each for each in error.problems if each.what.startswith(WARNING))
        return tuple(each for each in error.problems if each not in warnings), warnings


def _told(slip: Slip, problems: tuple[Problem, ...]) -> list[Problem]:
    return [each for each in problems if slip.what in each.what and slip.where in each.where]


def _ids(slip: Slip) -> str:
    return f"{slip.number:02d} {slip.name}"


def _line_of(slip: Slip) -> int | None:
    """Return the line the mistake was written on, None where a line was taken out."""
    before, after = SOUND.split("\n"), slip.make(SOUND).split("\n")
    if len(after) < len(before):
        return None
    return next(n for n, line in enumerate(after, 1) if n > len(before) or line != before[n - 1])


class TestOneMistake:
    """Each mistake alone."""

    def test_the_sound_configuration_has_none(self, tmp_path: Path) -> None:
        """What the mistakes are made in loads without a mistake or a warning."""
        loaded = _load(_write(tmp_path, SOUND))

        assert loaded.warnings == ()
        assert [each.name for each in loaded.gardens[0].batches] == ["Long row", "Short row"]

    @pytest.mark.parametrize("slip", SLIPS, ids=_ids)
    def test_is_told_with_file_key_found_allowed_and_remedy(
        self, slip: Slip, tmp_path: Path
    ) -> None:
        """One problem names the file and key, what was found, what is allowed, what to do."""
        errors, warnings = _problems(_write(tmp_path, slip.make(SOUND)))

        told = _told(slip, warnings if slip.warning else errors)
        assert len(told) == 1, [each.sentence() for each in (*errors, *warnings)]
        (problem,) = told
        assert problem.where.startswith("config.toml, line ")
        assert problem.found
        assert slip.found in problem.found
        assert problem.allowed or problem.remedy
        assert slip.allowed in problem.allowed
        assert slip.remedy in problem.remedy

    @pytest.mark.parametrize("slip", SLIPS, ids=_ids)
    def test_is_the_only_thing_told(self, slip: Slip, tmp_path: Path) -> None:
        """A mistake drags no others behind it."""
        errors, warnings = _problems(_write(tmp_path, slip.make(SOUND)))

        assert len(errors) + len(warnings) == 1, [e.sentence() for e in (*errors, *warnings)]

    @pytest.mark.parametrize(
        "slip", [each for each in SLIPS if each.new and each.number not in (13, 49, 50)], ids=_ids
    )
    def test_names_the_line(self, slip: Slip, tmp_path: Path) -> None:
        """The line is that of the mistake, or of the lines put in with it."""
        errors, warnings = _problems(_write(tmp_path, slip.make(SOUND)))

        (problem,) = _told(slip, (*errors, *warnings))
        line = _line_of(slip)
        assert line is not None
        named = int(problem.where.split("line ")[1].split(":")[0].split(",")[0])
        assert line <= named <= line + slip.new.count("\n")

    @pytest.mark.parametrize("slip", SLIPS, ids=_ids)
    def test_shows_no_password(self, slip: Slip, tmp_path: Path) -> None:
        """The password of the file stands in no problem."""
        errors, warnings = _problems(_write(tmp_path, slip.make(SOUND)))

        assert SECRET not in "".join(repr(each) for each in (*errors, *warnings))


class TestTheFileItself:
    """Mistakes 1 to 9."""

    @staticmethod
    def _one(path: Path) -> Problem:
        with pytest.raises(GrowerError) as caught:
            _load(path)
        (problem,) = caught.value.problems
        assert "config.toml" in problem.where
        return problem

    def test_a_missing_file_is_told(self, tmp_path: Path) -> None:
        """1: the file is not there."""
        problem = self._one(tmp_path / "config.toml")

        assert "no such file" in problem.what
        assert "--config" in problem.remedy

    @pytest.mark.skipif(os.geteuid() == 0, reason="root may read every file")
    def test_an_unreadable_file_is_told(self, tmp_path: Path) -> None:
        """2: the user may not read it."""
        problem = self._one(_write(tmp_path, SOUND, mode=0o000))

        assert "may not be read" in problem.what

    def test_a_refused_file_is_told(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """2: the same, for test runs of a user who may read everything."""
        path = _write(tmp_path, SOUND)

        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", refuse)

        assert "may not be read" in self._one(path).what

    def test_a_folder_is_told(self, tmp_path: Path) -> None:
        """3: a folder is named."""
        folder = tmp_path / "config.toml"
        folder.mkdir()

        assert "folder" in self._one(folder).what

    @pytest.mark.parametrize("text", ["", "\n", "  \n\n"])
    def test_an_empty_file_is_told(self, text: str, tmp_path: Path) -> None:
        """4: nothing is in it."""
        assert "empty" in self._one(_write(tmp_path, text)).what

    def test_a_file_of_comments_has_no_garden(self, tmp_path: Path) -> None:
        """4: the example with everything commented out is as good as empty."""
        assert "no garden" in self._one(_write(tmp_path, "# later\n")).what

    @pytest.mark.parametrize("mode", [0o604, 0o644])
    def test_a_password_everybody_can_read_is_refused(self, mode: int, tmp_path: Path) -> None:
        """5: it is no secret any more."""
        problem = self._one(_write(tmp_path, SOUND, mode))

        assert "everybody on this machine can read the file" in problem.what
        assert "chmod 600" in problem.remedy

    def test_a_password_the_group_can_read_is_a_warning(self, tmp_path: Path) -> None:
        """5: the group may be the grower's own, or that of the daemon."""
        (warning,) = _load(_write(tmp_path, SOUND, 0o640)).warnings

        assert "the group can read the file" in warning.what
        assert "chmod 600" in warning.remedy
        assert SECRET not in repr(warning)

    def test_a_shared_file_without_a_password_is_fine(self, tmp_path: Path) -> None:
        """5: only a password makes a readable file a concern."""
        text = SOUND.replace(f'password = "{SECRET}"\n', "").replace('username = "grower"\n', "")

        assert _load(_write(tmp_path, text, 0o644)).warnings == ()

    def test_other_encodings_are_told_with_the_line(self, tmp_path: Path) -> None:
        """6: one Latin-1 letter in the second garden's name."""
        text = SOUND.replace("Short row", "Kürbis").encode("latin-1")
        problem = self._one(_write(tmp_path, text))

        assert "not UTF-8" in problem.what
        assert "line 25" in problem.where
        assert problem.found == "byte 0xfc"

    def test_utf_16_is_told(self, tmp_path: Path) -> None:
        """6: as some editors save it."""
        assert "UTF-16" in self._one(_write(tmp_path, SOUND.encode("utf-16"))).what

    def test_a_byte_order_mark_is_told(self, tmp_path: Path) -> None:
        """7: the reader of TOML would stumble over it without a word of help."""
        problem = self._one(_write(tmp_path, SOUND.encode("utf-8-sig")))

        assert "byte order mark" in problem.what
        assert "line 1" in problem.where

    def test_line_ends_of_other_systems_work(self, tmp_path: Path) -> None:
        """8: CRLF is no mistake."""
        assert _load(_write(tmp_path, SOUND.replace("\n", "\r\n"))).warnings == ()

    def test_ten_megabytes_are_told(self, tmp_path: Path) -> None:
        """9: it is not read."""
        problem = self._one(_write(tmp_path, SOUND + "# \n" * 3_500_000))

        assert "too large" in problem.what
        assert problem.found.startswith("10.0 MiB")

    def test_a_pipe_is_told_and_not_waited_for(self, tmp_path: Path) -> None:
        """Something that is no file is refused before it is opened."""
        path = tmp_path / "config.toml"
        os.mkfifo(path)

        assert "not an ordinary file" in self._one(path).what


def test_all_fifty_are_covered() -> None:
    """The numbers of the table and of the tests above are 1 to 50."""
    covered = {each.number for each in SLIPS} | set(range(1, 10))
    assert covered == set(range(1, 51))
    record(17, "mistakes, each told", len(covered), target="= 50")


def _pairs() -> list[tuple[Slip, Slip]]:
    """Return pairs that can be made independently of each other, the same in every run."""
    dice = random.Random(20270405)
    pairs: list[tuple[Slip, Slip]] = []
    while len(pairs) < PAIRS:
        one, other = dice.sample(SLIPS, 2)
        if set(one.excludes) & set(other.excludes) or one.old == other.old:
            continue
        if one.old in other.old or other.old in one.old:
            continue
        pairs.append((one, other))
    return pairs


def test_both_mistakes_of_a_pair_are_told_in_one_run(tmp_path: Path) -> None:
    """Of 100 random pairs of independent mistakes at least 95 are told whole."""
    missed = []
    for one, other in _pairs():
        text = other.make(one.make(SOUND))
        errors, warnings = _problems(_write(tmp_path, text))
        if not all(_told(slip, (*errors, *warnings)) for slip in (one, other)):
            missed.append((one.name, other.name))

    record(17, "pairs of mistakes", PAIRS, target=">= 100")
    both, least = PAIRS - len(missed), round(PAIRS * PAIRS_BOTH_TOLD_LEAST)
    record(17, "pairs told whole", both, target=f">= {least}", found=str(missed))


def test_every_typo_is_answered_with_the_right_name_and_line() -> None:
    """Keys, headers and names, four slips of each."""
    every = list(typos())
    wrong, more = [], []
    for typo in every:
        result = trial(typo.text)
        told = (*result.errors, *result.warnings)
        line = f"config.toml, line {typo.line + 1}:"
        if not any(typo.hint.search(each.remedy) and line in each.where for each in told):
            wrong.append((typo.word, typo.typo, [each.sentence() for each in told]))
        if len(told) > 1:
            more.append((typo.word, typo.typo))
    assert {typo.kind for typo in every} == {"key", "header", "name"}
    record(17, "typos", len(every), target=">= 200")
    record(
        17, "typos without the right nearest name and line", len(wrong), target="= 0", found=wrong
    )
    record(17, "typos that drag another mistake behind them", len(more), target="<= 4", found=more)


def test_the_command_ends_with_two_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each mistake told by `strawbell check`; a warning alone is no mistake."""
    codes, tracebacks, written = [], [], []
    for slip in SLIPS:
        path = _write(tmp_path, slip.make(SOUND))
        code = command(["--config", str(path), "check"])
        told = capsys.readouterr().err
        if code != (0 if slip.warning else 2):
            codes.append((slip.name, code))
        if "Traceback" in told or "defect" in told or slip.what not in told:
            tracebacks.append((slip.name, told))
        if [one.name for one in tmp_path.iterdir()] != ["config.toml"]:
            written.append(slip.name)
    record(17, "mistakes given to the command", len(SLIPS), target=">= 41")
    record(
        17,
        "ended with another code than 2, or 0 for a warning",
        len(codes),
        target="= 0",
        found=codes,
    )
    record(
        17, "told with a traceback, or not told", len(tracebacks), target="= 0", found=tracebacks
    )
    record(17, "something written", len(written), target="= 0", found=written)


def test_the_check_of_a_sound_configuration_takes_a_moment(tmp_path: Path) -> None:
    """The whole process, best of three."""
    path = _write(tmp_path, SOUND)
    words = [sys.executable, "-m", "strawbell", "--config", str(path), "check"]
    clock_s, processor_s = [], []
    for _ in range(CHECKS):
        used_s, began_s = _processor_s(), time.monotonic()
        done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=60)
        clock_s.append(time.monotonic() - began_s)
        processor_s.append(_processor_s() - used_s)
        assert done.returncode == 0, done.stderr
        assert "can be used" in done.stdout
    slow = "loading Python and the library that checks settings takes most of it"
    for how, taken_s in {"processor time": processor_s, "by the clock": clock_s}.items():
        figure = f"strawbell check, {how}, best of three"
        record(17, figure, min(taken_s), "s", target="<= 0.2", missed_because=slow)


def _processor_s() -> float:
    """Return what ended children have used [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
