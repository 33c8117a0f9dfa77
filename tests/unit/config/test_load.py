"""Where values come from, which one counts, and what a loaded configuration is."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import pytest

from strawbell.agronomy.doses import dosed
from strawbell.config import checks_services
from strawbell.config.load import Loaded, load
from strawbell.errors import GrowerError
from strawbell.model.garden import Units
from strawbell.weather.thresholds import DEFAULT_RULES
from support.config_mistakes import SECRET, SOUND, TODAY
from support.config_trial import WARNING

TEN_LINES = """\
[[gardens]]
name = "Mill lane"
latitude = 52.09
longitude = -1.95
time_zone = "Europe/London"
[[gardens.batches]]
name = "Long row"
bales = 6
start_on = 2027-04-10
plantings = [{ crop = "kale", plants = 8 }]
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return _file(tmp_path, SOUND)


def _file(folder: Path, text: str) -> Path:
    path = folder / "config.toml"
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)
    return path


def _refused(path: Path, environ: dict[str, str] | None = None, **more: object) -> list[str]:
    with pytest.raises(GrowerError) as caught:
        load(path, environ or {}, today=TODAY, **more)  # type: ignore[arg-type]
    return [problem.sentence() for problem in caught.value.problems]


def _password(loaded: Loaded) -> str:
    assert loaded.settings.email is not None
    assert loaded.settings.email.password is not None
    return loaded.settings.email.password.get_secret_value()


class TestTenLines:
    """The shortest useful configuration."""

    def test_ten_lines_make_a_garden_without_warnings(self, tmp_path: Path) -> None:
        """Everything else has a default."""
        loaded = load(_file(tmp_path, TEN_LINES), {}, today=TODAY)

        (garden,) = loaded.gardens
        (batch,) = garden.batches
        assert loaded.warnings == ()
        assert garden.rules == DEFAULT_RULES
        assert garden.times.morning == time(6, 30)
        assert garden.units is Units.METRIC
        assert batch.feed.name == "Blood meal"
        assert batch.schedule.name == "alternate-days"
        assert batch == dosed(batch)
        assert batch.plantings[0].crop.name == "kale"

    def test_a_planting_day_is_counted_back(self, tmp_path: Path) -> None:
        """plant_on gives the first day, and the plantings wait for it."""
        text = TEN_LINES.replace("start_on = 2027-04-10", "plant_on = 2027-05-15")
        (batch,) = load(_file(tmp_path, text), {}, today=TODAY).gardens[0].batches

        assert batch.start_on == date(2027, 5, 4)  # 15 May is day 12 of alternate-days
        assert batch.plantings[0].plant_on == date(2027, 5, 15)

    def test_the_stale_limit_of_the_forecast_reaches_the_rules(self, tmp_path: Path) -> None:
        """It stands in [weather] and is judged with the rules."""
        text = TEN_LINES + "[weather]\nstale_after_h = 6\n"

        assert load(_file(tmp_path, text), {}, today=TODAY).gardens[0].rules.stale_after_h == 6


