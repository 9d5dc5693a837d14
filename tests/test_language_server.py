"""The client of yaml-language-server itself, tried with a tiny schema.

What it pins about the server is what our own schemas rest on: how it takes plain scalars that
our reader keeps as text, and where it shows descriptions and names.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.language_server import (
    COMMAND_VARIABLE,
    Diagnostic,
    LanguageServer,
    LanguageServerError,
    find_server,
    uri_of,
)

MODELINE = "# yaml-language-server: $schema=./songs.schema.json\n"

SCHEMA = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "type": "object",
    "properties": {
        "title": {"type": ["string", "number"], "description": "What is on the setlist."},
        "tempo": {"type": "number", "description": "Beats in a minute."},
        "scenes": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "name": {"type": "string", "description": "Shown on the foot switch."},
                    "on": {"type": "integer", "description": "The value sent for on."},
                },
                "additionalProperties": False,
            },
        },
        "text": {"type": "string"},
        "texts": {"type": ["string", "number"]},
        "numbers": {
            "type": "object",
            "patternProperties": {"^[0-9]+$": {"type": "integer", "maximum": 127}},
            "additionalProperties": False,
        },
        "named": {
            "type": "object",
            "properties": {"10": {"type": "integer"}},
            "additionalProperties": False,
        },
    },
    "additionalProperties": False,
}

GOOD = "title: Blue Sky\ntempo: 96\nscenes:\n  - name: Verse\n    on: 127\n"
BAD = "title: Blue Sky\ntempo: fast\nscenes:\n  - name: Verse\n    nmae: x\n"


@pytest.fixture(scope="module")
def command() -> list[str]:
    found = find_server()
    if found is None:
        pytest.skip("needs yaml-language-server")
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    # A name with every sort of character that a URI or a glob could trip over.
    folder = tmp_path_factory.mktemp("Jo's gigs (é) #1 [x] 100%!")
    (folder / "songs.schema.json").write_text(json.dumps(SCHEMA), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def server(command: list[str], folder: Path) -> Iterator[LanguageServer]:
    schemas: dict[Path, list[Path | str]] = {
        folder / "songs.schema.json": [folder / "set by path.yaml", "*.song.yaml"]
    }
    with LanguageServer(folder, schemas, command=command) as server:
        yield server
    assert server.exit_code == 0


# Settings by path, settings by glob, and the file's own first line.
WAYS = [("set by path.yaml", ""), ("blue sky.song.yaml", ""), ("modeline.yaml", MODELINE)]


@pytest.mark.parametrize(("name", "first"), WAYS)
def test_checks_against_the_schema(
    server: LanguageServer, folder: Path, name: str, first: str
) -> None:
    path = folder / name
    below = first.count("\n")
    assert server.diagnostics(server.open(path, first + GOOD)) == []

    found = server.diagnostics(server.open(path, first + BAD))
    assert sorted(found, key=lambda one: one.line) == [
        Diagnostic(1 + below, 7, 1 + below, 11, 'Incorrect type. Expected "number".', 1),
        Diagnostic(4 + below, 4, 4 + below, 8, "Property nmae is not allowed.", 1),
    ]

    assert server.diagnostics(server.open(path, first + GOOD)) == []


@pytest.mark.parametrize(("name", "first"), WAYS)
def test_hovers_and_completes(server: LanguageServer, folder: Path, name: str, first: str) -> None:
    path = folder / name
    below = first.count("\n")
    server.open(path, first + GOOD)
    assert "Beats in a minute." in server.hover(path, 1 + below, 2)
    assert "Shown on the foot switch." in server.hover(path, 3 + below, 5)
    assert "The value sent for on." in server.hover(path, 4 + below, 4)

    server.open(path, first + "title: Blue Sky\n")
    offered = server.complete(path, 1 + below, 0)
    assert {"tempo", "scenes"} <= set(offered)
    assert "title" not in offered

    server.open(path, first + "scenes:\n  - name: Verse\n    \n")
    assert server.complete(path, 2 + below, 4) == ["on"]


def test_a_file_with_no_schema_has_nothing_to_say(server: LanguageServer, folder: Path) -> None:
    path = folder / "notes.yaml"
    assert server.diagnostics(server.open(path, BAD)) == []
    assert server.hover(path, 1, 2) == ""


def test_columns_count_utf_16_units(server: LanguageServer, folder: Path) -> None:
    found = server.diagnostics(server.open(folder / "a.song.yaml", "{title: 🎸, nope: 1}\n"))
    assert found == [Diagnostic(0, 12, 0, 16, "Property nope is not allowed.", 1)]


# Under YAML 1.2, which is also the server's own default, these stay text.
TEXT = ["on", "off", "yes", "no", "y", "12:30", "12:30:45", "1_000", "2026-01-01", "'4'"]
# These become numbers, and are refused where the schema asks for a string.
NUMBERS = ["4", "-4", "+4", "1.10", "010", "0o10", "0x1F", "1e3", ".5", ".inf", ".nan"]
# These are neither text nor number.
OTHERS = ["true", "False", "null", "~", ""]


def test_what_plain_scalars_are(server: LanguageServer, folder: Path) -> None:
    # All are opened before any is asked about: the server waits a moment before each check.
    files = {
        (field, value): server.open(folder / f"{field} {number}.song.yaml", f"{field}: {value}\n")
        for field in ("text", "texts")
        for number, value in enumerate([*TEXT, *NUMBERS, *OTHERS])
    }
    refused = {key for key, uri in files.items() if server.diagnostics(uri)}
    assert refused == {
        *(("text", value) for value in [*NUMBERS, *OTHERS]),
        *(("texts", value) for value in OTHERS),
    }


@pytest.mark.parametrize(
    ("text", "messages"),
    [
        ("numbers:\n  10: 127\n", []),
        ("numbers:\n  10: 200\n", ["Value is above the maximum of 127."]),
        ("numbers:\n  10: 1\n  on: 1\n", ["Property on is not allowed."]),
        # A key is compared as the number it is read as.
        ("numbers:\n  10: 1\n  010: 1\n", ["Map keys must be unique"]),
        # A plain number is never the name of a property; only a pattern takes it.
        ("named:\n  '10': 1\n", []),
        ("named:\n  10: 1\n", ["Property 10 is not allowed."]),
    ],
)
def test_what_plain_keys_are(
    server: LanguageServer, folder: Path, text: str, messages: list[str]
) -> None:
    found = server.diagnostics(server.open(folder / "keys.song.yaml", text))
    assert [one.message for one in found] == messages


def test_a_schema_on_the_web_is_not_fetched(server: LanguageServer, folder: Path) -> None:
    text = "# yaml-language-server: $schema=http://example.org/songs.schema.json\ntitle: x\n"
    found = server.diagnostics(server.open(folder / "web.yaml", text))
    assert [one.line for one in found] == [1]
    assert "127.0.0.1" in found[0].message


def test_only_open_files_can_be_asked_about(server: LanguageServer, folder: Path) -> None:
    path = folder / "never opened.yaml"
    for ask in (
        lambda: server.diagnostics(uri_of(path)),
        lambda: server.hover(path, 0, 0),
        lambda: server.complete(path, 0, 0),
    ):
        with pytest.raises(ValueError, match="not open"):
            ask()


# -- without the real server ---------------------------------------------------------------------


def script(text: str) -> list[str]:
    return [sys.executable, "-c", text]


# Answers every request with null, asks for the settings at once, and never publishes.
MUTE = """
import json, sys
def send(message):
    body = json.dumps(message).encode()
    sys.stdout.buffer.write(b"Content-Length: %d\\r\\n\\r\\n" % len(body) + body)
    sys.stdout.buffer.flush()
