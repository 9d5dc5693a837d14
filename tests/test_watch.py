"""A night that is watched: real processes, real saves in all the ways of editors, real interrupts."""

from __future__ import annotations

import os
import queue
import re
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

import pytest

from tests.mini import write_night
from tests.test_build import contents
from tests.test_cli import setwright

pytestmark = pytest.mark.skipif(os.name == "nt", reason="needs signals")

GENEROUS = 60.0
"""Seconds after which a line is no longer waited for."""

CLOCK = r"\d\d:\d\d:\d\d "
ALL_WELL = r"1 song, 1 scene on Test: (nothing found|1 note)"
WATCHING = "watching 5 files; Ctrl-C ends it"
COMMAND = [sys.executable, "-m", "setwright.compiler"]


class Watching:
    """A process that watches; its lines are waited for, one after the other."""

    command = "watch"

    def __init__(self, *words: str, cwd: Path, program: str = "", **environment: str) -> None:
        start = [sys.executable, "-c", program] if program else COMMAND
        self.process = subprocess.Popen(
            [*start, self.command, *words],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            cwd=cwd,
            env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
            # Whoever runs the tests may have interrupts ignored; who watches has not.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler) and None,
        )
        self.came: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.errors: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        _put_lines(self.process.stdout, self.came)
        _put_lines(self.process.stderr, self.errors)

    def until(self, pattern: str, *, errors: bool = False) -> list[str]:
        """Return the lines up to the one that is like ``pattern`` from its beginning."""
        lines: list[str] = []
        while True:
            try:
                line = (self.errors if errors else self.came).get(timeout=GENEROUS)
            except queue.Empty:
                raise AssertionError((pattern, lines)) from None
            assert line is not None, (pattern, lines)
            lines.append(line)
            if re.match(pattern, line):
                return lines

    def run(self, last: str = "rests on: ") -> list[str]:
        """Return the lines of one run."""
        return self.until(last)

    def interrupt(self) -> tuple[int, list[str], list[str]]:
        """Interrupt it, and return how it ended."""
        self.process.send_signal(signal.SIGINT)
        return self.ended()

    def ended(self) -> tuple[int, list[str], list[str]]:
        """Return its code, and the lines of output and errors that nobody has waited for."""
        code = self.process.wait(GENEROUS)
        rest = [
            list(iter(lambda one=one: one.get(timeout=GENEROUS), None))  # type: ignore[misc]
            for one in (self.came, self.errors)
        ]
        return code, rest[0], rest[1]


def _put_lines(stream: IO[str], into: queue.SimpleQueue[str | None]) -> None:
    """Put the lines of a stream into a queue as they come, and None behind the last."""

    def read() -> None:
        for line in stream:
            into.put(line.rstrip("\n"))
        into.put(None)

    threading.Thread(target=read, daemon=True).start()


@pytest.fixture
def book(tmp_path: Path) -> Path:
    folder = tmp_path / "book"
    folder.mkdir()
    write_night(
        folder, units="one: {loop: 1}", effects="near: one", scenes="Loud: [near]", rig="note: old"
    )
    return folder


@pytest.fixture
def begin() -> Iterator[Callable[..., Watching]]:
    begun: list[Watching] = []

    def start(*words: str, **others: Any) -> Watching:
        begun.append(Watching(*words, **others))
        return begun[-1]

    yield start
    for one in begun:
        one.process.kill()
        one.process.wait()


@pytest.fixture
def watch(book: Path, begin: Callable[..., Watching]) -> Callable[..., Watching]:
    def start(*words: str, **others: str) -> Watching:
        return begin("night.yaml", *words, cwd=book, **others)

    return start


def change(path: Path, old: str, new: str) -> str:
    text = path.read_text(encoding="utf-8")
    assert old in text
    return text.replace(old, new)


# -- how files are saved --------------------------------------------------------------------------


BETWEEN = 0.3
"""Seconds between two steps of a save: long enough to be seen, and less than is waited for."""


