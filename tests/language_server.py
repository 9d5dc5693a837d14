"""A small client for the real yaml-language-server, so tests see what an editor would show.

The server is a separate program and is spoken to over stdin and stdout: JSON-RPC 2.0 messages,
each under a Content-Length header. Only what the tests need is here: open a file, read its
diagnostics, ask for a hover text and for completions.

Lines and columns are those of the protocol: both count from 0, columns in UTF-16 code units.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import shlex
import shutil
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Final, Self

COMMAND_VARIABLE: Final = "SETWRIGHT_YAML_LANGUAGE_SERVER"
DEADLINE: Final = 20.0
"""Seconds any one answer may take, unless a LanguageServer is given another number."""

_GRACE: Final = 5.0
_METHOD_NOT_FOUND: Final = -32601
# Nothing listens here, so a schema that points to the web fails at once and in the same way
# everywhere, instead of being fetched on machines that happen to be online.
_DEAD_PROXY: Final = "http://127.0.0.1:9"


class LanguageServerError(RuntimeError):
    """The server could not be started, ended early, or refused a request."""


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One underlined range as the server published it.

    `line` and `column` are where it begins, `end_line` and `end_column` where it ends (not
    included). `severity` is 1 error, 2 warning, 3 information, 4 hint.
    """

    line: int
    column: int
    end_line: int
    end_column: int
    message: str
    severity: int


def find_server() -> list[str] | None:
    """Return the command that starts the server on stdin and stdout, or None without one.

    The environment variable SETWRIGHT_YAML_LANGUAGE_SERVER comes first: a path, or a command
    with arguments quoted as for a shell. It is taken at its word, so that a wrong value fails
    at the start and does not pass for a missing server. Next is `yaml-language-server` on PATH.
    """
    chosen = os.environ.get(COMMAND_VARIABLE, "").strip()
    if chosen:
        # A path may hold spaces; splitting it would break it.
        words = [chosen] if Path(chosen).is_file() else shlex.split(chosen)
        return [*words, "--stdio"]
    found = shutil.which("yaml-language-server")
    return None if found is None else [found, "--stdio"]


