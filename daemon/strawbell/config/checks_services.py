"""Thresholds, times, forecast services and mail that contradict themselves."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from datetime import time
from pathlib import Path as FilePath
from urllib.parse import urlsplit

from strawbell.config.checks_context import Context
from strawbell.config.mistakes import Mistake, shown
from strawbell.config.outline import Path
from strawbell.config.reading import Readers, readers_of
from strawbell.config.services import SECRET_KEYS, EmailSection
from strawbell.model.hosts import is_loopback

MM_PER_INCH = 25.4
INCHES_LIKELY_UNDER_MM = {"rain_hold_mm": 2.0, "dry_day_mm": 0.3}
"""Rain thresholds under these are hardly meant in mm: they are the usual ones in inches."""
CLOCK_CHANGES_END = time(3, 30)
"""Between midnight and this moment a local time may not exist, or twice, when clocks change."""
PASSWORD_BYTES_MAX = 4096
_WHO = {Readers.GROUP: "the group", Readers.ALL: "everybody on this machine"}

PORT_SECURITY = {465: ("tls",), 587: ("starttls", "none"), 25: ("starttls", "none")}
"""What speaks on the known ports: TLS from the first byte on 465 (RFC 8314), plain words first on
the others (RFC 6409, RFC 5321). Else each side waits for the other to begin."""

READING_PORTS = (110, 143, 993, 995)
"""Ports of POP and IMAP (RFC 8314, section 7)."""


def rules(context: Context) -> Iterator[Mistake]:
    """Yield thresholds that look like another unit or exclude each other."""
    settings = context.settings.rules
    for name, least_mm in INCHES_LIKELY_UNDER_MM.items():
        value = getattr(settings, name)
        if 0 < value < least_mm:
            yield Mistake(
                f"{value:g} mm is very little rain; it looks like inches",
                ("rules", name),
                f"{value:g}",
                "millimetres",
                f"If inches are meant, write {value * MM_PER_INCH:.1f}.",
                warning=True,
            )
    yield from _thresholds_in_order(context)


def _thresholds_in_order(context: Context) -> Iterator[Mistake]:
    settings = context.settings.rules
    plant_c, hot_c = settings.plant_below_c, settings.self_heating_c
    if plant_c <= hot_c:
        return
    # The defaults of each lie within what the other may be, so that the grower wrote both.
    yield Mistake(
        "plant_below_c is above self_heating_c, so bales would be planted while they self-heat",
        ("rules", "plant_below_c"),
        f"plant_below_c = {plant_c:g}, self_heating_c = {hot_c:g} (C)",
        "plant_below_c at most self_heating_c",
        "Lower the one or raise the other.",
        reads=(("rules", "plant_below_c"), ("rules", "self_heating_c")),
    )


def times(context: Context) -> Iterator[Mistake]:
    """Yield times of day in an order that cannot work."""
    settings = context.settings.times
    if settings.morning < CLOCK_CHANGES_END:
        yield Mistake(
            "at this hour clocks are changed, and a brief may come an hour early or late",
            ("times", "morning"),
            settings.morning.isoformat(),
            f"better {CLOCK_CHANGES_END.isoformat()} or later",
            warning=True,
        )
    for first, later in (("morning", "give_up"), ("morning", "evening")):
        one, other = getattr(settings, first), getattr(settings, later)
        if other <= one:
            key = later if later in settings.model_fields_set else first
            yield Mistake(
                f"{later} is not after {first}",
                ("times", key),
                f"{first} = {one.isoformat()}, {later} = {other.isoformat()}",
                f"{later} later in the day than {first}",
                "Change the one or the other.",
                reads=(("times", first), ("times", later)),
            )
    if settings.quiet_from == settings.quiet_to:
        yield Mistake(
            "quiet_from and quiet_to are the same, so it is never quiet",
            ("times", "quiet_from"),
            settings.quiet_from.isoformat(),
            "two different times",
            warning=True,
            reads=(("times", "quiet_from"), ("times", "quiet_to")),
        )


def forecast_services(context: Context) -> Iterator[Mistake]:
    """Yield addresses of services that would be asked in the clear or not at all."""
    weather = context.settings.weather
    for key, url in weather.base_urls.model_dump(by_alias=True).items():
        path: Path = ("weather", "base_urls", key)
        if url is None:
            continue
        try:
            parts = urlsplit(url)
            host, _ = parts.hostname or "", parts.port
        except ValueError:
            yield Mistake("is not the address of a service", path, shown(url), "https://HOST/PATH")
            continue
        if parts.scheme != "https" and not is_loopback(host):
            yield Mistake(
                "plain http reaches beyond this machine",
                path,
                shown(url),
                "https, or http to a loopback address such as http://127.0.0.1:8099",
                "Write https.",
            )
        if key not in weather.sources:
            yield Mistake(
                f"{key} is not among the sources, so its address is not used",
                path,
                shown(url),
                warning=True,
                reads=(path, ("weather", "sources")),
            )


def email(context: Context) -> Iterator[Mistake]:
    """Yield what would send a password in the clear, twice, or not at all."""
    mail = context.settings.email
    if mail is None:
        return
    if mail.via == "smtp":
        yield from _server(mail)
        yield from _login(mail)
    else:
        yield from _not_for_sendmail(mail)
    if mail.secrets == ("password_file",) and mail.password_file is not None:
        yield from _password_file(context, mail.password_file)
    if context.readers and context.file_holds_password:
        yield Mistake(
            f"{_WHO[context.readers]} can read the file, and it holds a password",
            ("email", "password"),
            "(not shown)",
            "a file that only you can read",
            "Run chmod 600 on it, or move the password to password_file.",
            warning=context.readers is Readers.GROUP,
        )
    doubles = {each for each in mail.recipients if mail.recipients.count(each) > 1}
    if doubles:
        yield Mistake(
            "a recipient stands there twice",
            ("email", "recipients"),
            ", ".join(shown(each) for each in sorted(doubles)),
            "each recipient once",
            "Remove the second one.",
        )


def _server(mail: EmailSection) -> Iterator[Mistake]:
    """Yield what is wrong with the way to the server."""
    if mail.host is None:
        yield Mistake(
            "[email] is only half filled: host is missing",
            ("email", "host"),
            "nothing",
            'a text in quotes; none is needed with via = "sendmail"',
            'Write for instance: host = "smtp.example.org".',
            reads=(("email", "host"), ("email", "via")),
        )
    elif mail.security == "none" and not is_loopback(mail.host):
        yield from _in_the_clear(mail)
    if mail.port in READING_PORTS:
        yield Mistake(
            f"port {mail.port} is one for reading mail, not for sending it",
            ("email", "port"),
            str(mail.port),
            "465 with tls, 587 with starttls",
            "Leave port out.",
        )
    fits = PORT_SECURITY.get(mail.port or 0)
    if fits is not None and mail.security not in fits:
        yield Mistake(
            f"port {mail.port} and security contradict each other",
            ("email", "security"),
            f'port = {mail.port}, security = "{mail.security}"',
            "465 with tls, 587 with starttls",
            f'Write security = "{fits[0]}", or leave port out.',
            reads=(("email", "port"), ("email", "security")),
        )


def _login(mail: EmailSection) -> Iterator[Mistake]:
    """Yield a login that is half there, or twice."""
    paths = tuple(("email", key) for key in ("username", *SECRET_KEYS))
    first, *others = mail.secrets or ("",)
    if others:
        yield Mistake(
            f"{first} and {others[0]} are both given",
            ("email", others[0]),
            "both",
            f"one of the two, or of {', '.join(SECRET_KEYS)}",
            f"Remove {first} and keep {others[0]}, or the other way round.",
            reads=paths,
        )
    if first and mail.username is None:
        yield Mistake(
            "[email] is only half filled: a password without a username",
            ("email", "username"),
            "nothing",
            "the login of the mail account",
            'Write for instance: username = "grower@example.org".',
            reads=paths,
        )
    if mail.username is not None and not first:
        yield Mistake(
            "[email] is only half filled: a username without a password",
            ("email", "password"),
            "nothing",
            "a password in password_file, STRAWBELL_EMAIL__PASSWORD or a credential, or a "
            "password_command or oauth_token_command",
            'Write for instance: password_file = "mail-password".',
            secret=True,
            reads=paths,
        )


def _not_for_sendmail(mail: EmailSection) -> Iterator[Mistake]:
    """Yield what the sendmail program does not ask for."""
    for key in ("host", "port", "security", "username", *SECRET_KEYS):
        if key in mail.model_fields_set and getattr(mail, key) is not None:
            yield Mistake(
                f'{key} is not used with via = "sendmail"; that program knows its own way',
                ("email", key),
                "(not shown)" if key in SECRET_KEYS else shown(getattr(mail, key)),
                "nothing",
                'Remove it, or write via = "smtp".',
                warning=True,
                reads=(("email", key), ("email", "via")),
            )


def push(context: Context) -> Iterator[Mistake]:
    """Yield what would show notices and token to the network."""
    settings = context.settings.push
    if settings is None:
        return
    parts = urlsplit(settings.url)
    if parts.scheme != "https" and not is_loopback(parts.hostname or ""):
        yield Mistake(
            "notices would cross the network in the clear",
            ("push", "url"),
            shown(settings.url),
            "https, or http to this machine (loopback)",
            "Write https.",
        )


def household(context: Context) -> Iterator[Mistake]:
    """Yield helpers who would never be told anything."""
    known = [each.name for each in context.settings.gardens]
    for number, helper in enumerate(context.settings.household.helpers):
        path: Path = ("household", "helpers", number)
        if context.settings.email is None:
            yield Mistake(
                "a helper is told by mail, and no mail is sent",
                (*path, "address"),
                shown(helper.address),
                "[email] beside [household]",
                "Add [email], or remove the helper.",
            )
        for name in helper.gardens:
            if name not in known:
                yield Mistake(
                    "there is no garden of that name",
                    (*path, "gardens"),
                    shown(name),
                    ", ".join(f'"{each}"' for each in known),
                    "Write a garden as it is called under [[gardens]].",
                )


def inbox(context: Context) -> Iterator[Mistake]:
    """Yield what would read answers in the clear, or never get any."""
    box, mail = context.settings.inbox, context.settings.email
    if box is None:
        return
    if mail is None:
        yield Mistake(
            "answers are read, but no mail is sent that could be answered",
            ("inbox",),
            "no [email]",
            "[email] beside [inbox]",
            "Add [email], or remove [inbox].",
            warning=True,
        )
        return
    if box.security == "none" and not is_loopback(box.host):
        yield Mistake(
            "the password would cross the network in the clear",
            ("inbox", "security"),
            shown(box.security),
            '"tls" or "starttls"; "none" only to this machine (loopback)',
            'Write security = "tls".',
            reads=(("inbox", "security"), ("inbox", "host")),
        )
    has_secret = box.password or mail.secrets
    if (box.username or mail.username) is None or not has_secret:
        yield Mistake(
            "[inbox] has no login, and neither has [email]",
            ("inbox", "username"),
            "nothing",
            "a username and a password, here or under [email]",
            'Write for instance: username = "grower@example.org".',
            warning=True,
            reads=(("inbox", "username"), ("email", "username"), ("email", "password")),
        )


def _in_the_clear(mail: EmailSection) -> Iterator[Mistake]:
    yield Mistake(
        "the password would cross the network in the clear"
        if mail.secrets
        else "mail would cross the network in the clear",
        ("email", "security"),
        shown(mail.security),
        '"starttls" or "tls"; "none" only to this machine (loopback)',
        'Write security = "starttls".',
        reads=(("email", "security"), ("email", "host")),
    )


def password_path(folder: FilePath, written: str) -> FilePath:
    """Return the password file; a relative one counts from the folder of the configuration."""
    path = FilePath(written)
    with suppress(RuntimeError):  # Without a home folder the check finds no such file.
        path = path.expanduser()
    return path if path.is_absolute() else folder / path


def read_password(path: FilePath) -> str:
    """Return the password in a file, without the line end editors add."""
    with path.open("rb") as file:
        return file.read(PASSWORD_BYTES_MAX).decode("utf-8").rstrip("\r\n")


def _password_file(context: Context, written: str) -> Iterator[Mistake]:
    where: Path = ("email", "password_file")
    allowed = "a file that holds the password alone, as UTF-8 text"
    # The value is shown only where it is plainly a path: some write the password itself here.
    found = shown(written) if written.startswith(("/", "~", "./")) else "(not shown)"
    remedy = "Give the path of the file, absolute or from the folder of the configuration."
    try:
        path = password_path(context.folder, written)
        if not path.is_file():
            # Where even its folder is not in sight, a unit may bring it, as /run/credentials.
            elsewhere = not path.parent.exists()
            yield Mistake(
                "there is no such password file", where, found, allowed, remedy, secret=elsewhere
            )
            return
        readers = readers_of(path.stat().st_mode)
        if readers:
            yield Mistake(
                f"{_WHO[readers]} can read the password file",
                where,
                found,
                "a file that only you can read",
                "Run chmod 600 on it.",
                warning=readers is Readers.GROUP,
            )
        if not read_password(path):
            yield Mistake("the password file is empty", where, found, allowed)
    except PermissionError:
        yield Mistake(
            "you may not read the password file", where, found, allowed, remedy, secret=True
        )
    except (OSError, ValueError):
        yield Mistake("the password file cannot be read as text", where, found, allowed, remedy)
