"""A real Postfix with a real Dovecot behind its login, on loopback, for as long as tests last.

Three ports of one server: STARTTLS and TLS with a login, and a plain one without. Mails end in
folders that the tests read. Skipped with the reason where a part is not installed.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import socket
import socketserver
import subprocess
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import Message
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
import trustme

USER, PASSWORD = "gärtner", "süßes Stroh 100 % ♥"
TOKEN_USER, TOKEN = "bell@example.org", "good-token"
OWN_ADDRESS, NOT_OURS = "bell@example.org", "other@example.org"
GROWER_PASSWORD = "straw and string"
"""Of the one who has a mailbox here: the login is the address."""
SOMEBODY, GREYLISTED, NOBODY = "grower@example.org", "grey@example.org", "nobody@example.org"
ELSEWHERE = "somebody@example.net"
STARTS_WITHIN_S = 30.0
ARRIVES_WITHIN_S = 20.0

MAIN_CF = """
compatibility_level = 3.6
queue_directory = {folder}/queue
data_directory = {folder}/data
maillog_file = {folder}/log
maillog_file_prefixes = {folder}
myhostname = mail.example.org
mydestination =
local_recipient_maps =
alias_maps =
mynetworks = 127.0.0.0/8
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
biff = no
virtual_mailbox_domains = example.org
virtual_mailbox_base = {folder}/mail
virtual_mailbox_maps = inline:{{ {{ grower@example.org = grower/ }}
  {{ grey@example.org = grey/ }} }}
virtual_minimum_uid = 1
virtual_uid_maps = static:{uid}
virtual_gid_maps = static:{gid}
smtpd_tls_cert_file = {folder}/cert.pem
smtpd_tls_key_file = {folder}/key.pem
smtpd_sasl_type = dovecot
smtpd_sasl_path = {folder}/auth
smtpd_sender_login_maps = inline:{{ {{ bell@example.org = {user}, bell@example.org }}
  {{ other@example.org = somebody }} {{ grower@example.org = grower@example.org }} }}
smtpd_sender_restrictions = reject_sender_login_mismatch
smtpd_relay_restrictions = permit_sasl_authenticated, reject_unauth_destination
smtpd_recipient_restrictions = check_policy_service inet:127.0.0.1:{policy}
smtpd_client_connection_rate_limit = 0
smtpd_error_sleep_time = 0
smtpd_soft_error_limit = 100
default_transport = discard
"""

MASTER_CF = """
127.0.0.1:{starttls} inet n - n - - smtpd
  -o smtpd_tls_security_level=encrypt -o smtpd_sasl_auth_enable=yes
127.0.0.1:{tls} inet n - n - - smtpd
  -o smtpd_tls_wrappermode=yes -o smtpd_sasl_auth_enable=yes
127.0.0.1:{plain} inet n - n - - smtpd
  -o smtpd_tls_security_level=none -o smtpd_sender_restrictions=
