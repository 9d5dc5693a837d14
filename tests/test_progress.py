"""The line about what is being done: on a terminal alone, late, written over, and gone at the end."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from setwright.compiler.progress import Progress, can_rewrite
from tests.conftest import DEMO

termios = pytest.importorskip("termios", reason="this system has no terminals of POSIX")
pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")

NIGHT = str(DEMO / "parlour-night.yaml")
AT_ONCE = "from setwright.compiler import cli, progress; progress.PATIENCE = 0\n"
NEVER = "from setwright.compiler import cli, progress; progress.PATIENCE = 10000\n"


class Screen(io.StringIO):
    """A terminal of one line, which knows a return and nothing else."""

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return self.terminal

    def __init__(self, terminal: int) -> None:
        super().__init__()
        self.terminal = terminal

    def seen(self) -> tuple[str, int]:
        """Return what stands in the line now, and where the cursor is."""
        return shown(self.getvalue())


def shown(written: str) -> tuple[str, int]:
    line, at = "", 0
    for sign in written:
        if sign == "\r":
            at = 0
        else:
            line = line[:at].ljust(at) + sign + line[at + 1 :]
            at += 1
    return line.rstrip(), at


class Waiting:
    """A timer that waits until it is told that the time is over."""

    def __init__(self, seconds: float, then: Callable[[], None]) -> None:
        self.seconds, self.over, self.daemon = seconds, then, False
        self.state = "made"

    def start(self) -> None:
        self.state = "started"

    def cancel(self) -> None:
        self.state = "cancelled"


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    monkeypatch.setenv("TERM", "xterm")
    ours, theirs = pty.openpty()
    yield Screen(theirs)
    os.close(ours)
    os.close(theirs)


def test_a_narrow_terminal_keeps_it_in_one_line(screen: Screen) -> None:
    termios.tcsetwinsize(screen.terminal, (24, 10))
    with Progress(screen, Waiting) as progress:
        progress._show_from_now_on()
        progress.doing("a long name", 1, 3)
        assert screen.seen() == ("a long na", 9)
    assert screen.seen() == ("", 0)


def test_patience_then_the_line_written_over_and_taken_away(screen: Screen) -> None:
    timers: list[Waiting] = []

    def timer(seconds: float, then: Callable[[], None]) -> Waiting:
        timers.append(Waiting(seconds, then))
        return timers[-1]

    with Progress(screen, timer) as progress:
        (waiting,) = timers
        assert (waiting.seconds, waiting.state, waiting.daemon) == (1.0, "started", True)
        progress.doing("a long name of a step", 1, 3)
        assert screen.getvalue() == ""
        waiting.over()  # while a step is at work
        assert screen.seen()[0] == "a long name of a step … 1 of 3"
        progress.doing("maps", 2, 3)
        assert screen.seen()[0] == "maps … 2 of 3"
        progress.pause()
        assert screen.seen() == ("", 0)
        progress.pause()
        progress.doing("midi", 3, 3)
        assert screen.seen()[0] == "midi … 3 of 3"
    assert screen.seen() == ("", 0)
    assert waiting.state == "cancelled"
    assert "\n" not in screen.getvalue()
    assert "\x1b" not in screen.getvalue()


def test_a_short_job_says_nothing(screen: Screen) -> None:
    with Progress(screen, Waiting) as progress:
        progress.doing("maps", 1, 1)
    assert screen.getvalue() == ""


def test_what_an_interrupt_writes_behind_the_line_goes_with_it(screen: Screen) -> None:
    waiting = Waiting(0, lambda: None)

    def timer(seconds: float, then: Callable[[], None]) -> Waiting:
        waiting.over = then
        return waiting

    with pytest.raises(KeyboardInterrupt), Progress(screen, timer) as progress:
        waiting.over()
        progress.doing("maps", 1, 1)
        screen.write("^C")
        raise KeyboardInterrupt
    assert screen.seen() == ("", 0)


@pytest.mark.parametrize(("term", "wanted"), [("xterm", True), ("dumb", False), (None, True)])
def test_which_terminals(
    term: str | None, wanted: bool, screen: Screen, monkeypatch: pytest.MonkeyPatch
) -> None:
    if term is None:
        monkeypatch.delenv("TERM")
    else:
        monkeypatch.setenv("TERM", term)
    assert can_rewrite(screen) is wanted
    assert not can_rewrite(io.StringIO())
    assert not can_rewrite(None)


# -- the real command on a real terminal ----------------------------------------------------------


def on_terminal(
    program: str, *words: str, env: dict[str, str] | None = None
) -> tuple[int, str, str]:
    """Run a program with a terminal for its errors; return its code, output, and what came there."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", program, *words],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm", "PYTHONIOENCODING": "utf-8", **(env or {})},
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler) and None,
    )
    os.close(theirs)
    came = b""
    with os.fdopen(ours, "rb", buffering=0) as terminal:
        while True:
            try:
                more = terminal.read(4096)
            except OSError:  # the other end is closed (Linux, pty(7): EIO)
                break
            if not more:
                break
            came += more
    output = process.communicate()[0].decode()
    return process.returncode, output, came.decode()


def test_a_long_build_says_what_it_makes_and_leaves_a_clean_line(tmp_path: Path) -> None:
    code, output, came = on_terminal(
        f"{AT_ONCE}cli.main()", "build", NIGHT, "--out", str(tmp_path / "out")
    )
    assert code == 0
    assert re.search(r"wrote \d+ files into ", output)
    steps = re.findall(r"\r(\w[^\r]*?) *(?=\r)", came)
    assert steps == [
        "the book … 1 of 6",
        "sheets … 2 of 6",
        "midi … 3 of 6",
        "maps … 4 of 6",
        "page … 5 of 6",
        "files into their folder … 6 of 6",
    ]
    assert shown(came) == ("", 0)
    assert "…" not in output


@pytest.mark.parametrize(
    ("program", "env"), [(NEVER, {}), (AT_ONCE, {"TERM": "dumb"})], ids=["short", "dumb"]
)
def test_nothing_comes(program: str, env: dict[str, str], tmp_path: Path) -> None:
    words = ("build", NIGHT, "--out", str(tmp_path / "out"))
    assert on_terminal(f"{program}cli.main()", *words, env=env)[::2] == (0, "")


def test_nothing_comes_into_a_pipe(tmp_path: Path) -> None:
    words = ["build", NIGHT, "--out", str(tmp_path / "out")]
    program = [sys.executable, "-c", f"{AT_ONCE}cli.main()", *words]
    ended = subprocess.run(program, capture_output=True, check=False)
    assert (ended.returncode, ended.stderr) == (0, b"")


def test_an_interrupt_leaves_a_clean_line(tmp_path: Path) -> None:
    interrupting = (
        "import os, signal, setwright.compiler.outputs.kinds as kinds\n"
        "def maps(*_): os.kill(os.getpid(), signal.SIGINT)\n"
        "kinds.KINDS['maps'] = kinds.KINDS['maps']._replace(make=maps)\n"
    )
    code, _, came = on_terminal(
        f"{AT_ONCE}{interrupting}cli.main()", "build", NIGHT, "--out", str(tmp_path / "out")
    )
    assert code == 130
    assert "maps … 4 of 6" in came
    assert shown(came.removesuffix("\r\n"))[0] == "setwright: interrupted"
    assert not (tmp_path / "out").exists()
