"""A push server of topics as the open protocol has it, on loopback, with its moods.

It keeps messages in the order they came, answers a poll from a message it does not know with all
it has, refuses more than three buttons, and sets no Retry-After.
"""

from __future__ import annotations

import json
import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

LINK = "https://push.example.org/docs"
TOPIC = re.compile(r"[-_A-Za-z0-9]{1,64}")
MOST_BYTES = 4096
ERRORS = {
    401: (40101, "unauthorized"),
    403: (40301, "forbidden"),
    404: (40401, "page not found"),
    429: (42901, "limit reached: too many requests"),
    507: (50701, "cannot publish without previously active subscriber"),
}


class PushServer:
    """What is on the server, and how it behaves.

    `mood` is "" for well, a status to refuse everything with, "old" for a server that knows no
    sequence ids, "portal" for a login page in its place, "cut" for polls that end within a line,
    "silent" for no answer after the request.
    """

    def __init__(self, port: int) -> None:
        self.url = f"http://127.0.0.1:{port}"
        self.mood: str | int = ""
        self.token: str | None = None
        self.events: list[dict[str, Any]] = []
        self.heard: list[tuple[str, str, dict[str, str]]] = []
        self.guard = threading.Lock()

    def add(self, topic: str, event: str = "message", **fields: object) -> dict[str, Any]:
        with self.guard:
            made = {
                "id": f"m{len(self.events):011d}",
                "time": int(time.time()),
                "expires": int(time.time()) + 43_200,
                "event": event,
                "topic": topic,
                **fields,
            }
            self.events.append(made)
            return made

    def shown(self, topic: str) -> dict[str, dict[str, Any]]:
        """Return what a phone shows of a topic: the last word on each notice."""
        now: dict[str, dict[str, Any]] = {}
        for event in self.events:
            if event["topic"] != topic:
                continue
            key = str(event.get("sequence_id") or event["id"])
            if event["event"] == "message":
                now[key] = event
            else:
                now.pop(key, None)
        return now

    def press(self, notice: dict[str, Any], label: str) -> dict[str, Any]:
        """Press a button of a notice as a phone does."""
        (button,) = [each for each in notice["actions"] if each["label"] == label]
        assert button["method"] == "POST"
        return self.add(urlsplit(button["url"]).path.strip("/"), message=button["body"])


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    board: PushServer

    def log_message(self, *_: object) -> None:
        pass

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        if self._refuses("POST"):
            return
        topic = urlsplit(self.path).path.strip("/")
        if topic == "hook":
            self._send(200, b"thanks")
            return
        if topic:
            self._json(200, self.board.add(topic, message=body.decode()))
            return
        try:
            message = json.loads(body)
        except ValueError:
            self._error(400, 40024, "invalid request: request body must be valid JSON")
            return
        if not TOPIC.fullmatch(str(message.get("topic", ""))):
            self._error(400, 40009, "invalid request: topic invalid")
        elif len(message.get("actions", ())) > 3:
            said = "invalid request: actions invalid, only 3 actions allowed"
            self._error(400, 40018, said)
        elif len(str(message.get("message", "")).encode()) > MOST_BYTES:
            self._error(413, 41301, "attachment too large, or bandwidth limit reached")
        else:
            if self.board.mood == "old":
                message.pop("sequence_id", None)
            self._json(200, self.board.add(**message))

    def do_DELETE(self) -> None:
        if self._refuses("DELETE"):
            return
        topic, _, place = urlsplit(self.path).path.strip("/").partition("/")
        if self.board.mood == "old":
            self._error(404, 40401, "page not found")
        else:
            self._json(200, self.board.add(topic, "message_delete", sequence_id=place))

    def do_GET(self) -> None:
        if self._refuses("GET"):
            return
        parts = urlsplit(self.path)
        topic = parts.path.strip("/").removesuffix("/json")
        since = parse_qs(parts.query).get("since", ["all"])[0]
        mine = [each for each in self.board.events if each["topic"] == topic]
        known = [number for number, each in enumerate(mine) if each["id"] == since]
        # An id that is not known gives everything, as does a duration here.
        lines = [json.dumps(each) for each in mine[known[0] + 1 if known else 0 :]]
        lines.append(json.dumps({"id": "k", "time": 0, "event": "keepalive", "topic": topic}))
        body = "\n".join(lines).encode()
        if self.board.mood == "cut":
            body = body[: body.rindex(b"\n") - 20]
        self._send(200, body, "application/x-ndjson")

    def _refuses(self, method: str) -> bool:
        board = self.board
        board.heard.append((method, self.path, dict(self.headers)))
        if board.mood == "silent":
            self.close_connection = True
            return True
        if board.mood == "portal":
            self._send(200, b"<html>Please log in</html>", "text/html")
            return True
        if isinstance(board.mood, int):
            if board.mood in (302, 307):
                self.send_response(board.mood)
                self.send_header("Location", "http://127.0.0.1:1/")
                self.send_header("Content-Length", "0")
                self.end_headers()
            else:
                code, said = ERRORS.get(board.mood, (board.mood * 100, "internal server error"))
                self._error(board.mood, code, said)
            return True
        wanted = board.token
        if wanted and self.headers.get("Authorization") != f"Bearer {wanted}":
            self._error(401, *ERRORS[401])
            return True
        return False

    def _error(self, status: int, code: int, said: str) -> None:
        self._json(status, {"code": code, "http": status, "error": said, "link": LINK})

    def _json(self, status: int, value: object) -> None:
        self._send(status, json.dumps(value).encode(), "application/json")

    def _send(self, status: int, body: bytes, kind: str = "text/plain") -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


@contextmanager
def push_server() -> Iterator[PushServer]:
    """Run a server for as long as the test lasts."""
    handler = type("Handler", (_Handler,), {})
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        board = PushServer(server.server_address[1])
        handler.board = board  # type: ignore[attr-defined]
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield board
        finally:
            server.shutdown()
            thread.join(10)
