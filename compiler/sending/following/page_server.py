"""A page for the browsers of this machine alone, and news that reach it while it is open.

The server is `http.server` of the standard library, a thread for each connection, and news are
server-sent events (HTML Living Standard, section 9.2): text lines over one plain answer that does
not end, which every browser reads by itself and takes up again where it breaks. News go one way
here, one short text at a time; a library for more would be more to trust than these pages.

Who may ask: it is bound to 127.0.0.1, which only this machine reaches (RFC 1122, 3.2.1.3). Each
request has to name exactly that address and port as its host, so that no other site's name can be
led here (DNS rebinding), and to begin with a token that nobody can guess and no other site is told
(no referrer). What a page sends has to come from our own page (Origin: RFC 6454, section 7). There
are three paths, and anything else, whatever its form, is refused with an empty answer.
"""

from __future__ import annotations

import json
import re
import secrets
import socket
import socketserver
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler
from typing import Any

HOST = "127.0.0.1"
BEAT = 1.0
"""Seconds after which an open page is told that we are here, at the latest."""
MOST = 64
"""Connections at a time; a browser opens at most a handful for each of its pages."""
_SLOW = 5.0  # seconds for which a browser may neither ask nor take anything
_FAREWELL = 1.0  # seconds for the last words, then every connection is cut
_LONGEST = 64  # bytes of what a page sends

_LOCAL = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}
_NOTHING = "default-src 'none'"
_NOT_FRAMED = "frame-ancestors 'none'"

Turned = Callable[[str, int | None], bool]
"""Told of a page that was turned by hand: the song's id, and the line if one was chosen; whether
there is such a song and line."""


class PageServer:
    """The page, served until it is closed.

    ``policy`` is its Content Security Policy. OSError where no port can be had.
    """

    def __init__(self, page: bytes, policy: str) -> None:
        self._about = _About(page, policy)
        self._server = _Server(self._about)
        self.port: int = self._server.server_address[1]
        self.address = f"http://{HOST}:{self.port}{self._about.root}"
        serve = partial(self._server.serve_forever, poll_interval=0.1)
        self._thread = threading.Thread(target=serve, name="page server", daemon=True)

    def start(self, turned: Turned) -> None:
        """Begin to answer; ``turned`` is called in threads of its own."""
        self._about.turned = turned
        self._thread.start()

    def tell(self, news: Mapping[str, object]) -> None:
        """Tell every page ``news``, which stand for all that was told before."""
        self._about.news.put(news)

    def close(self) -> None:
        """Say farewell to every page, end every connection and thread, and give up the port."""
        self._about.news.end()
        if self._thread.is_alive():
            self._server.shutdown()
            self._thread.join()
        self._server.end(_FAREWELL)


