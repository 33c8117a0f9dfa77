"""A real Dovecot on loopback for as long as a test lasts; skipped where it is not installed."""

from __future__ import annotations

import getpass
import imaplib
import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import trustme

PASSWORD = "sæcret"
STARTS_WITHIN_S = 20.0
CONFIG = """
base_dir = {folder}/run
state_dir = {folder}/state
log_path = {folder}/log
protocols = imap
listen = 127.0.0.1
default_login_user = {login_user}
default_internal_user = {internal_user}
default_internal_group = {group}
ssl = yes
ssl_cert = <{folder}/cert.pem
ssl_key = <{folder}/key.pem
disable_plaintext_auth = no
auth_failure_delay = 0
auth_mechanisms = plain login
mail_location = maildir:{folder}/mail/%u
mail_uid = {uid}
mail_gid = {gid}
first_valid_uid = 1
passdb {{
  driver = passwd-file
  args = scheme=PLAIN username_format=%u {folder}/users
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={folder}/home
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = {plain}
  }}
  inet_listener imaps {{
    port = {tls}
    ssl = yes
  }}
}}
service anvil {{
  chroot =
  unix_listener anvil-auth-penalty {{
    mode = 0
  }}
}}
service stats {{
  chroot =
}}
namespace inbox {{
  inbox = yes
  mailbox Spamverdacht {{
    auto = subscribe
    special_use = \\Junk
  }}
}}
"""


@dataclass(frozen=True)
class Mailbox:
    """A running server and an account on it."""

    plain: int
    tls: int
    authority: trustme.CA
    user: str = "grower"
    password: str = PASSWORD

    def deliver(self, *mails: bytes, folder: str = "INBOX") -> None:
        """Put mails into a folder as a mail server does."""
        with imaplib.IMAP4("127.0.0.1", self.plain) as box:
            box.authenticate("PLAIN", lambda _: f"\0{self.user}\0{self.password}".encode())
            for mail in mails:
                assert box.append(folder, "", None, mail)[0] == "OK"  # type: ignore[arg-type]

    def flags(self) -> list[bytes]:
        """Return what the server says of each mail."""
        with imaplib.IMAP4("127.0.0.1", self.plain) as box:
            box.authenticate("PLAIN", lambda _: f"\0{self.user}\0{self.password}".encode())
            box.select("INBOX", readonly=True)
            return [bytes(each) for each in box.fetch("1:*", "(FLAGS)")[1]]  # type: ignore[arg-type]


@contextmanager
def dovecot(name: str = "127.0.0.1") -> Iterator[Mailbox]:
    """Run a server whose certificate is made out to `name` by an authority of its own."""
    program = shutil.which("dovecot") or shutil.which("dovecot", path="/usr/sbin")
    if program is None:
        pytest.skip("dovecot is not installed")
    authority = trustme.CA()
    # Its sockets need a short path, which its own users may walk.
    folder = Path(tempfile.mkdtemp(prefix="dc", dir="/tmp"))
    try:
        folder.chmod(0o755)
        box = Mailbox(_free_port(), _free_port(), authority)
        _write(folder, box, name)
        log = (folder / "out").open("wb")
        process = subprocess.Popen(
            [program, "-F", "-c", str(folder / "conf")], stdout=log, stderr=log
        )
        try:
            _await(box, process, folder)
            yield box
        finally:
            process.terminate()
            process.wait(20)
            log.close()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _write(folder: Path, box: Mailbox, name: str) -> None:
    issued = box.authority.issue_cert(name)
    issued.private_key_pem.write_to_path(str(folder / "key.pem"))
    for number, blob in enumerate(issued.cert_chain_pems):
        blob.write_to_path(str(folder / "cert.pem"), append=number > 0)
    (folder / "users").write_text(f"{box.user}:{{PLAIN}}{box.password}\n", encoding="utf-8")
    root = os.geteuid() == 0
    me = getpass.getuser()
    uid, gid = (8, 8) if root else (os.getuid(), os.getgid())
    for each in ("mail", "home", "state"):
        (folder / each).mkdir()
        if root:
            os.chown(folder / each, uid, gid)
    text = CONFIG.format(
        folder=folder, plain=box.plain, tls=box.tls, uid=uid, gid=gid,
        login_user="dovenull" if root else me,
        internal_user="dovecot" if root else me,
        group="dovecot" if root else str(gid),
    )  # fmt: skip
    (folder / "conf").write_text(text, encoding="utf-8")


def _await(box: Mailbox, process: subprocess.Popen[bytes], folder: Path) -> None:
    ends = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < ends:
        if process.poll() is not None:
            said = (folder / "out").read_text(encoding="utf-8")
            if "version" in said or "Unknown setting" in said:
                pytest.skip("this version of dovecot has another syntax")
            raise AssertionError(said)
        try:
            box.deliver()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("dovecot did not start")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
