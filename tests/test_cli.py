"""The real command: what it prints, where, and with which exit code."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from setwright.compiler.cli import main
from setwright.compiler.outputs.manifest import check_folder
from setwright.scenes.nights import nights_in
from tests.conftest import DEMO, ROOT
from tests.mini import write_night


def setwright(
    *words: str, cwd: Path = ROOT, env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "setwright.compiler", *words],
        capture_output=True,
        encoding="utf-8",
        cwd=cwd,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **(env or {})},
        check=False,
        stdin=subprocess.DEVNULL,
    )


EXPLAINED = [
    ("granary", "The Swallow's Tail/Blaze"),
    ("granary", "Drowsy Maggie/Walk"),
    ("granary", "The Rakes Of Mallow/Room"),
    ("parlour", "The Swallow's Tail/Blaze"),
    ("parlour", "Drowsy Maggie/Walk"),
    ("parlour", "Haste to the Wedding/Lift"),
]


@pytest.mark.parametrize(("rig", "scene"), EXPLAINED)
def test_explain(rig: str, scene: str, golden: Callable[[str, str], None]) -> None:
    ended = setwright("explain", f"{rig}-night.yaml", scene, cwd=DEMO)
    assert (ended.returncode, ended.stderr) == (0, "")
    name = scene.lower().replace("'", "").replace("/", " ").replace(" ", "-")
    golden(f"explain-{rig}-{name}.txt", ended.stdout)


def test_check_without_the_echo(golden: Callable[[str, str], None]) -> None:
    ended = setwright("check", "granary-night.yaml", "--without", "echo", cwd=DEMO)
    golden("check-without-echo.txt", ended.stdout)
    assert ended.returncode == 0  # the rig says what stands in: notes alone
    lost = setwright("check", "granary-night.yaml", "--without", "squeezer", cwd=DEMO)
    assert lost.returncode == 1
    assert "compression is lost" in lost.stdout


def test_explain_as_json() -> None:
    ended = setwright(
        "explain", "granary-night.yaml", "Drowsy Maggie/Walk", "--format", "json", cwd=DEMO
    )
    data = json.loads(ended.stdout)
    assert data["effects"] == ["compression", "slap echo"]
    assert {unit["verdict"] for unit in data["units"]} <= {
        "proven",
        "proven if feet and start are as printed",
        "don't care",
    }


def test_explain_shows_the_notes() -> None:
    words = ["explain", "tests/every_field/night.yaml", "Blind Mary/Bare"]
    lines = setwright(*words).stdout.splitlines()
    assert lines[4:7] == [
        "  note of the scene: nearly nothing",
        "  note of the rig: the usual one",
        "  note of the switcher: the old one",
    ]
    assert lines[lines.index("squeezer") + 1] == "  note: the red one"
    assert json.loads(setwright(*words, "--format", "json").stdout)["notes"] == {
        "scene": "nearly nothing",
        "rig": "the usual one",
        "switcher": "the old one",
        "units": {"squeezer": "the red one"},
    }


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["Drowsy Magie/Walk"], "did you mean ‘Drowsy Maggie’?"),
        (["Drowsy Maggie/Wlak"], "did you mean ‘Walk’?"),
        (["Drowsy Maggie"], "with a slash between"),
        (["Drowsy Maggie/"], "has no scene ‘’"),
        (["The Kid on the Mountain/Swirl"], "left out tonight"),
        (["The Lark in the Morning/Plain"], "known here: Dawn, Wing, Turn, Sun"),
    ],
)
def test_scenes_that_cannot_be_explained(words: list[str], sentence: str) -> None:
    ended = setwright("explain", "granary-night.yaml", *words, cwd=DEMO)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert sentence in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.mark.parametrize(
    ("song", "number", "milliseconds", "control"),
    [
        # 60,000 ÷ BPM × ¾; the echo's control goes from 20 ms to 1800 ms in 127 steps.
        ("The Boys of Bluehill", 11, "562.5 ms", 39),  # at 80: 542.5 ÷ 1780 × 127 = 38.7
        ("11 The Boys of Bluehill", 11, "562.5 ms", 39),
        ("25 The Boys of Bluehill", 25, "489.1 ms", 33),  # at 92: 469.1 ÷ 1780 × 127 = 33.5
    ],
)
def test_a_song_that_is_played_twice(
    song: str, number: int, milliseconds: str, control: int
) -> None:
    wire = f"b8 14 {control:02x}"
    scene = f"{song}/Lift"
    sent = setwright("send", "granary-night.yaml", scene, "--direct", "--dry-run", cwd=DEMO)
    assert sent.returncode == 0
    (line,) = (line for line in sent.stdout.splitlines() if line.startswith("b8 14 "))
    assert line.startswith(f"{wire}  echo: time {milliseconds} (value {control}, gives ")
    traced = setwright("trace", "granary-night.yaml", scene, cwd=DEMO)
    assert f": {wire}, channel 9 control 20 value {control}\n" in traced.stdout
    said = setwright("explain", "granary-night.yaml", scene, "--format", "json", cwd=DEMO)
    assert json.loads(said.stdout)["number"] == number


def test_titles_with_slashes(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="one: {loop: 1}",
        effects="near: one",
        songs="""
        songs:
        - {title: Tune, scenes: {A: [near], B/C: [near]}}
        - {title: Jig 6/8, scenes: {A: [near]}}
        - {title: Tune/B, scenes: {C: [near]}, id: both}
        """,
    )
    for words, first in (
        ("Tune/A", "Tune / A on Test"),
        ("Jig 6/8/A", "Jig 6/8 / A on Test"),
        ("both/C", "Tune/B / C on Test"),
    ):
        ended = setwright("explain", str(night), words)
        assert ended.stdout.splitlines()[0] == first
    ended = setwright("explain", str(night), "Tune/B/C")
    assert ended.returncode == 2
    assert "write ‘1 Tune/B/C’ or ‘both/C’" in ended.stderr


def test_the_only_night_of_a_folder_need_not_be_named(tmp_path: Path) -> None:
    write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]")
    ended = setwright("explain", "Tune/A", cwd=tmp_path)
    assert ended.stdout.splitlines()[0] == "Tune / A on Test"
    ended = setwright("explain", "Tune/A", cwd=DEMO)
    assert ended.returncode == 2
    assert "granary-night.yaml, parlour-night.yaml" in ended.stderr


def in_process(folder: Path, *words: str) -> Result:
    with contextlib.chdir(folder):
        return CliRunner().invoke(main, words)


HEADS = {
    "a byte-order mark": b"\xef\xbb\xbfnight: N\n",
    "a long comment first": b"# x\n" * 5000 + b"night: N\n",
    "ends of lines of old": b"# x\rnight: N\r",
    "quotes": b'"night": N\n',
    "blanks": b"night : N\n",
}


@pytest.mark.parametrize("name", HEADS)
def test_a_night_is_known_however_it_begins(tmp_path: Path, name: str) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]")
    first, rest = night.read_bytes().split(b"\n", 1)
    assert first.startswith(b"night:")
    end = b"\r" if name == "ends of lines of old" else b"\n"
    night.write_bytes(HEADS[name] + rest.replace(b"\n", end))
    assert nights_in(tmp_path) == ((night.name,), ())
    ended = in_process(tmp_path, "explain", "Tune/A")
    assert ended.output.splitlines()[0] == "Tune / A on Test"


@pytest.mark.parametrize(
    "head", [b"", b"nights: 3\n", b"  night: 3\n", b"night:3\n", b"# night: 3\n", b"\0" * 9000]
)
def test_what_is_no_night(tmp_path: Path, head: bytes) -> None:
    (tmp_path / "x.yaml").write_bytes(head)
    assert nights_in(tmp_path) == ((), ())


def test_what_cannot_be_read_is_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]")
    (tmp_path / "dangling.yaml").symlink_to("nowhere")
    (tmp_path / "folder.yaml").mkdir()
    (tmp_path / "itself.yaml").symlink_to("itself.yaml")
    (tmp_path / "zeros.yaml").write_bytes(b"\0" * 5000)
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "device.yaml").symlink_to(os.devnull)
    (tmp_path / "locked.yaml").write_text("night: x\n", encoding="utf-8")
    real = os.open

    def refuse(path: Path, *how: int) -> int:
        if Path(path).name == "locked.yaml":
            raise PermissionError(13, "Permission denied")
        return real(path, *how)

    monkeypatch.setattr("setwright.scenes.files.os.open", refuse)
    ended = in_process(tmp_path, "explain", "Tune/A")
    assert ended.output.splitlines()[0] == "Tune / A on Test"
    night.unlink()
    ended = in_process(tmp_path, "explain", "Tune/A")
    assert ended.exit_code == 2
    assert isinstance(ended.exception, SystemExit)
    said = " ".join(ended.output.split())
    assert "this folder holds 0 nights" in said
    for part in (
        "dangling.yaml cannot be read: there is no such file",
        "device.yaml cannot be read: this is not an ordinary file",
        "folder.yaml cannot be read: this is a folder",
        "itself.yaml cannot be read: ",
        "locked.yaml cannot be read: permission denied",
        "pipe.yaml cannot be read: this is not an ordinary file",
    ):
        assert part in said
    assert "zeros" not in said


def test_exit_codes(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]")
    assert setwright("check", str(night)).returncode == 0
    assert setwright("check", str(tmp_path / "nowhere.yaml")).returncode == 2
    assert setwright("check", str(tmp_path)).returncode == 2
    assert setwright("check").returncode == 2
    assert setwright("cheque", str(night)).returncode == 2
    (tmp_path / "songs.yaml").write_text("songs: [", encoding="utf-8")
    assert setwright("check", str(night)).returncode == 1


def test_json_stands_alone_on_stdout(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 9}", effects="near: one", scenes="A: [nere]")
    ended = setwright("check", str(night), "--format", "json")
    findings = json.loads(ended.stdout)
    assert ended.stderr == ""
    assert {finding["code"] for finding in findings} == {"loop-out-of-range", "unknown-effect"}
    keys = ["code", "severity", "message", "file", "line", "column", "end_line", "end_column"]
    for finding in findings:
        assert list(finding) == [*keys, "help", "related", "more", "table"]
    nothing = setwright("check", str(DEMO / "granary-night.yaml"), "--format", "json")
    assert json.loads(nothing.stdout) == []
    missing = setwright("check", "nowhere.yaml", "--format", "json")
    assert [finding["code"] for finding in json.loads(missing.stdout)] == ["file-missing"]


def test_completion_knows_commands_and_scenes() -> None:
    for shell in ("bash", "zsh", "fish"):
        ended = setwright("completion", shell)
        assert "_SETWRIGHT_COMPLETE" in ended.stdout
    env = {
        "_SETWRIGHT_COMPLETE": "zsh_complete",
        "COMP_WORDS": "setwright explain granary-night.yaml Drowsy",
        "COMP_CWORD": "3",
    }
    ended = setwright(cwd=DEMO, env=env)
    assert "Drowsy Maggie/Walk" in ended.stdout.splitlines()
    by_number = setwright(cwd=DEMO, env={**env, "COMP_WORDS": env["COMP_WORDS"][:-6] + "3"})
    assert "3 Drowsy Maggie/Walk" in by_number.stdout.splitlines()


def test_a_narrow_terminal_encoding_is_no_traceback(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [nére]")
    ended = setwright("check", str(night), env={"PYTHONIOENCODING": "ascii"})
    assert ended.returncode == 1
    assert "Traceback" not in ended.stderr


# -- where nothing can be printed -----------------------------------------------------------------

NIGHT = str(DEMO / "granary-night.yaml")
PRINTING = [
    ["check", NIGHT],
    ["check", NIGHT, "--format", "json"],
    ["explain", NIGHT, "Drowsy Maggie/Walk"],
    ["explain", NIGHT, "Drowsy Maggie/Walk", "--format", "json"],
    ["trace", NIGHT, "Drowsy Maggie/Walk"],
    ["send", NIGHT, "Drowsy Maggie/Walk", "--dry-run"],
    ["checks"],
    ["checks", "--page"],
    ["checks", "deaf-unit"],
    ["schema", "rig"],
    ["schema", "night-data"],
    ["completion", "bash"],
    ["--help"],
    ["--version"],
    ["build", "--help"],
]
WRITING = [
    (["build", NIGHT, "--out", "out"], "; the files in ‘out’ are written"),
    (["new", "book"], "; the book is written"),
    (["schema", "--out", "schemas"], "; the schemas are written"),
]
FULL = Path("/dev/full")


def ended_with(*words: str, cwd: Path, wrapped: str) -> tuple[int, str]:
    """Run the command with its output led elsewhere by a shell; return exit code and errors."""
    ended = subprocess.run(
        ["sh", "-c", wrapped, "sh", sys.executable, "-m", "setwright.compiler", *words],
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        encoding="utf-8",
        cwd=cwd,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
        stdin=subprocess.DEVNULL,
    )
    return ended.returncode, ended.stderr


@pytest.mark.skipif(not FULL.exists(), reason="needs /dev/full")
@pytest.mark.parametrize("words", PRINTING, ids=" ".join)
def test_a_full_disk_behind_the_output_is_one_line(words: list[str], tmp_path: Path) -> None:
    code, errors = ended_with(*words, cwd=tmp_path, wrapped='"$@" >/dev/full')
    caution = [line for line in errors.splitlines() if not line.startswith("note: ")]
    assert (code, caution) == (2, ["setwright: cannot print: no space left on device"])
    if words in (PRINTING[0], PRINTING[-1]):
        # Where nothing can be said at all, the exit code still tells.
        assert ended_with(*words, cwd=tmp_path, wrapped='"$@" >/dev/full 2>&1')[0] == 2


@pytest.mark.skipif(not FULL.exists(), reason="needs /dev/full")
@pytest.mark.parametrize(("words", "done"), WRITING)
def test_what_is_written_nevertheless_is_said(words: list[str], done: str, tmp_path: Path) -> None:
    code, errors = ended_with(*words, cwd=tmp_path, wrapped='"$@" >/dev/full')
    assert (code, errors) == (2, f"setwright: cannot print: no space left on device{done}\n")
    assert len(list(tmp_path.rglob("*.*"))) >= 4


@pytest.mark.skipif(os.name == "nt", reason="needs a POSIX shell")
@pytest.mark.parametrize("words", [PRINTING[0], PRINTING[6], PRINTING[-3], WRITING[0][0]])
def test_a_closed_output_is_one_line_and_nothing_is_done(words: list[str], tmp_path: Path) -> None:
    code, errors = ended_with(*words, cwd=tmp_path, wrapped='"$@" >&-')
    assert (code, errors) == (
        2,
        "setwright: standard output is closed; leave it open, or lead it into a file\n",
    )
    assert list(tmp_path.iterdir()) == []
    assert ended_with(*words, cwd=tmp_path, wrapped='"$@" >&- 2>&-') == (2, "")


@pytest.mark.skipif(os.name == "nt", reason="needs a POSIX shell")
def test_without_errors_and_input_all_is_as_usual(tmp_path: Path) -> None:
    """Nor does a file that is opened get the number of a closed stream, to which others write."""
    code, _ = ended_with(*WRITING[0][0], cwd=tmp_path, wrapped='"$@" <&- 2>&-')
    assert code == 0
    assert check_folder(tmp_path / "out") == []


@pytest.mark.skipif(os.name == "nt", reason="needs a POSIX shell")
@pytest.mark.parametrize("words", [*PRINTING[::3], WRITING[0][0]], ids=" ".join)
def test_a_pipe_that_nobody_reads_is_no_fault(words: list[str], tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        ended = subprocess.run(
            [sys.executable, "-m", "setwright.compiler", *words],
            stdout=writing,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            cwd=tmp_path,
            check=False,
        )
    finally:
        os.close(writing)
    said = [line for line in ended.stderr.splitlines() if not line.startswith("note: ")]
    assert (ended.returncode, said) == (141, [])


@pytest.mark.skipif(os.name == "nt", reason="needs signals")
@pytest.mark.parametrize("words", [["check", NIGHT], ["explain", NIGHT, "Drowsy Maggie/Walk"]])
def test_an_interrupt_is_one_line(words: list[str]) -> None:
    """A real signal, from within, when the book is about to be read."""
    program = (
        "import os, signal; from setwright.compiler.cli import main\n"
        "from setwright.compiler import pipeline\n"
        "def compiled(*_, **__): os.kill(os.getpid(), signal.SIGINT); raise AssertionError\n"
        "pipeline.compile_night = compiled\n"
        "main()\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program, *words], capture_output=True, text=True, check=False
    )
    assert (ended.returncode, ended.stdout) == (130, "")
    assert ended.stderr == "setwright: interrupted\n"


def test_a_fault_of_our_own_is_no_finding_about_a_book(tmp_path: Path) -> None:
    script = tmp_path / "broken.py"
    script.write_text(
        "import sys\n"
        "import setwright.compiler.pipeline as pipeline\n"
        "from setwright.compiler.cli import run\n"
        "def broken(*_, **__):\n    raise RuntimeError('a wire is loose')\n"
        "pipeline.compile_night = broken\n"
        f"sys.argv = ['setwright', 'check', {str(DEMO / 'granary-night.yaml')!r}]\n"
        "run()\n",
        encoding="utf-8",
    )
    ended = subprocess.run(
        [sys.executable, str(script)], capture_output=True, encoding="utf-8", check=False
    )
    assert ended.returncode == 2
    assert "RuntimeError: a wire is loose" in ended.stderr
    assert ended.stderr.endswith(
        "setwright: this is a fault of Setwright's own, and not of your book; please report it\n"
    )