items = [{"section": "yaml"}]
send({"id": "a", "method": "workspace/configuration", "params": {"items": items}})
while line := sys.stdin.buffer.readline():
    sys.stdin.buffer.readline()
    message = json.loads(sys.stdin.buffer.read(int(line.split()[1])))
    if "id" in message and "method" in message:
        send({"id": message["id"], "result": None})
    if message.get("method") == "exit":
        break
"""


def test_says_what_it_waited_for(tmp_path: Path) -> None:
    with LanguageServer(tmp_path, command=script(MUTE), deadline=10.0) as server:
        path = tmp_path / "a.yaml"
        uri = server.open(path, "a: 1\n")
        assert server.hover(path, 0, 0) == ""
        assert server.complete(path, 0, 0) == []
        server._deadline = 0.1
        with pytest.raises(TimeoutError, match=r"0\.1 s .* diagnostics for .*/a\.yaml version 1"):
            server.diagnostics(uri)
        server._deadline = 10.0
    assert server.exit_code == 0


def test_kills_a_server_that_never_answers(tmp_path: Path) -> None:
    server = LanguageServer(tmp_path, command=script("import time; time.sleep(600)"), deadline=0.1)
    with pytest.raises(TimeoutError, match="to answer initialize"), server:
        pass
    assert server.exit_code not in (None, 0)


def test_kills_the_server_when_the_block_fails(tmp_path: Path) -> None:
    server = LanguageServer(tmp_path, command=script(MUTE))
    with pytest.raises(ZeroDivisionError), server:
        raise ZeroDivisionError
    assert server.exit_code is not None


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("raise SystemExit('no such module')", "exit code 1; it wrote: no such module"),
        ("print('hello')", "unreadable answer: .*hello"),
        ("print('Content-Length: 9', end='\\r\\n\\r\\n{')", "unreadable answer: .*1 of 9 bytes"),
    ],
)
def test_reports_a_broken_server(tmp_path: Path, text: str, message: str) -> None:
    server = LanguageServer(tmp_path, command=script(text))
    with pytest.raises(LanguageServerError, match=message), server:
        pass
    assert server.exit_code is not None


def test_finds_the_server(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv(COMMAND_VARIABLE, raising=False)
    assert find_server() is None
    with pytest.raises(LanguageServerError, match=COMMAND_VARIABLE), LanguageServer(tmp_path):
        pass

    monkeypatch.setenv(COMMAND_VARIABLE, "node 'my server.js'")
    assert find_server() == ["node", "my server.js", "--stdio"]

    program = tmp_path / "my server"
    program.touch()
    monkeypatch.setenv(COMMAND_VARIABLE, str(program))
    assert find_server() == [str(program), "--stdio"]

    monkeypatch.setenv(COMMAND_VARIABLE, str(tmp_path / "gone"))
    with pytest.raises(LanguageServerError, match=r"cannot start .*gone"), LanguageServer(tmp_path):
        pass
