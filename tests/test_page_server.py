"""The page that is served: who is answered, who is refused, and that nothing is left when it ends.

What browsers send: Fetch Standard (Origin, Sec-Fetch-Site), RFC 9110 (Host, methods), HTML Living
Standard 9.2 (server-sent events).
"""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator

import pytest

from setwright.compiler.sending.following import page_server
from setwright.compiler.sending.following.page_server import HOST, MOST, PageServer

PAGE = b"<p>a page of ours</p>"
POLICY = "default-src 'none'"
PATIENCE = 10.0


class Served:
    """A server, and what was turned by hand."""

    def __init__(self) -> None:
        self.turns: list[tuple[str, int | None]] = []
        self.server = PageServer(PAGE, POLICY)
        self.server.start(self._turned)
        self.host = f"127.0.0.1:{self.server.port}"
        self.root = self.server.address.removeprefix(f"http://{self.host}")

    def _turned(self, song: str, line: int | None) -> bool:
        self.turns.append((song, line))
        return song != "song-99"

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.server.port), PATIENCE)

    def ask(self, request: str, body: str = "") -> tuple[int, dict[str, str], bytes]:
        """Send what has ROOT, HOST and TOKEN in it, as it is; return status, headers and body."""
        text = request.replace("ROOT", self.root).replace("HOST", self.host)
        text = text.replace("TOKEN", self.root.strip("/")).replace("\n", "\r\n")
        with self.connect() as wire:
            wire.sendall(f"{text}\r\n\r\n{body}".encode("latin-1"))
            answer, until = b"", time.monotonic() + PATIENCE
            while more := wire.recv(65536):
                answer += more
                assert time.monotonic() < until, "an answer that does not end"
        head, _, rest = answer.partition(b"\r\n\r\n")
        first, *lines = head.decode("latin-1").split("\r\n")
        headers = dict(line.split(": ", 1) for line in lines)
        return int(first.split()[1]), headers, rest


@pytest.fixture(scope="module")
def one_for_all() -> Iterator[Served]:
    one = Served()
    yield one
    one.server.close()


@pytest.fixture
def served(one_for_all: Served) -> Served:
    one_for_all.turns.clear()
    return one_for_all


SAFE = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def test_the_page(served: Served) -> None:
    status, headers, body = served.ask("GET ROOT HTTP/1.1\nHost: HOST\nSec-Fetch-Site: none")
    assert (status, body) == (200, PAGE)
    assert headers["Content-Type"] == "text/html; charset=utf-8"
    assert headers["Content-Security-Policy"] == f"{POLICY}; frame-ancestors 'none'"
    assert headers.items() >= SAFE.items()
    assert not {"Server", "Access-Control-Allow-Origin", "Set-Cookie"} & set(headers)


def test_an_address_that_nobody_guesses(served: Served) -> None:
    other = Served()
    other.server.close()
    assert other.root != served.root
    assert len(served.root.strip("/")) >= 32
    assert served.server.address.startswith("http://127.0.0.1:")