class _News:
    """What was told last; whoever has heard less is woken."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._number = 0
        self._text = ""
        self.over = False

    def put(self, news: Mapping[str, object]) -> None:
        text = json.dumps(news)  # in ASCII and on one line, so one `data:` line holds it
        with self._changed:
            self._number, self._text = self._number + 1, text
            self._changed.notify_all()

    def end(self) -> None:
        with self._changed:
            self.over = True
            self._changed.notify_all()

    def after(self, number: int) -> tuple[int, str]:
        """Return the latest news, and their number; waits where that is ``number``."""
        with self._changed:
            self._changed.wait_for(lambda: self.over or self._number != number, BEAT)
            return self._number, self._text


class _About:
    """What every request is answered from."""

    def __init__(self, page: bytes, policy: str) -> None:
        self.page, self.policy = page, policy
        self.root = f"/{secrets.token_urlsafe(24)}/"
        self.news = _News()
        self.turned: Turned = lambda song, line: False


class _Server(socketserver.ThreadingTCPServer):
    """A port of this machine alone; `http.server` asks the network for its own name as well."""

    # On some systems an address that may be used again may be taken from us, too.
    allow_reuse_address = False
    daemon_threads = True
    block_on_close = False
    request_queue_size = MOST

    def __init__(self, about: _About) -> None:
        self.about = about
        self._open: dict[socket.socket, threading.Thread] = {}
        self._lock = threading.Lock()
        super().__init__((HOST, 0), _Handler)

    def server_bind(self) -> None:
        """Take a port that is free, and on Windows let nobody else take it as well."""
        alone = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)
        if alone is not None:
            self.socket.setsockopt(socket.SOL_SOCKET, alone, 1)
        super().server_bind()

    def process_request(self, request: Any, client_address: Any) -> None:
        """Answer in a thread of its own, as long as there are not too many."""
        thread = threading.Thread(
            target=self.process_request_thread, args=(request, client_address), daemon=True
        )
        with self._lock:
            full = len(self._open) >= MOST
            if not full:
                self._open[request] = thread
        if full:
            self.shutdown_request(request)
        else:
            thread.start()

    def shutdown_request(self, request: Any) -> None:
        """Close a connection."""
        super().shutdown_request(request)
        with self._lock:
            self._open.pop(request, None)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of browsers that went away or were slow; a fault of our own is no secret."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)

    def end(self, seconds: float) -> None:
        """Close the port, and every connection that has not ended by itself within ``seconds``."""
        self.server_close()
        until = time.perf_counter() + seconds
        for cut in (False, True):
            with self._lock:
                left = list(self._open.items())
            for request, thread in left:
                if cut:
                    with suppress(OSError):
                        request.shutdown(socket.SHUT_RDWR)
                thread.join(_SLOW if cut else max(0.0, until - time.perf_counter()))


class _Handler(BaseHTTPRequestHandler):
    """One request: refused, unless everything about it is as our own page asks."""

    server: _Server
    timeout = _SLOW

    def parse_request(self) -> bool:
        """Read the request; False where it is none, or was refused."""
        if not super().parse_request():
            return False
        asked = self.requestline.split(" ")
        if len(asked) != 3 or asked[2] not in {"HTTP/1.0", "HTTP/1.1"}:
            return self._refuse(HTTPStatus.BAD_REQUEST)
        # As it was typed: the library takes leading slashes away.
        method, path = asked[0], asked[1]
        about = self.server.about
        port = self.server.server_address[1]
        if self.headers.get_all("Host") != [f"{HOST}:{port}"]:
            return self._refuse(HTTPStatus.MISDIRECTED_REQUEST)
        root, name = path[: len(about.root)], path[len(about.root) :]
        known = secrets.compare_digest(root.encode("utf-8", "replace"), about.root.encode())
        methods = {"": "GET", "news": "GET", "turned": "POST"}
        if not known or name not in methods:
            return self._refuse(HTTPStatus.NOT_FOUND)
        if method != methods[name]:
            return self._refuse(HTTPStatus.METHOD_NOT_ALLOWED, {"Allow": methods[name]})
        # Browsers say where a request comes from (W3C, Fetch Metadata Request Headers, 2.4).
        site = self.headers.get("Sec-Fetch-Site", "same-origin")
        typed = name == "" and site == "none"
        if site != "same-origin" and not typed:
            return self._refuse(HTTPStatus.FORBIDDEN)
        if method == "POST" and self.headers.get_all("Origin") != [f"http://{HOST}:{port}"]:
            return self._refuse(HTTPStatus.FORBIDDEN)
        self.asks_for = name
        return True

    def do_GET(self) -> None:
        """Give the page, or the news for as long as somebody reads them."""
        if self.asks_for == "news":
            self._tell()
            return
        about = self.server.about
        self._head(
            HTTPStatus.OK,
            {
                "Content-Type": "text/html; charset=utf-8",
                "Content-Length": str(len(about.page)),
            },
            about.policy,
        )
        self.wfile.write(about.page)

    def do_POST(self) -> None:
        """Take note of a page that was turned by hand: ``song-7``, or ``song-7 2`` for a line."""
        length = self.headers.get_all("Content-Length") or []
        if len(length) != 1 or not re.fullmatch(r"[0-9]{1,4}", length[0]):
            self._refuse(HTTPStatus.LENGTH_REQUIRED)
            return
        if int(length[0]) > _LONGEST:
            self._refuse(HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
            return
        said = re.fullmatch(
            rb"((?:song|asked)-[0-9]{1,6})(?: ([0-9]{1,6}))?", self.rfile.read(int(length[0]))
        )
        if said is None:
            self._refuse(HTTPStatus.BAD_REQUEST)
            return
        line = None if said[2] is None else int(said[2])
        if self.server.about.turned(said[1].decode("ascii"), line):
            self._head(HTTPStatus.NO_CONTENT, {})
        else:
            self._refuse(HTTPStatus.BAD_REQUEST)

    def _tell(self) -> None:
        self._head(HTTPStatus.OK, {"Content-Type": "text/event-stream; charset=utf-8"})
        news = self.server.about.news
        heard = 0
        self._say("retry: 500\n")
        while not news.over:
            number, text = news.after(heard)
            self._say(f"data: {text}\n" if number != heard else "event: here\ndata:\n")
            heard = number
        self._say("event: over\ndata:\n")

    def _say(self, lines: str) -> None:
        self.wfile.write(f"{lines}\n".encode("ascii"))

    def _head(self, status: HTTPStatus, headers: Mapping[str, str], policy: str = _NOTHING) -> None:
        self.send_response_only(status)
        policies = {"Content-Security-Policy": f"{policy}; {_NOT_FRAMED}"}
        for name, value in {**headers, **_LOCAL, **policies, "Connection": "close"}.items():
            self.send_header(name, value)
        self.end_headers()

    def _refuse(self, status: HTTPStatus, headers: Mapping[str, str] | None = None) -> bool:
        self.close_connection = True
        self.request_version = "HTTP/1.0"  # which has a first line, whatever was asked in
        self._head(status, {"Content-Length": "0", **(headers or {})})
        return False

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Refuse what the library could not read, without a word of its own."""
        self.command = ""
        self._refuse(HTTPStatus(code))

    def log_message(self, *_: object) -> None:
        """Print nothing: what browsers ask is nobody's concern, and has the token in it."""
