"""A rehearsal in a real terminal, on real ports: what is seen, what arrives, and every way to end."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.sending.rehearsing.deliveries import as_bytes
from setwright.compiler.sending.rehearsing.steps import Step, steps_of
from setwright.compiler.sending.send import Plan, plan
from tests.conftest import DEMO
from tests.jack import PATIENCE, Server, jack_server, receiver, sender
from tests.nights import whole

if shutil.which("tmux") is None:
    pytest.skip("needs tmux", allow_module_level=True)

NIGHT = "granary-night.yaml"
LAST = "Winter dance on Granary: "


class Terminal:
    """A terminal of a size, in which one command runs; ``capture`` is what is seen."""

    def __init__(
        self,
        folder: Path,
        *words: str,
        size: tuple[int, int] = (80, 24),
        before: str = "",
        **env: str,
    ) -> None:
        self.socket = str(folder / "tmux")
        self.code = folder / "code"
        command = [sys.executable, "-m", "setwright.compiler", "rehearse", *words]
        script = folder / "run.sh"
        quoted = " ".join(f"'{one}'" for one in command)
        script.write_text(
            f"{before}\n{quoted}\necho $? > '{self.code}'\nexec sleep 60\n", encoding="utf-8"
        )
        self._tmux(
            "new-session", "-d", "-x", str(size[0]), "-y", str(size[1]), f"exec sh '{script}'",
            env={**os.environ, "LC_ALL": "C.UTF-8", **env},
        )  # fmt: skip

    def _tmux(self, *words: str, env: dict[str, str] | None = None) -> str:
        ended = subprocess.run(
            ["tmux", "-f", "/dev/null", "-S", self.socket, *words],
            capture_output=True, encoding="utf-8", check=False, cwd=DEMO, env=env,
        )  # fmt: skip
        return ended.stdout

    def capture(self) -> list[str]:
        return self._tmux("capture-pane", "-p").splitlines()

    def press(self, *keys: str) -> None:
        self._tmux("send-keys", *keys)

    def resize(self, width: int, height: int) -> None:
        self._tmux("resize-window", "-x", str(width), "-y", str(height))

    def until(self, pattern: str) -> list[str]:
        """Wait until a row is like ``pattern``, and return all rows."""
        return self.comes(lambda rows: any(re.search(pattern, row) for row in rows), pattern)

    def comes(self, what: Callable[[list[str]], bool], said: str) -> list[str]:
        deadline = time.monotonic() + PATIENCE
        while not what(rows := self.capture()):
            assert time.monotonic() < deadline, (said, rows)
            time.sleep(0.05)
        return rows

    @property
    def process(self) -> int:
        """The command's own process."""
        shell = self._tmux("display-message", "-p", "#{pane_pid}").strip()
        ended = subprocess.run(
            ["pgrep", "-P", shell], capture_output=True, encoding="ascii", check=False
        )
        return int(ended.stdout.split()[0])

    def ended(self) -> int:
        """Wait for the command's end, and return its exit code."""
        deadline = time.monotonic() + PATIENCE
        while not self.code.exists() or not self.code.read_text().strip():
            assert time.monotonic() < deadline, self.capture()
            time.sleep(0.05)
        return int(self.code.read_text())

    def close(self) -> None:
        self._tmux("kill-server")


Opens = Callable[..., Terminal]


@pytest.fixture
def opens(tmp_path: Path) -> Iterator[Opens]:
    opened: list[Terminal] = []

    def start(*words: str, **others: object) -> Terminal:
        opened.append(Terminal(tmp_path, *words, **others))  # type: ignore[arg-type]
        return opened[-1]

    yield start
    for one in opened:
        one.close()


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


# What is seen.


def test_a_small_screen_and_a_smaller_one(opens: Opens) -> None:
    screen = opens(NIGHT, "--dry-run")
    rows = screen.until("space begin")
    assert rows[0] == "Winter dance on Granary"
    assert any("turn the amplifiers" in row for row in rows)
    assert any("valve amplifier" in row for row in rows)
    screen.press("Space", "Space", "Right", "PageDown")
    rows = screen.until(r"^now +1\. Haste to the Wedding / Skip$")
    assert rows[-1] == "space next  ← back  r again  s silence  g go to  d route  c clock  q end"
    assert any(
        re.match(r"next +1\. Haste to the Wedding / Lift \(round 4 A\)$", row) for row in rows
    )
    assert any(re.match(r"message +bf 00 00  switcher: ", row) for row in rows)
    screen.press("Left")
    screen.until(r"^now +1\. Haste to the Wedding / Lift$")
    screen.press("g", "fanny", "Enter")
    screen.until(r"^now +5\. Planxty Fanny Powers / Start$")
    screen.press("g", "nobody")
    screen.until("^go to: nobody")
    screen.press("Escape")
    screen.until("^space next")
    screen.resize(40, 12)
    rows = screen.comes(
        lambda rows: len(rows) == 12 and rows[-1].startswith("g go to"), "the smaller screen"
    )
    assert any(row.startswith("now       5. Planxty Fanny Powers / S") for row in rows)
    assert all(len(row) <= 40 for row in rows)
    screen.resize(30, 5)
    screen.comes(
        lambda rows: len(rows) == 5 and any(row.startswith("now") for row in rows),
        "hardly a screen",
    )
    screen.resize(100, 30)
    screen.until("^played ")
    screen.press("q")
    assert screen.ended() == 0
    rows = screen.until(LAST)
    assert not any("space next" in row for row in rows)  # the terminal is as it was