class LanguageServer:
    """A running yaml-language-server; use it in a `with` statement.

    `root` is the folder the editor would have open. `schemas` gives the schemas associated
    through settings: schema file to the files it is for, each a Path (that very file) or a text
    (a glob as the server reads it, such as "songs/*.yaml"). A file whose first line names its
    schema needs no entry. `settings` is laid over the `yaml` settings sent to the server.
    `command` is what `find_server()` returns, which is asked when it is left out. `deadline` is in
    seconds, for each answer.

    The server keeps the schemas it has read: after changing a schema file, start another one.

    Entering and leaving the block, and every method, raise LanguageServerError when the server
    is missing, ends early or refuses, and TimeoutError when it does not answer in time. A block
    left by an error kills it. After the block `exit_code` is what it ended with, 0 when all went
    well.
    """

    def __init__(
        self,
        root: Path,
        schemas: Mapping[Path, Sequence[Path | str]] | None = None,
        *,
        settings: Mapping[str, Any] | None = None,
        command: Sequence[str] | None = None,
        deadline: float = DEADLINE,
    ) -> None:
        self._root = root.absolute()
        self._command = command
        self._deadline = deadline
        self._settings: dict[str, Any] = {
            "validate": True,
            "hover": True,
            "completion": True,
            "yamlVersion": "1.2",
            "schemaStore": {"enable": False},
            "kubernetesCRDStore": {"enable": False},
            "schemas": {
                uri_of(schema): [file if isinstance(file, str) else uri_of(file) for file in files]
                for schema, files in (schemas or {}).items()
            },
            **(settings or {}),
        }
        self.exit_code: int | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._threads: list[threading.Thread] = []
        self._incoming: queue.Queue[dict[str, Any] | Exception | None] = queue.Queue()
        self._stderr: deque[str] = deque(maxlen=40)
        self._last_id = 0
        self._answers: dict[int, dict[str, Any]] = {}
        self._configured = False
        self._versions: dict[str, int] = {}
        self._published: dict[str, list[Diagnostic]] = {}

    # -- life ----------------------------------------------------------------------------------

    def __enter__(self) -> Self:
        command = find_server() if self._command is None else list(self._command)
        if command is None:
            raise LanguageServerError(
                f"no yaml-language-server: set {COMMAND_VARIABLE} or put it on PATH"
            )
        try:
            process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
            )
        except OSError as error:
            raise LanguageServerError(f"cannot start {shlex.join(command)}: {error}") from error
        self._process = process
        assert process.stdout is not None and process.stderr is not None
        self._threads = [
            threading.Thread(target=self._read_messages, args=(process.stdout,), daemon=True),
            # Left unread, a full stderr pipe would stop the server.
            threading.Thread(target=self._read_stderr, args=(process.stderr,), daemon=True),
        ]
        for thread in self._threads:
            thread.start()
        try:
            self._initialize()
        except BaseException:
            self._kill()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None:
            # The test has failed already; a second error from the server would hide the first.
            self._kill()
            return
        assert self._process is not None
        try:
            self._request("shutdown", None)
            self._notify("exit", None)
            self._process.wait(_GRACE)
        except subprocess.TimeoutExpired as error:
            raise TimeoutError(f"the server did not exit within {_GRACE:g} s") from error
        finally:
            self._kill()

    def _initialize(self) -> None:
        root = uri_of(self._root)
        self._request(
            "initialize",
            {
                "processId": os.getpid(),
                "rootUri": root,
                "workspaceFolders": [{"uri": root, "name": self._root.name}],
                "locale": "en",
                "capabilities": {
                    "workspace": {"configuration": True, "workspaceFolders": True},
                    "textDocument": {
                        "synchronization": {"dynamicRegistration": False},
                        "publishDiagnostics": {"versionSupport": True},
                        "hover": {"contentFormat": ["markdown", "plaintext"]},
                        "completion": {"completionItem": {"snippetSupport": True}},
                    },
                },
            },
        )
        self._notify("initialized", {})
        # The server fetches its settings now. A file opened before it has them would be checked
        # without a schema first, and that empty answer is not told apart from the real one.
        self._pump(lambda: self._configured, "to ask for its settings")

    def _kill(self) -> None:
        process = self._process
        if process is None:
            return
        if process.poll() is None:
            process.kill()
        self.exit_code = process.wait()
        for thread in self._threads:
            thread.join(_GRACE)
        for pipe in (process.stdin, process.stdout, process.stderr):
            if pipe is not None:
                # Bytes may still be buffered for a process that is gone.
                with contextlib.suppress(OSError):
                    pipe.close()
        self._process = None

    # -- what tests ask ------------------------------------------------------------------------

    def open(self, path: Path, text: str) -> str:
        """Show `text` as the content of `path` and return the file's URI.

        The file need not exist. Opening a path again replaces its text. Raises TimeoutError
        when a text shown before under this path has not been checked in time.
        """
        uri = uri_of(path)
        version = self._versions.get(uri, 0) + 1
        if version == 1:
            self._versions[uri] = version
            document = {"uri": uri, "languageId": "yaml", "version": version, "text": text}
            self._notify("textDocument/didOpen", {"textDocument": document})
            return uri
        # The server publishes once for each text but does not say for which one: wait for the
        # earlier answer, so that the next can only be the answer to this text.
        self.diagnostics(uri)
        self._versions[uri] = version
        del self._published[uri]
        self._notify(
            "textDocument/didChange",
            {
                "textDocument": {"uri": uri, "version": version},
                "contentChanges": [{"text": text}],
            },
        )
        return uri

    def diagnostics(self, uri: str) -> list[Diagnostic]:
        """Return what the server says about the text last opened under `uri`, as published.

        The order is the server's own, not that of the lines.

        Raises ValueError when nothing was opened under `uri`, TimeoutError when the server has
        published nothing for it within the deadline.
        """
        if uri not in self._versions:
            raise ValueError(f"not open: {uri}")
        self._pump(
            lambda: uri in self._published,
            f"to publish diagnostics for {uri} version {self._versions[uri]}",
        )
        return list(self._published[uri])

    def hover(self, path: Path, line: int, column: int) -> str:
        """Return the hover text at a position of an open file, "" when there is none.

        It is Markdown as sent: the schema's description with `* _ [ ]` and the like escaped by a
        backslash, then the allowed values and a link to the schema. Raises ValueError when the
        file is not open.
        """
        result = self._request("textDocument/hover", self._position(path, line, column))
        return _hover_text(result["contents"]) if result else ""

    def complete(self, path: Path, line: int, column: int) -> list[str]:
        """Return the labels offered at a position of an open file, in the order sent.

        Beside names and values there may be a label for a whole object at once, named by its
        schema's title or "object". Raises ValueError when the file is not open.
        """
        result = self._request("textDocument/completion", self._position(path, line, column))
        items = result.get("items", []) if isinstance(result, dict) else result or []
        return [str(item["label"]) for item in items]

    def _position(self, path: Path, line: int, column: int) -> dict[str, Any]:
        uri = uri_of(path)
        if uri not in self._versions:
            raise ValueError(f"not open: {uri}")
        return {"textDocument": {"uri": uri}, "position": {"line": line, "character": column}}

    # -- messages ------------------------------------------------------------------------------

    def _request(self, method: str, params: object) -> Any:
        self._last_id += 1
        number = self._last_id
        self._send({"id": number, "method": method, **_optional(params)})
        self._pump(lambda: number in self._answers, f"to answer {method}")
        answer = self._answers.pop(number)
        if "error" in answer:
            error = answer["error"]
            raise LanguageServerError(f"{method} refused: {error.get('message', error)}")
        return answer.get("result")

    def _notify(self, method: str, params: object) -> None:
        self._send({"method": method, **_optional(params)})

    def _send(self, message: Mapping[str, Any]) -> None:
        if self._process is None or self._process.stdin is None:
            raise LanguageServerError("the server is not running; use it in a with statement")
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        try:
            self._process.stdin.write(b"Content-Length: %d\r\n\r\n%b" % (len(body), body))
            self._process.stdin.flush()
        except OSError as error:
            raise self._ended() from error

    def _pump(self, done: Callable[[], bool], what: str) -> None:
        """Handle incoming messages until `done()`; `what` completes the error's sentence."""
        end = time.monotonic() + self._deadline
        while not done():
            try:
                message = self._incoming.get(timeout=max(0.0, end - time.monotonic()))
            except queue.Empty:
                raise TimeoutError(
                    f"waited {self._deadline:g} s for the server {what}{self._complaints()}"
                ) from None
            if message is None:
                raise self._ended()
            if isinstance(message, Exception):
                raise LanguageServerError(f"unreadable answer: {message!r}{self._complaints()}")
            self._handle(message)

    def _handle(self, message: dict[str, Any]) -> None:
        method = message.get("method")
        if method is None:
            self._answers[message["id"]] = message
        elif "id" in message:
            self._answer(message["id"], method, message.get("params"))
        elif method == "textDocument/publishDiagnostics":
            self._take(message["params"])
        # Log lines, telemetry and progress say nothing a test needs.

    def _answer(self, number: int | str, method: str, params: Any) -> None:
        if method == "workspace/configuration":
            sections = [item.get("section") for item in params["items"]]
            self._send({"id": number, "result": [self._section(name) for name in sections]})
            self._configured = self._configured or "yaml" in sections
        elif method in ("client/registerCapability", "client/unregisterCapability"):
            self._send({"id": number, "result": None})
        elif method == "workspace/workspaceFolders":
            folder = {"uri": uri_of(self._root), "name": self._root.name}
            self._send({"id": number, "result": [folder]})
        else:
            error = {"code": _METHOD_NOT_FOUND, "message": f"not supported: {method}"}
            self._send({"id": number, "error": error})

    def _section(self, name: str | None) -> object:
        if name == "yaml":
            return self._settings
        if name == "http":
            return {"proxy": _DEAD_PROXY, "proxyStrictSSL": False}
        return None

    def _take(self, params: Mapping[str, Any]) -> None:
        uri = params["uri"]
        current = self._versions.get(uri)
        if current is None or params.get("version") not in (None, current):
            return
        self._published[uri] = [_diagnostic(item) for item in params["diagnostics"]]

    # -- pipes ---------------------------------------------------------------------------------

    def _read_messages(self, pipe: IO[bytes]) -> None:
        try:
            while (message := _read_message(pipe)) is not None:
                self._incoming.put(message)
            self._incoming.put(None)
        except (OSError, ValueError) as error:
            self._incoming.put(error)

    def _read_stderr(self, pipe: IO[bytes]) -> None:
        for line in pipe:
            self._stderr.append(line.decode(errors="replace").rstrip())

    def _ended(self) -> LanguageServerError:
        code: int | None = None
        if self._process is not None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                code = self._process.wait(_GRACE)
            self._threads[1].join(_GRACE)  # its last words may still be in the pipe
        state = "closed its output" if code is None else f"ended with exit code {code}"
        return LanguageServerError(f"the server {state}{self._complaints()}")

    def _complaints(self) -> str:
        return f"; it wrote: {' | '.join(self._stderr)}" if self._stderr else ""