REFUSED = {
    "another host": (421, "GET ROOT HTTP/1.1\nHost: example.org"),
    "another host with our port": (421, "GET ROOT HTTP/1.1\nHost: example.org:1"),
    "localhost by name": (421, "GET ROOT HTTP/1.1\nHost: localhost"),
    "no port": (421, "GET ROOT HTTP/1.1\nHost: 127.0.0.1"),
    "no host": (421, "GET ROOT HTTP/1.1\nAccept: */*"),
    "two hosts": (421, "GET ROOT HTTP/1.1\nHost: HOST\nHost: example.org"),
    "the same host twice": (421, "GET ROOT HTTP/1.1\nHost: HOST\nHost: HOST"),
    "another host, news": (421, "GET ROOTnews HTTP/1.1\nHost: example.org"),
    "no token": (404, "GET / HTTP/1.1\nHost: HOST"),
    "another token": (404, f"GET /{'A' * 32}/ HTTP/1.1\nHost: HOST"),
    "a part of the token": (404, "GET /TOKE/ HTTP/1.1\nHost: HOST"),
    "an odd token": (404, "GET /\xff\xe9/ HTTP/1.1\nHost: HOST"),
    "no slash behind": (404, "GET /TOKEN HTTP/1.1\nHost: HOST"),
    "two slashes before": (404, "GET /ROOT HTTP/1.1\nHost: HOST"),
    "two slashes behind": (404, "GET ROOT/ HTTP/1.1\nHost: HOST"),
    "up and down": (404, "GET ROOT../TOKEN/ HTTP/1.1\nHost: HOST"),
    "a dot": (404, "GET ROOT. HTTP/1.1\nHost: HOST"),
    "percent signs": (404, "GET ROOTn%65ws HTTP/1.1\nHost: HOST"),
    "a query": (404, "GET ROOT?x HTTP/1.1\nHost: HOST"),
    "another file": (404, "GET ROOT../../etc/passwd HTTP/1.1\nHost: HOST"),
    "a whole address": (404, "GET http://HOSTROOT HTTP/1.1\nHost: HOST"),
    "a proxy": (404, "CONNECT HOST HTTP/1.1\nHost: HOST"),
    "head": (405, "HEAD ROOT HTTP/1.1\nHost: HOST"),
    "options": (405, "OPTIONS ROOTturned HTTP/1.1\nHost: HOST"),
    "put": (405, "PUT ROOT HTTP/1.1\nHost: HOST\nContent-Length: 0"),
    "post to the page": (405, "POST ROOT HTTP/1.1\nHost: HOST\nContent-Length: 0"),
    "get what is posted": (405, "GET ROOTturned HTTP/1.1\nHost: HOST"),
    "a method of nobody's": (405, "SING ROOT HTTP/1.1\nHost: HOST"),
    "asked by another site": (403, "GET ROOTnews HTTP/1.1\nHost: HOST\nSec-Fetch-Site: cross-site"),
    "linked from another site": (403, "GET ROOT HTTP/1.1\nHost: HOST\nSec-Fetch-Site: cross-site"),
    "another port of ours": (403, "GET ROOT HTTP/1.1\nHost: HOST\nSec-Fetch-Site: same-site"),
    "news typed by hand": (403, "GET ROOTnews HTTP/1.1\nHost: HOST\nSec-Fetch-Site: none"),
    "an old protocol": (400, "GET ROOT"),
    "a new protocol": (505, "GET ROOT HTTP/2.0\nHost: HOST"),
    "a protocol of nobody's": (400, "GET ROOT HTTP/one\nHost: HOST"),
    "no request": (400, "ROOT"),
    "too many words": (400, "GET ROOT ROOT HTTP/1.1\nHost: HOST"),
    "too long": (414, f"GET /{'A' * 70_000} HTTP/1.1\nHost: HOST"),
    "too many headers": (431, "GET ROOT HTTP/1.1\nHost: HOST" + "\nX: 1" * 200),
}


@pytest.mark.parametrize("case", REFUSED)
def test_everything_else_is_refused(served: Served, case: str) -> None:
    wanted, request = REFUSED[case]
    status, headers, body = served.ask(request)
    assert (status, body) == (wanted, b"")
    assert headers.items() >= SAFE.items()
    assert headers["Content-Security-Policy"] == "default-src 'none'; frame-ancestors 'none'"
    assert served.root.strip("/") not in str(headers)
    assert "Server" not in headers


ORIGIN = "POST ROOTturned HTTP/1.1\nHost: HOST\nOrigin: http://HOST"
TURNS = {
    "a song": (204, ORIGIN, "song-7", ("song-7", None)),
    "a line": (204, ORIGIN, "song-12 3", ("song-12", 3)),
    "a request": (204, ORIGIN, "asked-2", ("asked-2", None)),
    "no song of the night": (400, ORIGIN, "song-99", ("song-99", None)),
    "nothing": (400, ORIGIN, "", None),
    "no song": (400, ORIGIN, "list", None),
    "too many words": (400, ORIGIN, "song-7 1 2", None),
    "a line break behind": (400, ORIGIN, "song-7\n", None),
    "other figures": (400, ORIGIN, "song-\xb2", None),
    "no number": (400, ORIGIN, "song-7 -1", None),
    "too long": (413, ORIGIN, "song-7" + " " * 100, None),
    "no origin": (403, "POST ROOTturned HTTP/1.1\nHost: HOST", "song-7", None),
    "another origin": (403, ORIGIN.replace("http://HOST", "http://example.org"), "song-7", None),
    "no origin of any": (403, ORIGIN.replace("http://HOST", "null"), "song-7", None),
    "two origins": (403, ORIGIN + "\nOrigin: http://example.org", "song-7", None),
    "another site": (403, ORIGIN + "\nSec-Fetch-Site: cross-site", "song-7", None),
    "another token": (404, ORIGIN.replace("ROOT", "/x/"), "song-7", None),
}  # fmt: skip


@pytest.mark.parametrize("case", TURNS)
def test_turned_by_hand(served: Served, case: str) -> None:
    wanted, request, body, turn = TURNS[case]
    status, _, said = served.ask(f"{request}\nContent-Length: {len(body)}", body)
    assert (status, said) == (wanted, b"")
    assert served.turns == ([turn] if turn else [])