def test_nothing_is_said_by_colour(opens: Opens) -> None:
    screen = opens(NIGHT, "--dry-run", TERM="xterm-256color")
    screen.until("space begin")
    screen.press("Space", "Space")
    screen.until("^now +1")
    styled = screen._tmux("capture-pane", "-p", "-e")
    # SGR: 0 none, 1 bold, 22 and 39/49 back; 30 to 38 and 40 to 48 would be colours (ECMA-48).
    codes = {
        int(one) for run in re.findall(r"\x1b\[([\d;]*)m", styled) for one in run.split(";") if one
    }
    assert codes <= {0, 1, 22, 39, 49}


def test_names_from_a_book_move_no_cursor(opens: Opens, tmp_path: Path) -> None:
    from tests.mini import write_night

    night = write_night(
        tmp_path,
        units="one: {loop: 1}",
        effects="near: one",
        songs='songs:\n- title: "Tune\\u001b[2J\\u202e"\n  scenes: {A: [near]}\n',
    )
    text = night.read_text(encoding="utf-8").replace("[Tune]", '["Tune\\u001b[2J\\u202e"]')
    night.write_text(text, encoding="utf-8")
    screen = opens(str(night), "--dry-run")
    screen.until("space begin")
    screen.press("Space", "Space")
    screen.until(r"^now +1\. Tune\\x1b\[2J\\u202e / A")


# How it ends.


@pytest.mark.parametrize(
    ("how", "code"),
    [("C-c", 130), (signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)],
    ids=str,
)
def test_every_end_is_clean(how: str | signal.Signals, code: int, opens: Opens) -> None:
    screen = opens(NIGHT, "--dry-run")
    screen.until("space begin")
    screen.press("Space", "Space")
    screen.until("^played +1 of")
    if isinstance(how, str):
        screen.press(how)
    else:
        os.kill(screen.process, how)
    assert screen.ended() == code
    rows = screen.until(LAST + "1 of 99 scenes played")
    assert not any("space next" in row for row in rows)


# Real ports.


def packets_of(compiled: Compiled, steps: Sequence[Step]) -> list[str]:
    """Return what a walk in order sends, packet by packet, by the account of night.json."""
    data = night_data(compiled)
    owners = {song.called: song.owner for song in data.songs}
    packets = []
    for step in steps:
        assert step.found is not None
        route = data.scene(owners[step.found.song.called], step.scene).recall
        assert route is not None
        packets += [] if step.stay else [one.hex for one in route.messages]
    return packets


def test_a_whole_night_in_a_real_terminal(server: Server, opens: Opens) -> None:
    compiled = whole(DEMO / NIGHT)
    steps = steps_of(compiled)
    with receiver(server, "floor") as floor:
        screen = opens(NIGHT, "--port", "floor", **server.env)
        screen.until("space begin")
        screen.press("Space")
        for step in steps:
            screen.press("Space")
            screen.comes(partial(_is_out, step), step.name)
        rows = screen.until("^next +nothing: the night is over")
        assert any(re.match("port +‘.*:floor’ is there", row) for row in rows)
        screen.press("q")
        assert screen.ended() == 0
        screen.until(LAST + "99 of 99 scenes played")
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert heard == packets_of(compiled, steps)


def _is_out(step: Step, rows: list[str]) -> bool:
    """Tell whether the step is shown, and what it has sent is out."""
    shown = {label: text for label, _, text in (row.partition(" ") for row in rows)}
    if shown.get("now", "").strip() != step.name:
        return False
    if not shown.get("where", "").strip().startswith(f"{step.where}, bank {step.bank}, "):
        return False
    rest = " ".join(rows)
    return step.stay or (" after the key" in rest and "on its way" not in rest)


def test_pressing_fast_leaves_the_rig_at_the_last_scene(server: Server, opens: Opens) -> None:
    compiled = whole(DEMO / NIGHT)
    steps = steps_of(compiled)
    last = steps[20]
    assert last.found is not None
    planned = plan(compiled, last.found, direct=False)
    assert isinstance(planned, Plan)
    wanted = [one.hex(" ") for _, messages in as_bytes(planned) for one in messages]
    with receiver(server, "floor") as floor:
        screen = opens(NIGHT, "--port", "floor", **server.env)
        screen.until("space begin")
        screen.press("Space", *["Space"] * 21)
        screen.until(re.escape(last.name))
        screen.until("after the key")
        screen.press("q")
        assert screen.ended() == 0
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert heard[-len(wanted) :] == wanted


