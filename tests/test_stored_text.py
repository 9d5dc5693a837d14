"""The file of what a switcher holds, changed line by line."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from setwright.compiler.outputs.one_file import exchange
from setwright.compiler.outputs.stored_text import Lies, News, NotEditableError, with_news
from setwright.compiler.outputs.survey import Problem
from setwright.compiler.placement.held import Typed
from tests.conftest import ROOT

ORDER = {f"{bank}/{switch}": bank * 10 + switch for bank in range(1, 9) for switch in range(1, 9)}
ROCK = ("Rock", Typed((4,), (), (b"\xb8\x1c\x00",)))
ROCK_LINE = "{name: Rock, loops: [4], messages: [b8 1c 00]}"


def news(presets: dict[str, tuple[str, Typed]]) -> News:
    return News(presets, {}, {}, ORDER)


CHANGED = [
    # before, presets, after
    (
        "stored: floor\npresets:\n  1/1: {name: Old}  # mine\n  2/1: {name: Far}\n",
        {"1/1": ROCK},
        f"stored: floor\npresets:\n  1/1: {ROCK_LINE}  # mine\n  2/1: {{name: Far}}\n",
    ),
    (
        "stored: floor\npresets:\n  1/1: {name: Old}\n  # the second bank\n  2/1: {name: Far}\n",
        {"1/2": ROCK, "2/2": ROCK},
        "stored: floor\npresets:\n  1/1: {name: Old}\n"
        f"  1/2: {ROCK_LINE}\n  # the second bank\n  2/1: {{name: Far}}\n  2/2: {ROCK_LINE}\n",
    ),
    (
        "stored: floor\npresets:\n      2/1: {name: Far}\n",
        {"1/1": ROCK},
        f"stored: floor\npresets:\n      1/1: {ROCK_LINE}\n      2/1: {{name: Far}}\n",
    ),
    # Over several lines, as somebody wrote it by hand; the comment behind it stays.
    (
        "stored: floor\npresets:\n  1/1:\n    name: Old\n    loops:\n    - 1\n  # end\nformat: 1\n",
        {"1/1": ROCK},
        f"stored: floor\npresets:\n  1/1:\n    {ROCK_LINE}\n  # end\nformat: 1\n",
    ),
    # What somebody noted beside its lines stays beside it.
    (
        "stored: floor\npresets:\n  1/1:   # mine\n    name: Old\n    loops: [5]   # five\n"
        "    # do not touch the relay here\n    messages: [b8 1c 00]\n  2/1: {name: Far}\n",
        {"1/1": ROCK},
        f"stored: floor\npresets:\n  1/1:   # mine\n    {ROCK_LINE}  # five "
        "# do not touch the relay here\n  2/1: {name: Far}\n",
    ),
    (
        "stored: floor\npresets: {1/1: {name: Old}, 2/1: {name: Far}}  # all\n",
        {"1/1": ROCK, "3/1": ROCK},
        f"stored: floor\npresets: {{1/1: {ROCK_LINE}, 2/1: {{name: Far}}, 3/1: {ROCK_LINE}}}"
        "  # all\n",
    ),
    (
        "stored: floor\npresets:  # none yet\nformat: 1\n",
        {"1/1": ROCK},
        f"stored: floor\npresets:  # none yet\n  1/1: {ROCK_LINE}\nformat: 1\n",
    ),
    (
        "stored: floor\npresets: {}  # none\n",
        {"1/1": ROCK},
        f"stored: floor\npresets:  # none\n  1/1: {ROCK_LINE}\n",
    ),
    ("stored: floor", {"1/1": ROCK}, f"stored: floor\npresets:\n  1/1: {ROCK_LINE}\n"),
    (
        "stored: floor\r\npresets:\r\n  1/1: {name: Old}\r\n",
        {"1/2": ROCK},
        f"stored: floor\r\npresets:\r\n  1/1: {{name: Old}}\r\n  1/2: {ROCK_LINE}\r\n",
    ),
    (
        "stored: floor\npresets:\n  1/1: {name: Old}",
        {"1/2": ROCK},
        f"stored: floor\npresets:\n  1/1: {{name: Old}}\n  1/2: {ROCK_LINE}\n",
    ),
]


@pytest.mark.parametrize(("before", "presets", "after"), CHANGED)
def test_only_the_lines_concerned_change(
    before: str, presets: dict[str, tuple[str, Typed]], after: str
) -> None:
    assert with_news(before, "floor", news(presets)) == after


def test_a_new_file() -> None:
    text = with_news(
        "",
        "floor: 2",
        News(
            {"2/1": ROCK, "1/1": ("Yes", Typed(tempo="quarter = 120"))},
            {"wobbler": {"42": "tremolo"}},
            {"Granary": Lies("69Y5", ("1", "1", "2"), 14)},
            ORDER,
        ),
    )
    assert text == (
        "# What floor: 2 holds. ‘setwright done’ writes this; ‘setwright plan’ reads it.\n"
        'stored: "floor: 2"\nformat: 1\npresets:\n'
        "  1/1: {name: Yes, tempo: quarter = 120}\n"
        f"  2/1: {ROCK_LINE}\n"
        "programs:\n  wobbler: {42: tremolo}\nplaced:\n  Granary: {state: 69Y5, banks: [1, 1, 2], presses: 14}\n"
    )


@pytest.mark.parametrize(
    "text",
    [
        "stored: floor\npresets: &all\n  1/1: {name: Old}\nmore: *all\n",
        "stored: floor\npresets: [1/1]\n",
        "stored: floor\npresets:\n  1/1: {name: Old\n",
        "stored: floor\npresets: nothing\n",
        "stored: floor\npresets: {1/1: {name: Old,  # old\n  loops: [1]}, 2/1: {name: Far}}\n",
    ],
)
def test_what_cannot_be_exchanged_is_left_alone(text: str) -> None:
    with pytest.raises(NotEditableError):
        with_news(text, "floor", news({"1/1": ROCK}))


NAMES = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Cn", "Co"]), min_size=1, max_size=8
).map(lambda text: " ".join(text.split()) or "x")
TYPED = st.builds(
    Typed,
    st.lists(st.integers(1, 8), unique=True, max_size=3).map(lambda one: tuple(sorted(one))),
    st.just(()),
    st.lists(st.sampled_from([b"\xc1\x2a", b"\xb1\x14\x40"]), max_size=2).map(tuple),
    st.sampled_from(["", "quarter = 120", "dotted quarter = 99.5"]),
)
PRESETS = st.dictionaries(st.sampled_from(sorted(ORDER)), st.tuples(NAMES, TYPED), max_size=5)


@settings(deadline=None)
@given(PRESETS, PRESETS)
def test_all_of_it_is_there_afterwards(
    first: dict[str, tuple[str, Typed]], second: dict[str, tuple[str, Typed]]
) -> None:
    """As another reader of YAML has it, which takes all scalars for text here."""
    text = with_news("", "floor", news(first))
    text = with_news(text + "# the end\n", "floor", news(second))
    read = YAML(typ="base").load(text).get("presets", {})
    wanted = first | second
    assert set(read) == set(wanted)
    for key, (name, typed) in wanted.items():
        one = read[key]
        assert one["name"] == name
        assert tuple(map(int, one.get("loops", ()))) == typed.loops
        assert [bytes.fromhex(byte) for byte in one.get("messages", ())] == list(typed.messages)
        assert one.get("tempo", "") == typed.tempo
    assert "# the end\n" in text
    assert list(read) == sorted(read, key=ORDER.__getitem__)


KILLED = """
import os, signal, sys
from pathlib import Path
from setwright.compiler.outputs import disk, lock, one_file
step, count = int(sys.argv[2]), 0
def counted(real):
    def call(*words, **more):
        global count
        count += 1
        if count == step:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*words, **more)
    return call
