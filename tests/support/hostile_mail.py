"""Sends every hostile form in every field to a mail server, and renders every hostile name.

As a program, under any interpreter: `hostile_mail.py PORT`. It prints one JSON object: for each
form and field what became of the message, for each name and notice the digest of what each
channel renders.
"""

from __future__ import annotations

import hashlib
import json
import sys
from pathlib import Path

from msgspec.structs import replace

from strawbell.app.outbox import queue
from strawbell.edges.desktop import DesktopChannel
from strawbell.edges.folder import FolderChannel
from strawbell.edges.smtp import SmtpChannel
from strawbell.model.configuration import MailSettings
from strawbell.model.notice import Notice
from support.fake_clock import DAWN
from support.hostile_names import HOSTILE, all_notices
from support.notices import SECRET, notice

SENDER = "Strawbell <bell@example.org>"
RECIPIENT = "grower@example.org"
INJECTED = "Bcc: thief@example.net"

FORMS = {
    "cr": f"\r{INJECTED}",
    "lf": f"\n{INJECTED}",
    "crlf": f"\r\n{INJECTED}",
    "empty line": f"\r\n\r\n{INJECTED}",
    "vt": f"\v{INJECTED}",
    "ff": f"\f{INJECTED}",
    "nel": f"\x85{INJECTED}",
    "ls": f"\u2028{INJECTED}",
    "ps": f"\u2029{INJECTED}",
    "nul": f"\0{INJECTED}",
    "folded": f"\r\n {INJECTED}",
    "q word": "=?utf-8?q?=0D=0ABcc:=20thief@example.net?=",
    "b word": "=?utf-8?b?DQpCY2M6IHRoaWVmQGV4YW1wbGUubmV0?=",
    "surrogate": f"\ud800{INJECTED}",
    "overlong": "x" * 5000 + f"\r\n{INJECTED}",
}
FIELDS = (
    "subject",
    "garden",
    "occasion",
    "sender name",
    "sender address",
    "recipient name",
    "recipient address",
)


def case(field: str, form: str) -> tuple[Notice, str, str]:
    """Return notice, sender and recipient with a form in one field."""
    plain = notice()
    text = f"Feed{form}"
    if field in {"subject", "garden", "occasion"}:
        return replace(plain, **{field: text}), SENDER, RECIPIENT
    addresses = {
        "sender name": (f"{text} <bell@example.org>", RECIPIENT),
        "sender address": (f"bell@example.org{form}", RECIPIENT),
        "recipient name": (SENDER, f"{text} <{RECIPIENT}>"),
        "recipient address": (SENDER, f"{RECIPIENT}{form}"),
    }
    return plain, *addresses[field]


def send_forms(port: int) -> dict[str, str]:
    """Send each form in each field as a message of its own; return what became of each."""
    fates = {}
    usual = SmtpChannel(MailSettings("127.0.0.1", port, "none", SENDER, ()))
    for name, form in FORMS.items():
        for field in FIELDS:
            notice, sender, recipient = case(field, form)
            own = SmtpChannel(MailSettings("127.0.0.1", port, "none", sender, (recipient,)))
            (row,) = queue(notice, [own], DAWN, SECRET)
            if sender == SENDER:
                fates[f"{name} in {field}"] = usual.send(row).outcome.value
                continue
            usual.close()
            fates[f"{name} in {field}"] = own.send(row).outcome.value
            own.close()
    usual.close()
    return fates


def digests() -> dict[str, str]:
    """Return the digest of what each channel renders of each notice with each name."""
    channels = (
        SmtpChannel(MailSettings("127.0.0.1", 25, "none", SENDER, (RECIPIENT,))),
        FolderChannel(Path("nowhere")),
        DesktopChannel({}),
    )
    found = {}
    for number, name in enumerate(HOSTILE):
        for kind, each in enumerate(all_notices(name)):
            for row in queue(each, channels, DAWN, SECRET):
                digest = hashlib.sha256(row.body).hexdigest()
                found[f"{row.channel}, name {number}, notice {kind}"] = digest
    return found


if __name__ == "__main__":
    print(json.dumps({"forms": send_forms(int(sys.argv[1])), "names": digests()}))