def in_place(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")


def by_renaming(path: Path, text: str) -> None:
    aside = path.with_name(f".{path.name}.new")
    aside.write_text(text, encoding="utf-8")
    aside.replace(path)


def with_a_backup(path: Path, text: str) -> None:
    """Put the old one aside, write the new one, remove the old one."""
    backup = path.with_name(f"{path.name}~")
    path.rename(backup)
    time.sleep(BETWEEN)
    path.write_text(text, encoding="utf-8")
    backup.unlink()


def in_steps(path: Path, text: str) -> None:
    """Truncate, then write in pieces."""
    with path.open("w", encoding="utf-8") as file:
        time.sleep(BETWEEN)
        for at in range(0, len(text), 40):
            file.write(text[at : at + 40])
            file.flush()


def deleted_first(path: Path, text: str) -> None:
    path.unlink()
    time.sleep(BETWEEN)
    path.write_text(text, encoding="utf-8")


# A machine that does other things may take long between two steps of a save.
PATIENT = "from setwright.compiler import cli, watch; watch.PAUSE = 0.15; cli.main()"
WAYS = [in_place, by_renaming, with_a_backup, in_steps, deleted_first]


def test_every_way_of_saving_is_one_check(book: Path, watch: Callable[..., Watching]) -> None:
    one = watch(program=PATIENT)
    lines = one.run()
    assert re.match(ALL_WELL, lines[-3])
    songs = book / "songs.yaml"
    right, wrong = songs.read_text(encoding="utf-8"), change(songs, "Loud: [near]", "Loud: [naer]")
    for save in WAYS:
        save(songs, wrong)
        lines = one.until("nothing is proven yet")
        assert lines[0] == ""
        assert re.fullmatch(f"{CLOCK}songs.yaml was saved", lines[1]), lines
        assert "did you mean ‘near’" in "\n".join(lines)
        save(songs, right)
        lines = one.run()
        assert re.fullmatch(f"{CLOCK}songs.yaml was saved", lines[1]), lines
        assert re.match(ALL_WELL, lines[2])
    # Saved without a change, and nothing but noise beside the book.
    (book / "songs.yaml~").write_text("a backup", encoding="utf-8")
    songs.touch()
    lines = one.run()
    assert re.fullmatch(f"{CLOCK}songs.yaml was saved", lines[1])
    assert one.interrupt() == (0, [], [WATCHING])


@pytest.mark.parametrize("name", ["night.yaml", "rig.yaml", "board.yaml", "songs.yaml"])
def test_every_file_of_the_book_is_watched(
    name: str, book: Path, watch: Callable[..., Watching]
) -> None:
    one = watch()
    one.run()
    (book / name).touch()
    assert re.fullmatch(f"{CLOCK}{name} was saved", one.run()[1])


def test_what_the_switcher_holds_is_watched_before_it_is_there(
    book: Path, watch: Callable[..., Watching]
) -> None:
    one = watch()
    one.run()
    assert setwright("done", "night.yaml", cwd=book).returncode == 0
    assert re.fullmatch(f"{CLOCK}board.stored.yaml is there now", one.run()[1])
    (book / "board.stored.yaml").unlink()
    assert re.fullmatch(f"{CLOCK}board.stored.yaml is gone", one.run()[1])


def test_two_files_saved_at_once_are_one_check(book: Path, watch: Callable[..., Watching]) -> None:
    one = watch()
    one.run()
    aside = [(path, path.with_name(f"{path.name}.new")) for path in sorted(book.glob("*.yaml"))]
    for path, new in aside:
        new.write_bytes(path.read_bytes())
    for path, new in aside:
        new.replace(path)
    words = one.run()[1]
    assert re.fullmatch(f"{CLOCK}night.yaml, rig.yaml, songs.yaml and board.yaml were saved", words)
    assert one.interrupt() == (0, [], [WATCHING])


def test_includes_are_followed_even_into_folders_that_are_not_there(
    book: Path, watch: Callable[..., Watching]
) -> None:
    one = watch()
    one.run()
    rig, unit = book / "rig.yaml", book / "units" / "deep" / "two.yaml"
    in_place(rig, f"include: units/deep/two.yaml\n{rig.read_text(encoding='utf-8')}")
    assert "units/deep/two.yaml: there is no such file" in "\n".join(one.until(".*help: "))
    unit.parent.mkdir(parents=True)
    unit.write_text("units: {two: {loop: 2}}\n", encoding="utf-8")
    assert re.fullmatch(f"{CLOCK}units/deep/two.yaml is there now", one.until(CLOCK)[-1])
    one.run()
    by_renaming(unit, "units: {two: {loop: 99}}\n")
    assert re.fullmatch(f"{CLOCK}units/deep/two.yaml was saved", one.until(CLOCK)[-1])
    one.until("nothing is proven yet")
    # What is no longer named is no longer watched.
    in_place(rig, change(rig, "include: units/deep/two.yaml\n", ""))
    one.run()
    unit.unlink()
    (book / "songs.yaml").touch()
    lines = one.run()
    assert re.fullmatch(f"{CLOCK}songs.yaml was saved", lines[1])


def test_a_book_with_errors_is_watched_on(book: Path, watch: Callable[..., Watching]) -> None:
    night = book / "night.yaml"
    right = night.read_text(encoding="utf-8")
    night.write_text("night: [", encoding="utf-8")
    one = watch()
    one.until(".*help: ")
    for broken in ("night: Test\nrig: none.yaml\nsongs: songs.yaml\nsets: []\n", "sets: {"):
        night.write_text(broken, encoding="utf-8")
        one.until(f"{CLOCK}night.yaml was saved")
        one.until(".*help: ")
    night.write_text(right, encoding="utf-8")
    assert re.match(ALL_WELL, one.run()[-3])


def test_a_night_that_vanishes_is_told_of_and_waited_for(
    book: Path, watch: Callable[..., Watching]
) -> None:
    one = watch()
    one.run()
    night = book / "night.yaml"
    night.rename(book / "elsewhere")
    until_back = "; the night is checked again when its file is back"
    assert re.fullmatch(f"{CLOCK}night.yaml is gone{until_back}", one.until(CLOCK)[-1])
    (book / "songs.yaml").touch()
    assert re.fullmatch(f"{CLOCK}songs.yaml was saved{until_back}", one.until(CLOCK)[-1])
    (book / "elsewhere").rename(night)
    lines = one.run()
    assert re.fullmatch(f"{CLOCK}night.yaml is there now", lines[1])
    assert re.match(ALL_WELL, lines[-3])
    assert one.interrupt() == (0, [], [WATCHING])


def test_a_whole_folder_goes_and_comes_back(book: Path, begin: Callable[..., Watching]) -> None:
    one = begin("book/night.yaml", cwd=book.parent)
    one.run()
    book.rename(book.parent / "away")
    assert re.search("book/night.yaml.* are gone", one.until(CLOCK)[-1])
    (book.parent / "away").rename(book)
    assert re.search("book/night.yaml.* are there now", one.until(CLOCK)[-1])
    one.run()
    (book / "songs.yaml").touch()
    assert re.fullmatch(f"{CLOCK}book/songs.yaml was saved", one.until(CLOCK)[-1])
    one.run()
    assert one.interrupt() == (0, [], [WATCHING])


# -- saved while it is read -----------------------------------------------------------------------

WHILE_READ = """
from pathlib import Path
from setwright.compiler import cli, pipeline
real, calls = pipeline.compile_night, []
def compiled(*words, **others):
    found = real(*words, **others)
    calls.append(1)
    if len(calls) == {call}:
        {save}
    return found
pipeline.compile_night = compiled
cli.main()
"""


def test_what_was_half_read_is_not_shown(book: Path, watch: Callable[..., Watching]) -> None:
    right = (book / "songs.yaml").read_text(encoding="utf-8")
    (book / "right").write_text(right, encoding="utf-8")
    save = "Path('right').replace('songs.yaml')"
    one = watch(program=WHILE_READ.format(call=2, save=save))
    one.run()
    (book / "songs.yaml").write_text("songs: [", encoding="utf-8")
    lines = one.run()
    assert len([line for line in lines if re.fullmatch(f"{CLOCK}songs.yaml was saved", line)]) == 2
    assert not any("help:" in line or "error" in line for line in lines)
    assert re.match(ALL_WELL, lines[-3])
    assert one.interrupt() == (0, [], [WATCHING])


def test_what_is_saved_while_it_is_read_for_the_first_time_is_read_again(
    book: Path, watch: Callable[..., Watching]
) -> None:
    save = "Path('songs.yaml').write_text('songs: [')"
    one = watch(program=WHILE_READ.format(call=1, save=save))
    one.run()
    assert re.fullmatch(f"{CLOCK}songs.yaml was saved", one.until(CLOCK)[-1])
    one.until(".*help: ")


def test_an_interrupt_while_things_are_taken_apart_is_not_lost(
    watch: Callable[..., Watching],
) -> None:
    """Python drops what is raised there, and would print a traceback."""
    program = (
        "import os, signal; from setwright.compiler import cli\n"
        "class Last:\n"
        "    def __del__(self):\n"
        "        os.kill(os.getpid(), signal.SIGINT)\n"
        "        for _ in range(1000): pass\n"
        "import gc; gc.disable()\n"
        "last = Last(); last.itself = last; del last\n"
        "cli.main()\n"
    )
    one = watch(program=program)
    one.run()
    assert one.ended() == (0, [], [WATCHING])


# -- building -------------------------------------------------------------------------------------


def test_what_is_changed_is_built(book: Path, watch: Callable[..., Watching]) -> None:
    one = watch("--out", "out")
    assert re.fullmatch(r"wrote \d+ files into out", one.until("wrote ")[-1])
    maps = {path: path.stat().st_mtime_ns for path in (book / "out" / "maps").iterdir()}
    songs = book / "songs.yaml"
    right = songs.read_text(encoding="utf-8")
    in_place(songs, change(songs, "title: Tune", "title: Tune\n  note: slowly"))
    said = one.until("wrote ")[-1]
    found = re.fullmatch(r"wrote (\d+) files into out, (\d+) were already right", said)
    assert found
    assert int(found[1]) < int(found[2])
    assert {path: path.stat().st_mtime_ns for path in maps} == maps
    assert b"slowly" in (book / "out" / "cue-sheet.html").read_bytes()

    before = contents(book / "out")
    in_place(songs, "songs: [")
    one.until("nothing is written: 1 error", errors=True)
    assert contents(book / "out") == before
    in_place(songs, right)
    one.until("wrote ")
    assert contents(book / "out") != before
    assert one.interrupt() == (0, [], [])


def test_one_kind_alone_is_built(book: Path, watch: Callable[..., Watching]) -> None:
    one = watch("--out", "out", "--only", "maps")
    one.until("wrote ")
    assert {name.split("/")[0] for name in contents(book / "out")} == {"maps", "night.json"}


def test_an_interrupt_while_it_is_built_says_so(book: Path, watch: Callable[..., Watching]) -> None:
    program = (
        "import os, signal; from setwright.compiler import cli\n"
        "real, calls = os.fsync, []\n"
        "def fsync(handle):\n"
        "    calls.append(handle)\n"
        "    if len(calls) == 4: os.kill(os.getpid(), signal.SIGINT)\n"
        "    real(handle)\n"
        "os.fsync = fsync\n"
        "cli.main()\n"
    )
    one = watch("--out", "out", program=program)
    one.run()
    interrupted = "setwright: interrupted while writing into ‘out’; nothing was changed; try again"
    assert one.ended() == (130, [], [interrupted])
    assert not (book / "out").exists()


@pytest.mark.parametrize("words", [["--only", "maps"], ["--utf8"]])
def test_what_is_about_building_needs_a_folder(
    words: list[str], watch: Callable[..., Watching]
) -> None:
    code, output, errors = watch(*words).ended()
    assert (code, output) == (2, [])
    assert errors[-1].endswith("give --out DIR, too")


def test_a_night_that_is_not_there_is_not_watched(
    tmp_path: Path, begin: Callable[..., Watching]
) -> None:
    code, output, errors = begin("none.yaml", cwd=tmp_path).ended()
    assert (code, errors) == (2, [])
    assert "there is no such file [file-missing]" in output[0]


# -- where the system cannot tell, and on a terminal ----------------------------------------------


@pytest.mark.parametrize(
    ("spoilt", "why"),
    [
        (
            "import sys; sys.modules['watchfiles'] = None",
            "the library watchfiles cannot be loaded: ",
        ),
        (
            "import watchfiles\n"
            "def watch(*_, **__): raise OSError(24, 'Too many open files')\n"
            "watchfiles.watch = watch",
            "too many open files",
        ),
    ],
    ids=["no library", "no watches left"],
)
def test_without_the_help_of_the_system(
    spoilt: str, why: str, book: Path, watch: Callable[..., Watching]
) -> None:
    one = watch(program=f"{spoilt}\nfrom setwright.compiler import cli; cli.main()")
    one.run()
    _, said = one.until("note: ", errors=True)
    assert said.startswith(f"note: the system does not tell when a file is saved ({why}")
    for name in ("songs.yaml", "rig.yaml"):
        (book / name).touch()
        assert re.fullmatch(f"{CLOCK}{name} was saved", one.run()[1])
    assert one.interrupt() == (0, [], [])


def test_the_library_is_loaded_by_who_watches_alone(book: Path) -> None:
    program = (
        "import sys; from setwright.compiler import cli\n"
        "try: cli.main()\n"
        "finally: print(sorted({'watchfiles', 'anyio', 'jinja2'} & set(sys.modules)))\n"
    )
    for words in (["--help"], ["watch", "--help"], ["check", "night.yaml"]):
        ended = subprocess.run(
            [sys.executable, "-c", program, *words],
            capture_output=True,
            encoding="utf-8",
            cwd=book,
            check=False,
        )
        assert ended.stdout.splitlines()[-1] == "[]", words


def test_the_clock_is_the_local_one(book: Path, watch: Callable[..., Watching]) -> None:
    """In a zone of its own, 11:30 h east: no other zone is as many minutes off."""
    one = watch(TZ="XXX-11:30")
    one.run()
    (book / "songs.yaml").touch()
    line = one.until(CLOCK)[-1]
    said = int(line[:2]) * 60 + int(line[3:5])
    now = time.gmtime()
    off = (said - now.tm_hour * 60 - now.tm_min) % (24 * 60)
    assert 11 * 60 + 30 - 15 < off < 11 * 60 + 30 + 15


def test_a_terminal_gets_a_rule_and_a_clean_line_and_is_never_cleared(book: Path) -> None:
    pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
    fcntl = pytest.importorskip("fcntl")
    termios = pytest.importorskip("termios")
    ours, theirs = pty.openpty()

    def at_the_terminal() -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        fcntl.ioctl(theirs, termios.TIOCSCTTY, 0)

    process = subprocess.Popen(
        [*COMMAND, "watch", "night.yaml", "--out", "out"],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        cwd=book,
        env={**os.environ, "TERM": "xterm", "NO_COLOR": "1", "PYTHONIOENCODING": "utf-8"},
        start_new_session=True,
        preexec_fn=at_the_terminal,
    )
    os.close(theirs)
    came = b""

    def until(pattern: bytes) -> None:
        nonlocal came
        while not re.search(pattern, came, re.DOTALL):
            assert select.select([ours], [], [], GENEROUS)[0], came
            came += os.read(ours, 4096)

    try:
        until(rb"wrote \d+ files.*Ctrl-C ends it\r\n")
        (book / "songs.yaml").touch()
        until(rb"were already right\r\n")
        os.write(ours, b"\x03")
        until(rb"\^C\r\n\Z")
        assert process.wait(GENEROUS) == 0
    finally:
        process.kill()
        os.close(ours)
    text = came.decode()
    assert re.search(rf"\r\n\r\n-{{70,80}}\r\n{CLOCK}songs.yaml was saved\r\n1 song", text)
    assert "\x1b" not in text