class TestPrecedence:
    """Environment > credential > file > default."""

    def test_the_file_overrules_the_default(self, file: Path) -> None:
        """What is written counts."""
        file.write_text(SOUND.replace("= 60\ngive", "= 45\ngive"), encoding="utf-8")

        assert load(file, {}, today=TODAY).settings.times.watch_every_min == 45

    @pytest.mark.parametrize("name", ["strawbell_email__password", "email__password"])
    def test_a_credential_overrules_the_file(self, name: str, file: Path, tmp_path: Path) -> None:
        """systemd's credential folder is looked into, with and without the prefix."""
        (tmp_path / "credentials").mkdir()
        (tmp_path / "credentials" / name).write_text("from systemd\n", encoding="utf-8")
        environ = {"CREDENTIALS_DIRECTORY": str(tmp_path / "credentials")}

        assert _password(load(file, environ, today=TODAY)) == "from systemd"

    def test_the_prefixed_credential_overrules_the_plain_one(
        self, file: Path, tmp_path: Path
    ) -> None:
        """The more exact name counts."""
        for name in ("email__password", "strawbell_email__password"):
            (tmp_path / name).write_text(name, encoding="utf-8")

        loaded = load(file, {"CREDENTIALS_DIRECTORY": str(tmp_path)}, today=TODAY)
        assert _password(loaded) == "strawbell_email__password"

    def test_the_environment_overrules_a_credential(self, file: Path, tmp_path: Path) -> None:
        """Both are there, the variable counts."""
        (tmp_path / "email__password").write_text("credential", encoding="utf-8")
        environ = {
            "CREDENTIALS_DIRECTORY": str(tmp_path),
            "STRAWBELL_EMAIL__PASSWORD": "variable",
        }

        assert _password(load(file, environ, today=TODAY)) == "variable"

    def test_a_variable_is_read_as_the_kind_its_key_wants(self, file: Path) -> None:
        """Numbers, switches, times and lists come as text."""
        environ = {
            "STRAWBELL_EMAIL__PORT": "2525",
            "STRAWBELL_DESKTOP__ENABLED": "yes",
            "STRAWBELL_TIMES__MORNING": "05:45",
            "STRAWBELL_EMAIL__RECIPIENTS": "one@example.org, two@example.org",
            "STRAWBELL_WEATHER__SOURCES": '["nws"]',
            "STRAWBELL_WEATHER__BASE_URLS__OPEN_METEO": "http://127.0.0.1:8099",
            "STRAWBELL_RULES__RAIN_HOLD_MM": "10",
        }
        with pytest.raises(GrowerError) as caught:
            load(file, {**environ, "STRAWBELL_EMAIL__PORT": "many"}, today=TODAY)
        (problem,) = [p for p in caught.value.problems if not p.what.startswith(WARNING)]
        assert problem.where == "environment variable STRAWBELL_EMAIL__PORT ([email] port)"
        assert problem.found == '"many"'

        settings = load(file, environ, today=TODAY).settings
        assert settings.email is not None
        assert settings.email.port == 2525
        assert settings.desktop.enabled is True
        assert settings.times.morning == time(5, 45)
        assert settings.email.recipients == ("one@example.org", "two@example.org")
        assert settings.weather.sources == ("nws",)
        assert settings.weather.base_urls.open_meteo == "http://127.0.0.1:8099"
        assert settings.rules.rain_hold_mm == 10.0

    def test_a_value_out_of_range_names_the_variable(self, file: Path) -> None:
        """The grower must look there, not in the file."""
        (sentence,) = _refused(file, {"STRAWBELL_EMAIL__PORT": "0"})

        assert sentence.startswith("environment variable STRAWBELL_EMAIL__PORT")

    def test_a_misspelt_variable_is_a_mistake_with_a_hint(self, file: Path) -> None:
        """A password that is silently not used would be looked for long."""
        (sentence,) = _refused(file, {"STRAWBELL_EMIAL__PASSWORD": SECRET})

        assert "STRAWBELL_EMAIL__PASSWORD" in sentence
        assert SECRET not in sentence

    def test_variables_of_other_use_are_left_alone(self, file: Path) -> None:
        """Without a double underscore a variable is no setting."""
        environ = {"STRAWBELL_CONFIG": "elsewhere", "STRAWBELLOWS": "1", "PATH": "x"}

        assert load(file, environ, today=TODAY).path == file


