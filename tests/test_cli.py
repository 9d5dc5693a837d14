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


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["Drowsy Magie/Walk"], "did you mean ‘Drowsy Maggie’?"),
        (["Drowsy Maggie/Wlak"], "did you mean ‘Walk’?"),
        (["Drowsy Maggie"], "with a slash between"),
        (["Drowsy Maggie/"], "has no scene ‘’"),
        (["The Kid on the Mountain/Swirl"], "left out tonight"),
        (["The Lark in the Morning/Sun"], "kept for requests tonight"),
    ],
)
def test_scenes_that_cannot_be_explained(words: list[str], sentence: str) -> None:
    ended = setwright("explain", "granary-night.yaml", *words, cwd=DEMO)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert sentence in ended.stderr
    assert "Traceback" not in ended.stderr


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
    assert "by its id" in ended.stderr


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
        assert list(finding) == [*keys, "help", "related", "more"]
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


def test_a_narrow_terminal_encoding_is_no_traceback(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [nére]")
    ended = setwright("check", str(night), env={"PYTHONIOENCODING": "ascii"})
    assert ended.returncode == 1
    assert "Traceback" not in ended.stderr