os.open, os.write, os.fsync, os.close = map(counted, (os.open, os.write, os.fsync, os.close))
Path.replace, Path.unlink = counted(Path.replace), counted(Path.unlink)
one_file.exchange(Path(sys.argv[1]), lambda before: before + b"new" * 1000)
print(count)
"""


@pytest.mark.skipif(os.name == "nt", reason="needs signals")
def test_killed_at_every_step_it_is_old_or_new(tmp_path: Path) -> None:
    path, step, seen = tmp_path / "floor.stored.yaml", 0, set()
    new = b"old" + b"new" * 1000
    while True:
        step += 1
        path.write_bytes(b"old")
        ended = subprocess.run(
            [sys.executable, "-c", KILLED, str(path), str(step)],
            capture_output=True,
            text=True,
            check=False,
            cwd=ROOT,
        )
        assert path.read_bytes() in (b"old", new)
        seen.add(path.read_bytes())
        if ended.returncode == 0:
            break
        assert ended.returncode == -signal.SIGKILL, ended.stderr
        # Whatever is left of it, the next one gets through.
        assert exchange(path, lambda before: b"again") is None
        assert path.read_bytes() == b"again"
    assert step > 5
    assert seen == {b"old", new}
    assert [one.name for one in tmp_path.iterdir()] == ["floor.stored.yaml"]


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    problem = exchange(tmp_path / "nowhere.yaml" / "a.yaml" / "b.yaml", lambda before: b"x")
    assert problem is None or "cannot write" in str(problem)
    (tmp_path / "file").write_text("x", encoding="utf-8")
    problem = exchange(tmp_path / "file" / "b.yaml", lambda before: b"x")
    assert problem is not None
    assert "cannot write" in problem.sentence


def test_a_refusal_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "floor.stored.yaml"
    path.write_bytes(b"old")
    problem = Problem("it is wrong", "mend it")
    assert exchange(path, lambda before: problem) is problem
    assert path.read_bytes() == b"old"


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_stays_one(tmp_path: Path) -> None:
    real = tmp_path / "real.yaml"
    real.write_bytes(b"old")
    link = tmp_path / "floor.stored.yaml"
    link.symlink_to(real)
    assert exchange(link, lambda before: before + b"!") is None
    assert link.is_symlink()
    assert real.read_bytes() == b"old!"