@pytest.mark.parametrize(
    ("headers", "wanted"),
    [
        ("", 411),
        ("\nTransfer-Encoding: chunked", 411),
        ("\nContent-Length: -1", 411),
        ("\nContent-Length: six", 411),
        ("\nContent-Length: 6\nContent-Length: 6", 411),
        ("\nContent-Length: 999999999", 411),
        ("\nContent-Length: 9999", 413),
    ],
)
def test_how_long_it_is_has_to_be_said(served: Served, headers: str, wanted: int) -> None:
    assert served.ask(ORIGIN + headers, "song-7")[0] == wanted
    assert served.turns == []


def own_addresses() -> list[str]:
    """Return other addresses of this machine: of its loop, and of its network if it has one."""
    found = {"127.0.0.2", "::1"}
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        # Nothing is sent: it is only asked which address would be used (RFC 5737, RFC 3849).
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as asked:
                asked.connect((far, 9))
                found.add(asked.getsockname()[0])
        except OSError:
            continue
    found.update(str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None))
    return sorted(found - {"127.0.0.1"})


def test_no_other_address_is_bound(served: Served) -> None:
    assert HOST == "127.0.0.1"
    assert own_addresses()
    for address in own_addresses():
        with pytest.raises(OSError):
            socket.create_connection((address, served.server.port), 2).close()


def events(wire: socket.socket) -> Iterator[tuple[str, str]]:
    """Yield the kind and the data of each event, as the HTML Standard reads them."""
    stream = wire.makefile("r", encoding="utf-8", newline="\n")
    while stream.readline() != "\r\n":
        pass
    kind, data = "message", ""
    for line in stream:
        name, _, value = line.rstrip("\n").partition(":")
        if name == "event":
            kind = value.strip()
        elif name == "data":
            data += value.removeprefix(" ")
        elif not name and (data or kind != "message"):
            yield kind, data
            kind, data = "message", ""


def opened(served: Served) -> tuple[socket.socket, Iterator[tuple[str, str]]]:
    wire = served.connect()
    wire.sendall(f"GET {served.root}news HTTP/1.1\r\nHost: {served.host}\r\n\r\n".encode())
    return wire, events(wire)


def test_news_reach_every_page(served: Served) -> None:
    """Those that come late are told the latest; who hears nothing is told that we are here."""
    served.server.tell({"now": "‘one’\n2"})
    streams = [opened(served) for _ in range(3)]
    for _, heard in streams:
        kind, data = next(heard)
        assert (kind, json.loads(data)) == ("message", {"now": "‘one’\n2"})
    served.server.tell({"now": "two"})
    for _, heard in streams:
        assert next(heard) == ("message", '{"now": "two"}')
    assert [next(heard)[0] for _, heard in streams] == ["here"] * 3
    streams[0][0].close()
    served.server.tell({"now": "three"})
    for _, heard in streams[1:]:
        assert next(one for one in heard if one[0] == "message")[1] == '{"now": "three"}'
    for wire, _ in streams[1:]:
        wire.close()


def test_nothing_is_left_when_it_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """Open pages are told; who only holds the line is cut off; no thread, no port."""
    monkeypatch.setattr(page_server._Handler, "timeout", 60.0)
    before = set(threading.enumerate())
    served = Served()
    wire, heard = opened(served)
    assert next(heard)[0] == "here"
    silent = served.connect()
    half = served.connect()
    half.sendall(b"GET ")
    slow = served.connect()
    slow.sendall(
        f"POST {served.root}turned HTTP/1.1\r\nHost: {served.host}\r\n"
        f"Origin: http://{served.host}\r\nContent-Length: 6\r\n\r\nsong".encode()
    )
    time.sleep(0.2)
    served.server.close()
    assert list(heard)[-1] == ("over", "")
    for one in (silent, half, slow):
        assert one.recv(100) == b"" or one is slow
        one.close()
    wire.close()
    assert served.turns == []
    assert set(threading.enumerate()) <= before
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", served.server.port), 2)


def test_too_many_are_turned_away() -> None:
    served = Served()
    try:
        held = [served.connect() for _ in range(MOST)]
        time.sleep(0.3)
        with served.connect() as one_more:
            assert one_more.recv(100) == b""
        held.pop().close()
        deadline = time.monotonic() + PATIENCE
        while True:
            try:
                assert served.ask("GET ROOT HTTP/1.1\nHost: HOST")[0] == 200
                break
            except (IndexError, OSError):
                assert time.monotonic() < deadline
        for one in held:
            one.close()
    finally:
        served.server.close()


def test_it_can_end_before_it_began() -> None:
    server = PageServer(PAGE, POLICY)
    server.close()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", server.port), 2)