class TestPasswords:
    """Wherever the password is kept, settings.email.password holds it."""

    def test_a_password_file_is_read_without_its_line_end(self, tmp_path: Path) -> None:
        """A relative path counts from the folder of the configuration."""
        (tmp_path / "mail-password").write_text("rye & oats\n", encoding="utf-8")
        (tmp_path / "mail-password").chmod(0o600)
        text = SOUND.replace(f'password = "{SECRET}"', 'password_file = "mail-password"')

        assert _password(load(_file(tmp_path, text), {}, today=TODAY)) == "rye & oats"

    def test_a_password_file_everybody_can_read_is_refused(self, tmp_path: Path) -> None:
        """One that the group can read is used and warned about."""
        kept = tmp_path / "mail-password"
        kept.write_text("rye", encoding="utf-8")
        text = SOUND.replace(f'password = "{SECRET}"', 'password_file = "mail-password"')
        file = _file(tmp_path, text)

        kept.chmod(0o644)
        (sentence,) = _refused(file)
        assert "everybody on this machine" in sentence
        kept.chmod(0o640)
        (warning,) = load(file, {}, today=TODAY).warnings
        assert "the group can read" in warning.what

    @pytest.mark.parametrize("instead", ["", 'password_file = "run/credentials/mail"'])
    def test_a_secret_that_is_not_here_hinders_nobody_who_does_not_send(
        self, instead: str, tmp_path: Path
    ) -> None:
        """The daemon may have it; what is missing is told apart from the mistakes."""
        text = SOUND.replace(f'password = "{SECRET}"', instead)

        loaded = load(_file(tmp_path, text), {}, today=TODAY)
        (missing,) = loaded.missing_secrets
        assert "[email] password" in missing.where
        assert loaded.gardens

    def test_a_password_file_one_may_not_read_is_a_secret_that_is_not_here(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """As for a grower beside the system unit."""

        def refuse(path: Path) -> str:
            raise PermissionError(path)

        (tmp_path / "mail-password").touch(mode=0o600)
        monkeypatch.setattr(checks_services, "read_password", refuse)
        text = SOUND.replace(f'password = "{SECRET}"', 'password_file = "mail-password"')

        (missing,) = load(_file(tmp_path, text), {}, today=TODAY).missing_secrets
        assert "you may not read" in missing.what

    def test_a_variable_overrules_the_password_file_of_the_configuration(
        self, tmp_path: Path
    ) -> None:
        """The higher layer says where the password is; that is no contradiction."""
        text = SOUND.replace(f'password = "{SECRET}"', 'password_file = "nowhere"')
        environ = {"STRAWBELL_EMAIL__PASSWORD": "barley"}

        assert _password(load(_file(tmp_path, text), environ, today=TODAY)) == "barley"

    def test_a_password_written_as_the_file_is_not_shown(self, tmp_path: Path) -> None:
        """Some write the password itself into password_file."""
        text = SOUND.replace(f'password = "{SECRET}"', f'password_file = "{SECRET}"')

        (sentence,) = _refused(_file(tmp_path, text))
        assert "no such password file" in sentence
        assert SECRET not in sentence

    @pytest.mark.parametrize("key", ["pasword", "passwd", "Password", "pass", "token"])
    def test_a_password_under_a_misspelt_key_is_not_shown(self, key: str, tmp_path: Path) -> None:
        """Only the key is told."""
        text = SOUND.replace("password =", f"{key} =").replace("port = 587", f'port = "{SECRET}"')

        sentences = _refused(_file(tmp_path, text))
        assert any(key in sentence for sentence in sentences)
        assert SECRET not in "".join(sentences)

    def test_neither_settings_nor_result_show_it(self, file: Path) -> None:
        """repr and str are safe to log."""
        loaded = load(file, {}, today=TODAY)

        assert SECRET not in repr(loaded)
        assert SECRET not in str(loaded.settings)
        assert _password(loaded) == SECRET


class TestSettings:
    """What is loaded cannot be changed by accident."""

    def test_settings_are_frozen(self, file: Path) -> None:
        """Assigning is an error, in the root and in sections."""
        settings = load(file, {}, today=TODAY).settings

        with pytest.raises(ValueError, match="frozen"):
            settings.units = Units.US  # type: ignore[misc]
        with pytest.raises(ValueError, match="frozen"):
            settings.times.watch_every_min = 3  # type: ignore[misc]

    def test_the_process_environment_is_not_read(
        self, file: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Only the environment handed over counts."""
        monkeypatch.setenv("STRAWBELL_UNITS", "us")

        assert load(file, {}, today=TODAY).settings.units is Units.METRIC

    def test_mistakes_come_in_the_order_of_the_file(self, tmp_path: Path) -> None:
        """The list can be worked through from top to bottom, warnings last."""
        text = SOUND.replace("rain_hold_mm = 12.7", "rain_hold_mm = 0.5")
        text = text.replace("port = 587", "port = 0").replace("bales = 6", "bales = 0")

        first, second, third = _refused(_file(tmp_path, text))
        assert "bales" in first
        assert "port" in second
        assert WARNING in third