@pytest.mark.parametrize("before", ["", "trap '' HUP"], ids=["told", "only its terminal gone"])
def test_a_terminal_that_is_closed_stops_the_clock(
    before: str, server: Server, opens: Opens, tmp_path: Path
) -> None:
    report = tmp_path / "report.txt"
    with receiver(server, "floor") as floor:
        screen = opens(
            NIGHT,
            "--port",
            "floor",
            "--clock",
            "--with-start",
            "--report",
            str(report),
            before=before,
            **server.env,
        )
        screen.until("space begin")
        screen.press("Space", "Space")
        screen.until("after the key")
        time.sleep(0.3)
        screen._tmux("kill-pane")
        deadline = time.monotonic() + PATIENCE
        while not report.exists():
            assert time.monotonic() < deadline
            time.sleep(0.05)
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert heard[0] == "fa"
    assert heard[-1] == "fc"
    assert {"f8", "cf 00"} <= set(heard)
    assert report.read_text(encoding="utf-8") == LAST + "1 of 99 scenes played\n"


def test_a_port_that_goes_and_comes_back(server: Server, opens: Opens) -> None:
    screen = None
    with receiver(server, "floor"):
        screen = opens(NIGHT, "--port", "floor", **server.env)
        screen.until("space begin")
        screen.press("Space", "Space")
        screen.until("after the key")
    screen.until("LOST")
    screen.press("Space")
    screen.until("^sent +waits until the port is back")
    with receiver(server, "floor") as floor:
        screen.until("is there, back since")
        screen.until("after the key")
        screen.press("q")
        assert screen.ended() == 0
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert heard == ["bf 00 00", "cf 01"]
    rows = screen.until(LAST + "2 of 99 scenes played")
    assert sum(row.startswith("problem: ") for row in rows) == 2


def test_a_pedal_steps_on_and_back(server: Server, opens: Opens) -> None:
    with sender(server, "pedal") as pedal, receiver(server, "floor") as floor:
        words = ("--port", "floor", "--foot", "pedal", "--back", "control 65")
        screen = opens(NIGHT, *words, **server.env)
        rows = screen.until("space begin")
        screen.press("Space")
        rows = screen.until("nothing has been sent yet")
        assert any(re.match("pedal +‘.*:pedal’ is there", row) for row in rows)
        for packet, scene in (("b0 40 7f", "Start"), ("c0 05", "Lift"), ("b0 41 7f", "Start")):
            pedal.send(packet)
            screen.until(rf"^now +1\. Haste to the Wedding / {scene}")
            screen.until("after the key")
        screen.press("q")
        assert screen.ended() == 0
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert heard == ["bf 00 00", "cf 00", "bf 00 00", "cf 01", "bf 00 00", "cf 00"]


def test_a_pedal_that_goes_away_is_said(server: Server, opens: Opens) -> None:
    with sender(server, "pedal"):
        screen = opens(NIGHT, "--dry-run", "--foot", "pedal", **server.env)
        screen.until("space begin")
        screen.press("Space", "Space")
        screen.until("pedal +‘.*:pedal’ is there")
    screen.until("pedal +the port ‘.*:pedal’ went away")
    screen.press("Space")
    screen.until(r"^now +1\. Haste to the Wedding / Lift")  # the keys go on
    screen.press("q")
    assert screen.ended() == 0
    screen.until("problem: .* the pedal: the port")


def test_a_whole_night_in_plain_lines_by_both_routes(server: Server) -> None:
    """From a pipe, each word as soon as what the one before has sent is out."""
    compiled = whole(DEMO / "parlour-night.yaml")
    steps = steps_of(compiled)
    data = night_data(compiled)
    owners = {song.called: song.owner for song in data.songs}
    expected = packets_of(compiled, steps)
    for step in steps[::-1][
        1:6
    ]:  # back, directly: every step is sent, for one comes from elsewhere
        assert step.found is not None
        scene = data.scene(owners[step.found.song.called], step.scene)
        expected += [one.hex for one in scene.direct.messages]
    with receiver(server, "floor") as floor:
        ended = subprocess.run(
            [sys.executable, "-m", "setwright.compiler", "rehearse", "parlour-night.yaml", "--port", "floor"],
            input="next\n" * len(steps) + "route\n" + "back\n" * 5,
            capture_output=True, encoding="utf-8", cwd=DEMO, check=False, timeout=PATIENCE * 2,
            env={**os.environ, **server.env, "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert (ended.returncode, ended.stderr) == (0, "")
    assert heard == expected
    assert "skipped" not in ended.stdout
    assert ended.stdout.splitlines()[-1].endswith("Parlour: 91 of 91 scenes played")
