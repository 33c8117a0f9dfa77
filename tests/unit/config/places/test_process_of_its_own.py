"""The configuration read in a process of its own comes over whole, or with its mistakes."""

from __future__ import annotations

import pickle
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from strawbell.config.load import read_plain
from strawbell.config.places import main, read_apart
from strawbell.errors import Defect, GrowerError, OperationalError
from support.config_mistakes import SECRET, SOUND


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "config.toml"
    path.write_text(SOUND, encoding="utf-8")
    path.chmod(0o600)
    return path


def test_what_comes_over_is_what_would_have_been_read_here(file: Path) -> None:
    """Every value, the password too."""
    assert read_apart(file) == read_plain(file, {})


def test_mistakes_come_over_with_their_place_and_remedy(file: Path) -> None:
    """As if they had been found here, and without the password."""
    file.write_text(SOUND.replace("bales = 6", "bales = 0").replace("port = 587", "port = 0"))
    with pytest.raises(GrowerError) as here:
        read_plain(file, {})
    with pytest.raises(GrowerError) as there:
        read_apart(file)
    assert there.value.problems == here.value.problems
    assert SECRET not in str(there.value)


def test_the_environment_of_the_daemon_is_that_of_the_reader(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Passwords in it are heard, and a path in it is found without another."""
    monkeypatch.setenv("STRAWBELL_EMAIL__PASSWORD", "of the environment")
    monkeypatch.setenv("STRAWBELL_CONFIG", str(file))
    mail = read_apart(None).mail
    assert mail is not None
    assert mail.password == "of the environment"


def test_the_heavy_libraries_stay_out_of_this_process(file: Path) -> None:
    """That is what the other process is for."""
    program = (
        "import sys; from pathlib import Path\n"
        "from strawbell.config.places import read_apart\n"
        "read_apart(Path(sys.argv[1]))\n"
        "print([name for name in sys.modules if name.startswith('pydantic')])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(file)], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_a_reader_that_breaks_down_is_a_defect(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not a mistake of the grower's."""
    broken = SimpleNamespace(returncode=70, stdout=b"")
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: broken)
    with pytest.raises(Defect, match="70"):
        read_apart(file)


def test_a_reader_that_hangs_is_given_up(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """For now; the next start may have better luck."""

    def hang(*_: object, **options: object) -> None:
        raise subprocess.TimeoutExpired("strawbell", float(str(options["timeout"])))

    monkeypatch.setattr(subprocess, "run", hang)
    with pytest.raises(OperationalError, match="300 s"):
        read_apart(file)


def test_the_reader_answers_over_its_pipe_alone(
    file: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    """A configuration, or the problems in it; either way it has done its work."""
    assert main([str(file)]) == 0
    out, err = capfdbinary.readouterr()
    assert pickle.loads(out) == read_plain(file, {})
    assert err == b""
    file.write_text(SOUND.replace("bales = 6", "bales = 0"))
    assert main([str(file)]) == 0
    (problem,) = pickle.loads(capfdbinary.readouterr().out)
    assert "out of range" in problem.what
