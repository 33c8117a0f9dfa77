"""Thresholds, times, forecast services and mail that contradict themselves."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from datetime import time
from pathlib import Path as FilePath
from urllib.parse import urlsplit

from strawbell.config.build import Context
from strawbell.config.keys import Path
from strawbell.config.mistakes import Mistake, finding, hidden, shown
from strawbell.config.reading import Readers, readers_of
from strawbell.config.schema import SECRET_KEYS, EmailSection
from strawbell.model.configuration import is_loopback

MM_PER_INCH = 25.4
INCHES_LIKELY_UNDER_MM = {"rain_hold_mm": 2.0, "dry_day_mm": 0.3}
"""Rain thresholds under these are hardly meant in mm: they are the usual ones in inches."""
CLOCK_CHANGES_END = time(3, 30)
"""Between midnight and this moment a local time may not exist, or twice, when clocks change."""
PASSWORD_BYTES_MAX = 4096

PORT_SECURITY = {465: ("tls",), 587: ("starttls", "none"), 25: ("starttls", "none")}
"""What speaks on the known ports: TLS from the first byte on 465 (RFC 8314), plain words first on
the others (RFC 6409, RFC 5321). Else each side waits for the other to begin."""

READING_PORTS = (110, 143, 993, 995)
"""Ports of POP and IMAP (RFC 8314, section 7)."""


def rules(context: Context) -> Iterator[Mistake]:
    """Yield thresholds that look like another unit or exclude each other."""
    settings = context.settings.rules
    for name, least_mm in INCHES_LIKELY_UNDER_MM.items():
        mm = getattr(settings, name)
        if 0 < mm < least_mm:
            yield finding(
                "inches-for-mm",
                ("rules", name),
                f"{mm:g}",
                warning=True,
                mm=f"{mm:g}",
                meant=f"{mm * MM_PER_INCH:.1f}",
            )
    plant_c, hot_c = settings.plant_below_c, settings.self_heating_c
    if plant_c > hot_c:
        # The defaults of each lie within what the other may be, so that the grower wrote both.
        found = f"plant_below_c = {plant_c:g}, self_heating_c = {hot_c:g} (C)"
        path = ("rules", "plant_below_c")
        yield finding("planted-while-hot", path, found, reads=["self_heating_c"])


def times(context: Context) -> Iterator[Mistake]:
    """Yield times of day in an order that cannot work."""
    settings = context.settings.times
    if settings.morning < CLOCK_CHANGES_END:
        found, end = settings.morning.isoformat(), CLOCK_CHANGES_END.isoformat()
        yield finding("clocks-change", ("times", "morning"), found, warning=True, end=end)
    for first, later in (("morning", "give_up"), ("morning", "evening")):
        one, other = getattr(settings, first), getattr(settings, later)
        if other <= one:
            key = later if later in settings.model_fields_set else first
            found = f"{first} = {one.isoformat()}, {later} = {other.isoformat()}"
            yield finding(
                "not-after", ("times", key), found, first=first, later=later, reads=[first, later]
            )
    if settings.quiet_from == settings.quiet_to:
        found = settings.quiet_from.isoformat()
        path = ("times", "quiet_from")
        yield finding("never-quiet", path, found, warning=True, reads=["quiet_to"])


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
            yield finding("no-address", path, shown(url))
            continue
        if parts.scheme != "https" and not is_loopback(host):
            yield finding("service-in-the-clear", path, shown(url))
        if key not in weather.sources:
            yield finding(
                "service-not-used",
                path,
                shown(url),
                warning=True,
                service=key,
                reads=[("weather", "sources")],
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
        yield finding(
            "password-in-read-file",
            ("email", "password"),
            hidden(),
            warning=context.readers is Readers.GROUP,
            who=context.readers,
        )
    doubles = {each for each in mail.recipients if mail.recipients.count(each) > 1}
    if doubles:
        found = ", ".join(shown(each) for each in sorted(doubles))
        yield finding("recipient-twice", ("email", "recipients"), found)


def _server(mail: EmailSection) -> Iterator[Mistake]:
    """Yield what is wrong with the way to the server."""
    security: Path = ("email", "security")
    if mail.host is None:
        yield finding("host-missing", ("email", "host"), reads=["via"])
    elif mail.security == "none" and not is_loopback(mail.host):
        yield finding(
            "mail-in-the-clear",
            security,
            shown(mail.security),
            password=bool(mail.secrets),
            reads=["host"],
        )
    if mail.port in READING_PORTS:
        yield finding("port-for-reading", ("email", "port"), str(mail.port), port=mail.port)
    fits = PORT_SECURITY.get(mail.port or 0)
    if fits is not None and mail.security not in fits:
        found = f'port = {mail.port}, security = "{mail.security}"'
        yield finding(
            "port-and-security", security, found, port=mail.port, fits=fits[0], reads=["port"]
        )


def _login(mail: EmailSection) -> Iterator[Mistake]:
    """Yield a login that is half there, or twice."""
    keys = ("username", *SECRET_KEYS)
    first, *others = mail.secrets or ("",)
    if others:
        other, listed = others[0], ", ".join(SECRET_KEYS)
        path: Path = ("email", other)
        yield finding("both-given", path, one=first, other=other, all=listed, reads=keys)
    if first and mail.username is None:
        yield finding("username-missing", ("email", "username"), reads=keys)
    if mail.username is not None and not first:
        yield finding("password-missing", ("email", "password"), secret=True, reads=keys)


def _not_for_sendmail(mail: EmailSection) -> Iterator[Mistake]:
    """Yield what the sendmail program does not ask for."""
    for key in ("host", "port", "security", "username", *SECRET_KEYS):
        if key in mail.model_fields_set and getattr(mail, key) is not None:
            found = hidden() if key in SECRET_KEYS else shown(getattr(mail, key))
            yield finding(
                "not-for-sendmail", ("email", key), found, warning=True, key=key, reads=["via"]
            )


def push(context: Context) -> Iterator[Mistake]:
    """Yield what would show notices and token to the network."""
    settings = context.settings.push
    if settings is None:
        return
    parts = urlsplit(settings.url)
    if parts.scheme != "https" and not is_loopback(parts.hostname or ""):
        yield finding("push-in-the-clear", ("push", "url"), shown(settings.url))


def household(context: Context) -> Iterator[Mistake]:
    """Yield helpers who would never be told anything."""
    known = [each.name for each in context.settings.gardens]
    for number, helper in enumerate(context.settings.household.helpers):
        path: Path = ("household", "helpers", number)
        if context.settings.email is None:
            yield finding("helper-without-mail", (*path, "address"), shown(helper.address))
        for name in helper.gardens:
            if name not in known:
                listed = ", ".join(f'"{each}"' for each in known)
                yield finding("no-such-garden", (*path, "gardens"), shown(name), allowed=listed)


def inbox(context: Context) -> Iterator[Mistake]:
    """Yield what would read answers in the clear, or never get any."""
    box, mail = context.settings.inbox, context.settings.email
    if box is None:
        return
    if mail is None:
        yield finding("inbox-without-mail", ("inbox",), warning=True)
        return
    if box.security == "none" and not is_loopback(box.host):
        path = ("inbox", "security")
        yield finding("inbox-in-the-clear", path, shown(box.security), reads=["host"])
    has_secret = box.password or mail.secrets
    if (box.username or mail.username) is None or not has_secret:
        login = [("email", "username"), ("email", "password")]
        yield finding("inbox-without-login", ("inbox", "username"), warning=True, reads=login)


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
    # The value is shown only where it is plainly a path: some write the password itself here.
    found = shown(written) if written.startswith(("/", "~", "./")) else hidden()
    try:
        path = password_path(context.folder, written)
        if not path.is_file():
            # Where even its folder is not in sight, a unit may bring it, as /run/credentials.
            elsewhere = not path.parent.exists()
            yield finding("no-password-file", where, found, secret=elsewhere)
            return
        readers = readers_of(path.stat().st_mode)
        if readers:
            is_group = readers is Readers.GROUP
            yield finding("password-file-read", where, found, warning=is_group, who=readers)
        if not read_password(path):
            yield finding("password-file-empty", where, found)
    except PermissionError:
        yield finding("password-file-closed", where, found, secret=True)
    except (OSError, ValueError):
        yield finding("password-file-unreadable", where, found)
