"""Mails as people, programs and servers send them, built from a few words each."""

from __future__ import annotations

from collections.abc import Mapping

TOKEN = "7K2QX-04HSB-M9TRD-5WVZN"
OURS = "<0f1e2d3c4b5a69788796a5b4c3d2e1f0@strawbell.invalid>"
QUOTE = "> Feed Row A: 500 g of blood meal a bale.\n> Reply done, or missed.\n"


def letter(
    body: str = "done\n",
    subject: str = f"Re: Feed Row A today [{TOKEN}]",
    sender: str = "Ada <ada@example.org>",
    kind: str = 'text/plain; charset="utf-8"',
    encoding: str = "8bit",
    more: Mapping[str, str] | None = None,
    identity: str = "<a1@mail.example.org>",
) -> bytes:
    """Return a mail with CRLF line ends; `more` headers stand on top."""
    headers = {
        **(more or {}),
        "From": sender,
        "To": "bales@example.org",
        "Subject": subject,
        "Date": "Fri, 09 Apr 2027 07:01:00 +0200",
        "Message-ID": identity,
        "MIME-Version": "1.0",
        "Content-Type": kind,
        "Content-Transfer-Encoding": encoding,
    }
    head = "".join(f"{name}: {value}\n" for name, value in headers.items() if value)
    return f"{head}\n{body}".replace("\n", "\r\n").encode("utf-8", "surrogateescape")


def report(
    action: str = "failed", status: str = "5.1.1", named: str = OURS, kind: str = "delivery-status"
) -> bytes:
    """Return what a mail server sends back about a message."""
    body = (
        "--cut\nContent-Type: text/plain\n\nIt could not be delivered, all is done.\n"
        f"--cut\nContent-Type: message/{kind}\n\n"
        "Reporting-MTA: dns; mx.example.net\n\n"
        f"Final-Recipient: rfc822; Ada@example.org\nAction: {action}\nStatus: {status}\n"
        "Diagnostic-Code: smtp; 550 5.1.1 no such user here\n\n"
        f"--cut\nContent-Type: text/rfc822-headers\n\n"
        f"References: <week-1234@strawbell.invalid>\nMessage-ID: {named}\n"
        f"Subject: Feed Row A [{TOKEN}]\n\n--cut--\n"
    )
    return letter(
        body,
        "Undelivered Mail Returned to Sender",
        "MAILER-DAEMON@mx.example.net",
        f'multipart/report; report-type={kind}; boundary="cut"',
        more={"Return-Path": "<>", "Auto-Submitted": "auto-replied"},
    )


def nested(levels: int) -> bytes:
    """Return a mail of parts within parts."""
    body = "".join(
        f'--p{level}\nContent-Type: multipart/mixed; boundary="p{level + 1}"\n\n'
        for level in range(levels)
    )
    return letter(f"{body}--p{levels}\n\ndone\n", kind='multipart/mixed; boundary="p0"')