pickup unix n - n 60 1 pickup
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
tlsmgr unix - - n 1000? 1 tlsmgr
proxymap unix - - n - - proxymap
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
anvil unix - - n - 1 anvil
virtual unix - n n - - virtual
discard unix - - n - - discard
postlog unix-dgram n - n - 1 postlogd
"""

DOVECOT_CONF = """
base_dir = {folder}/run
state_dir = {folder}/state
log_path = {folder}/dovecot-log
protocols = imap
listen = 127.0.0.1
ssl = yes
ssl_cert = <{folder}/cert.pem
ssl_key = <{folder}/key.pem
mail_location = maildir:{folder}/mail/%n
first_valid_uid = 1
disable_plaintext_auth = no
auth_failure_delay = 0
auth_username_chars =
auth_mechanisms = plain login xoauth2
passdb {{
  driver = passwd-file
  args = scheme=PLAIN username_format=%u {folder}/users
}}
passdb {{
  driver = oauth2
  mechanisms = xoauth2
  args = {folder}/tokens
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={folder}
}}
service imap-login {{
  inet_listener imap {{
    port = 0
  }}
  inet_listener imaps {{
    port = {imaps}
    ssl = yes
  }}
}}
service auth {{
  unix_listener {folder}/auth {{
    mode = 0666
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
"""


@dataclass
class MailHouse:
    """The running server, and what the tests need of it."""

    folder: Path
    authority: trustme.CA
    starttls: int
    tls: int
    plain: int
    imaps: int
    tries: Counter[str] = field(default_factory=Counter)
    """How often mail for a recipient was asked for; the first one for `GREYLISTED` is put off."""

    @property
    def sendmail(self) -> Path:
        """The server's own sendmail program, for this instance."""
        return self.folder / "sendmail"

    def inbox(self, name: str = "grower") -> list[bytes]:
        """Return the mails that lie there, with the line ends of the wire."""
        # Whoever reads by IMAP moves them on, and marks them.
        found = sorted((self.folder / "mail" / name).glob("[cn][ue][rw]/*"))
        return [mail.read_bytes().replace(b"\n", b"\r\n") for mail in found]

    def arrived(self, message_id: str, times: int = 1, name: str = "grower") -> list[bytes]:
        """Wait for a message, so often, and return what arrived under its identity."""
        ends = time.monotonic() + ARRIVES_WITHIN_S
        while True:
            mine = [
                m for m in self.inbox(name) if message_from_bytes(m)["Message-ID"] == message_id
            ]
            if len(mine) >= times or time.monotonic() > ends:
                return mine
            time.sleep(0.05)


def parsed(mail: bytes) -> Message:
    """Return a mail as it is read."""
    return message_from_bytes(mail)


@contextmanager
def mail_house() -> Iterator[MailHouse]:
    """Run the server; its certificate is made out to localhost."""
    programs = {name: _found(name) for name in ("postfix", "dovecot", "sendmail")}
    if os.geteuid() != 0:
        pytest.skip("Postfix can only be started by root")
    version = subprocess.check_output([programs["dovecot"], "--version"], text=True)
    if not version.startswith("2.3."):
        pytest.skip("the Dovecot here is not of the 2.3 line, whose configuration this is")
    # Its own users have to walk there, and its sockets need a short path.
    folder = Path(tempfile.mkdtemp(prefix="mail-", dir="/tmp"))
    folder.chmod(0o755)
    house = MailHouse(folder, trustme.CA(), *(_free_port() for _ in range(4)))
    with ExitStack() as world:
        world.callback(shutil.rmtree, folder, ignore_errors=True)
        policy = world.enter_context(_policy(house))
        tokens = world.enter_context(_token_service())
        _write(house, programs["sendmail"], policy, tokens)
        world.enter_context(_dovecot(house, programs["dovecot"]))
        world.enter_context(_postfix(house, programs["postfix"]))
        yield house


def _found(name: str) -> str:
    program = shutil.which(name, path=f"{os.environ['PATH']}:/usr/sbin:/usr/lib")
    if program is None:
        pytest.skip(f"{name} is not installed")
    return program


def _write(house: MailHouse, sendmail: str, policy: int, tokens: int) -> None:
    folder, nobody = house.folder, pwd.getpwnam("mail")
    issued = house.authority.issue_cert("localhost")
    issued.private_key_pem.write_to_path(str(folder / "key.pem"))
    for number, blob in enumerate(issued.cert_chain_pems):
        blob.write_to_path(str(folder / "cert.pem"), append=number > 0)
    for name in ("queue", "data", "mail", "state", "conf"):
        (folder / name).mkdir()
    os.chown(folder / "data", pwd.getpwnam("postfix").pw_uid, -1)
    os.chown(folder / "mail", nobody.pw_uid, nobody.pw_gid)
    words = {
        "folder": folder, "uid": nobody.pw_uid, "gid": nobody.pw_gid, "policy": policy,
        "user": USER, "starttls": house.starttls, "tls": house.tls, "plain": house.plain,
        "imaps": house.imaps,
    }  # fmt: skip
    tokens_conf = f"tokeninfo_url = http://127.0.0.1:{tokens}/?token=\nusername_attribute = email\n"
    files = {
        "conf/main.cf": MAIN_CF.format(**words),
        "conf/master.cf": MASTER_CF.format(**words),
        "dovecot.conf": DOVECOT_CONF.format(**words),
        "users": f"{USER}:{{PLAIN}}{PASSWORD}\n{SOMEBODY}:{{PLAIN}}{GROWER_PASSWORD}\n",
        "tokens": tokens_conf,
        "sendmail": f'#!/bin/sh\nexec {sendmail} -C {folder}/conf "$@"\n',
    }
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    house.sendmail.chmod(0o755)


@contextmanager
def _dovecot(house: MailHouse, program: str) -> Iterator[None]:
    command = [program, "-F", "-c", str(house.folder / "dovecot.conf")]
    with (house.folder / "dovecot-out").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            _await((house.folder / "auth").exists, house)
            yield
        finally:
            process.terminate()
            process.wait(STARTS_WITHIN_S)


@contextmanager
def _postfix(house: MailHouse, program: str) -> Iterator[None]:
    command = [program, "-c", str(house.folder / "conf")]
    try:
        # Not captured: the server keeps the outputs of who starts it.
        with (house.folder / "start-log").open("wb") as out:
            started = subprocess.run([*command, "start"], stdout=out, stderr=out, check=False)
        assert started.returncode == 0, _logs(house)
        _await(lambda: all(_answers(port) for port in (house.starttls, house.tls)), house)
        yield
    finally:
        subprocess.run([*command, "stop"], capture_output=True, check=False)


def _await(ready: Callable[[], bool], house: MailHouse) -> None:
    ends = time.monotonic() + STARTS_WITHIN_S
    while not ready():
        if time.monotonic() > ends:
            raise AssertionError(_logs(house))
        time.sleep(0.05)


def _logs(house: MailHouse) -> str:
    logs = [file for file in house.folder.glob("*log") if file.is_file()]
    return "\n".join(file.read_text(encoding="utf-8", errors="replace") for file in logs)


def _answers(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
        return True
    return False


@contextmanager
def _policy(house: MailHouse) -> Iterator[int]:
    """Count what is asked for; the first mail for `GREYLISTED` is put off."""

    class Policy(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            asked: dict[str, str] = {}
            for raw in self.rfile:
                name, _, value = raw.decode("utf-8", "replace").strip().partition("=")
                if name:
                    asked[name] = value
                    continue
                recipient = asked.pop("recipient", "")
                house.tries[recipient] += 1
                put_off = recipient == GREYLISTED and house.tries[recipient] == 1
                action = "451 4.7.1 Greylisted, come again" if put_off else "DUNNO"
                self.wfile.write(f"action={action}\n\n".encode())

    class Server(socketserver.ThreadingTCPServer):
        daemon_threads = True

    with Server(("127.0.0.1", 0), Policy) as server:
        yield from _serving(server)


@contextmanager
def _token_service() -> Iterator[int]:
    """Know one access token, as the service of a provider does."""

    class Tokens(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            known = self.path.endswith(f"token={TOKEN}")
            body = f'{{"email": "{TOKEN_USER}"}}'.encode() if known else b"{}"
            self.send_response(200 if known else 401)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Tokens) as server:
        yield from _serving(server)


def _serving(server: socketserver.BaseServer) -> Iterator[int]:
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield server.server_address[1]  # type: ignore[misc]
    finally:
        server.shutdown()
        thread.join(5)


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


@contextmanager
def cutting(port: int, *, after: bytes, answered: bool) -> Iterator[int]:
    """Stand before a plain port and cut the line once the client has sent something.

    With `answered` the server hears it and answers, and the answer is lost; else the server never
    hears it.
    """
    listener = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        with contextlib.suppress(OSError):
            client, _ = listener.accept()
            with client, socket.create_connection(("127.0.0.1", port)) as server:
                _relay(client, server, after, answered=answered)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        listener.close()
        thread.join(5)


def _relay(client: socket.socket, server: socket.socket, after: bytes, *, answered: bool) -> None:
    """Pass words to and fro, one side after the other, as the protocol has them."""
    sent = b""
    client.sendall(server.recv(65_536))
    while True:
        said = client.recv(65_536)
        if not said:
            return
        sent += said
        is_last = after in sent
        if is_last and not answered:
            return
        server.sendall(said)
        if b"DATA\r\n" in sent and not sent.endswith((b"DATA\r\n", b"\r\n.\r\n")):
            # In the middle of the text nobody answers.
            continue
        reply = server.recv(65_536)
        if is_last:
            return
        client.sendall(reply)
