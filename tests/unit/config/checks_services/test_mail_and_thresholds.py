"""Thresholds, times, forecast services and mail that contradict themselves."""

from __future__ import annotations

import pytest

from support.config_mistakes import SECRET
from support.config_trial import edited

RULES = "rain_hold_mm = 12.7"
PASSWORD = f'username = "grower"\npassword = "{SECRET}"\n'


@pytest.mark.parametrize(("written", "warned"), [(1.9, True), (2.0, False), (2.1, False)])
def test_rain_under_two_millimetres_looks_like_inches(written: float, warned: bool) -> None:
    """0.5 in is 12.7 mm; at 2 mm and over it may be meant."""
    assert bool(edited((RULES, f"rain_hold_mm = {written}")).warnings) is warned


def test_a_dry_day_of_a_tenth_looks_like_inches() -> None:
    """0.1 in is 2.5 mm."""
    assert "write 2.5" in edited((RULES, f"{RULES}\ndry_day_mm = 0.1")).warning.remedy


@pytest.mark.parametrize(("plant", "refused"), [(39.9, False), (40.0, False), (40.1, True)])
def test_planting_cannot_be_hotter_than_self_heating(plant: float, refused: bool) -> None:
    """Both written by the grower."""
    rules = f"{RULES}\nplant_below_c = {plant}\nself_heating_c = 40.0"

    assert bool(edited((RULES, rules)).errors) is refused


@pytest.mark.parametrize(
    ("morning", "warned"),
    [("00:00:00", True), ("02:59:59", True), ("03:29:59", True), ("03:30:00", False)],
)
def test_a_morning_while_clocks_change_is_warned_about(morning: str, warned: bool) -> None:
    """Until 03:30 a local time may not exist, or twice."""
    assert bool(edited(("morning = 06:30:00", f"morning = {morning}")).warnings) is warned


@pytest.mark.parametrize(
    ("give_up", "refused"), [("06:29:59", True), ("06:30:00", True), ("06:30:01", False)]
)
def test_the_give_up_hour_is_after_the_morning(give_up: str, refused: bool) -> None:
    """At the morning itself counts as given up before."""
    assert bool(edited(("give_up = 20:00:00", f"give_up = {give_up}")).errors) is refused


def test_an_evening_before_the_morning_is_refused() -> None:
    """They would be mixed up."""
    assert "evening is not after morning" in edited(("18:30:00", "05:30:00")).error.what


def test_quiet_hours_over_midnight_are_fine_and_equal_ones_are_warned_about() -> None:
    """The usual night wraps; from and to at one moment is no night."""
    end = "give_up = 20:00:00"

    assert edited((end, f"{end}\nquiet_from = 22:00:00\nquiet_to = 07:00:00")).fine
    equal = edited((end, f"{end}\nquiet_from = 22:00:00\nquiet_to = 22:00:00"))
    assert "never quiet" in equal.warning.what


@pytest.mark.parametrize(
    ("url", "refused"),
    [
        ("https://mirror.example.org/v1", False),
        ("http://127.0.0.1:8099", False),
        ("http://[::1]:8099", False),
        ("http://localhost:8099", False),
        ("http://mirror.example.org", True),
        ("http://127.0.0.1.example.org", True),
        ("http://127.0.0.1@example.org", True),
        ("ftp://127.0.0.1", True),
        ("https://user:pw@example.org", True),
        ("https://example.org:port", True),
        ("https://example.org/?key=1", True),
    ],
)
def test_services_are_asked_over_https_or_on_this_machine(url: str, refused: bool) -> None:
    """Plain http is for tests on loopback alone."""
    contact = 'contact = "grower@example.org"\nstale_after_h = 12'
    trial = edited((contact, f'{contact}\nbase_urls = {{ open-meteo = "{url}" }}'))

    assert bool(trial.errors) is refused


def test_an_address_of_a_service_that_is_not_asked_is_warned_about() -> None:
    """nws is not among the sources."""
    contact = 'contact = "grower@example.org"\nstale_after_h = 12'
    trial = edited((contact, f'{contact}\nbase_urls = {{ nws = "https://example.org" }}'))

    assert "not among the sources" in trial.warning.what