def uri_of(path: Path) -> str:
    """Return the file URI the client uses for `path`, made absolute."""
    # Path.as_uri() percent-encodes every glob character, so the URI of a file is also a glob
    # that matches this file only.
    return path.absolute().as_uri()


def _optional(params: object) -> dict[str, Any]:
    return {} if params is None else {"params": params}


def _read_message(pipe: IO[bytes]) -> dict[str, Any] | None:
    """Read the next message, or None at the end. Raises ValueError when it is not a message."""
    length: int | None = None
    while line := pipe.readline().strip():
        name, _, value = line.partition(b":")
        if name.lower() == b"content-length":
            length = int(value)
        elif not value:
            raise ValueError(f"not a header: {line[:80]!r}")
    if length is None:
        # An empty line before any length is either the end of the pipe or noise on it.
        if pipe.read(1):
            raise ValueError("a message without Content-Length")
        return None
    body = pipe.read(length)
    if len(body) < length:
        raise ValueError(f"a message cut off after {len(body)} of {length} bytes")
    message = json.loads(body)
    if not isinstance(message, dict):
        raise ValueError(f"not a message: {body[:80]!r}")
    return message


def _diagnostic(item: Mapping[str, Any]) -> Diagnostic:
    start, end = item["range"]["start"], item["range"]["end"]
    return Diagnostic(
        line=start["line"],
        column=start["character"],
        end_line=end["line"],
        end_column=end["character"],
        message=item["message"],
        # The protocol lets a server leave it out and the client choose; an error is safest.
        severity=item.get("severity", 1),
    )


def _hover_text(contents: Any) -> str:
    """Join what hover contents may be: a text, an object with a value, or a list of these."""
    if isinstance(contents, str):
        return contents
    if isinstance(contents, list):
        return "\n".join(_hover_text(part) for part in contents)
    return str(contents["value"])