class TestMail:
    """[email]."""

    @pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1"])
    def test_no_security_is_fine_on_this_machine(self, host: str) -> None:
        """Nothing crosses the network."""
        edits = (('"smtp.example.org"', f'"{host}"'), ('"starttls"', '"none"'))

        assert edited(*edits).fine

    def test_no_security_without_a_password_is_refused_too(self) -> None:
        """The plan of a garden is nobody's business either."""
        trial = edited((PASSWORD, ""), ('"starttls"', '"none"'))

        assert "mail would cross the network in the clear" in trial.error.what

    @pytest.mark.parametrize(
        ("rest", "missing"),
        [
            ('username = "grower"\n', "a username without a password"),
            (f'password = "{SECRET}"\n', "a password without a username"),
        ],
    )
    def test_half_a_login_is_told(self, rest: str, missing: str) -> None:
        """One without the other cannot log in."""
        assert missing in edited((PASSWORD, rest)).error.what

    def test_no_login_at_all_is_fine(self) -> None:
        """A server of one's own may not want any."""
        assert edited((PASSWORD, "")).fine

    @pytest.mark.parametrize(
        ("port", "security", "fine"),
        [
            (465, "tls", True),
            (465, "starttls", False),
            (587, "starttls", True),
            (587, "tls", False),
            (25, "starttls", True),
            (25, "tls", False),
            (2525, "tls", True),
            (2525, "starttls", True),
        ],
    )
    def test_a_known_port_and_the_security_must_not_contradict_each_other(
        self, port: int, security: str, fine: bool
    ) -> None:
        """Each side would wait for the other to speak first, for a minute at every attempt."""
        trial = edited(("587", str(port)), ('"starttls"', f'"{security}"'))

        assert trial.fine is fine
        assert fine or "contradict each other" in trial.error.what

    @pytest.mark.parametrize("port", [110, 143, 993, 995])
    def test_a_port_for_reading_mail_sends_none(self, port: int) -> None:
        """It is told which are for sending."""
        assert "for reading mail" in edited(("587", str(port))).error.what

    @pytest.mark.parametrize("key", ["password_command", "oauth_token_command"])
    def test_a_command_may_give_the_secret(self, key: str) -> None:
        """In place of the password."""
        assert edited((f'password = "{SECRET}"', f'{key} = "show mail"')).fine

    @pytest.mark.parametrize("key", ["password_command", "oauth_token_command"])
    def test_two_sources_of_the_secret_are_refused(self, key: str) -> None:
        """Which one is meant cannot be known."""
        trial = edited((f'password = "{SECRET}"', f'password = "{SECRET}"\n{key} = "show mail"'))

        assert f"password and {key} are both given" in trial.error.what

    @pytest.mark.parametrize("command", ['show \\"mail', "  "])
    def test_a_command_that_cannot_be_run_is_refused_and_not_shown(self, command: str) -> None:
        """An open quote, no word at all."""
        trial = edited((f'password = "{SECRET}"', f'password_command = "{command}"'))

        assert "is no command" in trial.error.what
        assert "(not shown)" in trial.error.found

    def test_sendmail_needs_recipients_alone(self) -> None:
        """No server, no login."""
        login = f'username = "grower"\npassword = "{SECRET}"\n'
        server = 'host = "smtp.example.org"\nport = 587\nsecurity = "starttls"\n'

        assert edited((server, 'via = "sendmail"\n'), (login, "")).fine

    def test_what_sendmail_does_not_ask_for_is_warned_about(self) -> None:
        """It may be left from before."""
        trial = edited(('host = "smtp.example.org"', 'via = "sendmail"'))

        assert not trial.errors
        assert len(trial.warnings) == 4
        assert all("is not used" in warning.what for warning in trial.warnings)
        assert SECRET not in "".join(warning.sentence() for warning in trial.warnings)

    @pytest.mark.parametrize(
        "sender", ["Bales <a@example.org>", '\\"Bea, Bales\\" <a@example.org>', "Gärten <a@x.org>"]
    )
    def test_a_sender_may_have_a_name(self, sender: str) -> None:
        """Shown in the list of mails."""
        assert edited(('"strawbell@example.org"', f'"{sender}"')).fine

    @pytest.mark.parametrize(
        "sender",
        [
            "Bales <a@example.org",
            "Bales <a>",
            "a <b> <a@x.org>",
            "B\\nBcc: c@x.org <a@x.org>",
            "B a@x",
        ],
    )
    def test_a_sender_that_is_more_or_less_than_that_is_refused(self, sender: str) -> None:
        """Nothing may end the header."""
        trial = edited(('"strawbell@example.org"', f'"{sender}"'))

        assert trial.error.where.endswith("[email] sender")

    def test_a_recipient_twice_is_refused(self) -> None:
        """Nobody wants two of the same."""
        double = '["a@example.org", "a@example.org"]'

        assert "twice" in edited(('["grower@example.org"]', double)).error.what

    @pytest.mark.parametrize(
        "address", ["a@b@c", "a b@example.org", "<a@example.org>", "@x", "ä@x"]
    )
    def test_other_shapes_of_addresses_are_refused(self, address: str) -> None:
        """The address alone, in plain letters."""
        trial = edited(('["grower@example.org"]', f'["{address}"]'))

        assert "not a mail address" in trial.error.what

    @pytest.mark.parametrize("host", ["smtp://x.org", "x.org:587", "x y", "x.org\\nEHLO"])
    def test_a_host_is_a_name_alone(self, host: str) -> None:
        """No scheme, port, blank or line break."""
        assert "[email] host" in edited(('"smtp.example.org"', f'"{host}"')).error.where


@pytest.mark.parametrize("contact", ["a\\nX: y", "a\\u0000", "ü@example.org"])
def test_a_contact_that_breaks_a_header_is_refused(contact: str) -> None:
    """It goes into the User-Agent."""
    edit = ('contact = "grower@example.org"', f'contact = "{contact}"')

    assert edited(edit).error.where.endswith("[weather] contact")
