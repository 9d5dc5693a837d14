"""Every sender by itself: shared channels, computers, what is set by hand."""

from __future__ import annotations

import json
import os
from collections import Counter
from io import BytesIO
from itertools import product
from pathlib import Path
from random import Random

import mido
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from setwright.compiler.binding.states import Cause, Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.build import output_files
from setwright.compiler.proving.by_hand import ByHand
from setwright.compiler.proving.receiver import Receiver
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found, find_scene
from setwright.compiler.reports.summary import proof
from setwright.compiler.reports.trace import trace
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.send import Plan, plan
from setwright.scenes.finding import Severity
from tests import corpus
from tests.mini import compile_mini, told
from tests.rigs import Book, books, messages
from tests.test_sequences import compiled_of, look_for_leavings, rig_of

BOOKS = int(os.environ.get("SETWRIGHT_BOOKS", "300"))
QUICK = "SETWRIGHT_BOOKS" in os.environ
SHARING = {"channel-collision", "omni-hears-others", "control-is-bank-select"}

seen: Counter[str] = Counter()


@settings(
    max_examples=BOOKS,
    deadline=None,
    derandomize=QUICK,
    phases=[Phase.generate] if QUICK else tuple(Phase),
    suppress_health_check=list(HealthCheck),
)
@given(book=books(shared=True), seed=st.integers(0, 2**32))
def test_boxes_on_one_channel_that_do_no_harm(book: Book, seed: int) -> None:
    """Where no collision is found, every scene after any other is as the oracle wants it."""
    compiled = compiled_of(book)
    wrong = {one.code for one in told(compiled) if one.severity is Severity.ERROR}
    assert wrong <= SHARING, wrong
    seen["books"] += 1
    if wrong:
        seen["collisions"] += 1
        return
    seen["shared"] += 1
    song, other = compiled.songs
    scenes = {name: compiled.scene(one, name) for one in (song, other) for name in one.scenes}
    random = Random(seed)
    look_for_leavings(book, compiled, scenes, random)
    for _ in range(8):
        rig = rig_of(book, compiled, random)
        for _ in range(random.randrange(1, 6)):
            name, scene = random.choice(list(scenes.items()))
            rig.rest()
            direct = random.random() < 0.5
            if direct:
                rig.send(scene.lowered.direct)
            else:
                rig.press(scene, running=random.random() < 0.5)
            seen["sequences"] += 1
            wanted = book.wanted(name)
            for one in scene.proved:
                key = (one.unit, one.quantity)
                if one.quantity in {"loop", "relay"} or wanted.get(key) is None:
                    continue
                if direct and book.settable(name, *key):
                    assert rig.idle(name, *key) or rig.holds(*key) == wanted[key], (name, key)
                elif one.verdict in {Verdict.PROVEN, Verdict.FEET}:
                    seen["proven"] += 1
                    assert rig.idle(name, *key) or rig.holds(*key) == wanted[key], (name, key)


def test_so_many_shared_a_channel() -> None:
    if QUICK:
        pytest.skip("the number of books was set by hand")
    assert seen["shared"] > 40, seen
    assert seen["collisions"] > 40, seen
    assert seen["proven"] > 500, seen


TWO = """
    one: {{loop: 1, channel: 3, display: 0 to 9, programs: {{warm: 1, thin: 2}},
      acts only on: what is declared{one}}}
    two: {{{loop}channel: 3, display: 0 to 9, programs: {{warm: 1, thin: 2}},
      acts only on: what is declared{two}}}
"""
MIX = ", controls: {mix: {cc: 21}}"


@pytest.mark.parametrize(
    ("one", "two", "loop", "effects", "scenes", "harmed"),
    [
        pytest.param("", "", 2, "a: {one: warm}\nb: {two: thin}", "A: [a]\nB: [b]", False,
                     id="never both heard"),
        pytest.param("", "", 2, "a: {one: warm}\nb: {two: thin}", "A: [a]\nB: [a, b]", True,
                     id="both heard, in two programs"),
        pytest.param("", "", 2, "a: {one: warm}\nb: {two: warm}", "A: [a]\nB: [a, b]", False,
                     id="both heard, in one program"),
        pytest.param("", "", 0, "a: {one: warm}\nb: {two: warm}", "A: [a]\nB: [a, b]", True,
                     id="one is always heard, and any program would do"),
        pytest.param("", ", at rest: warm", 0, "a: {one: warm}\nb: {two: warm}",
                     "A: [a]\nB: [a, b]", False, id="unless it rests in that program"),
        pytest.param("", ", at rest: thin", 0, "a: {one: warm}\nb: {two: warm}",
                     "A: [a]\nB: [a, b]", True, id="and not in another"),
        pytest.param("", "", 2, "a: {one: warm}\nb: two", "A: [a]\nB: [b]", True,
                     id="it keeps what it was told until it is heard"),
        pytest.param("", "", 2, "a: {one: warm}\nb: two", "A: [a]\nB: []", False,
                     id="it is never heard"),
        pytest.param(MIX, ", controls: {mix: {cc: 21, after a program: kept}}", 2,
                     "a: {one: {state: warm, set: {mix: 5}}}\nb: {two: warm}",
                     "A: [a]\nB: [b]", True, id="a control that a program does not bring back"),
        pytest.param(MIX, MIX, 2, "a: {one: {state: warm, set: {mix: 5}}}\nb: {two: warm}",
                     "A: [a]\nB: [b]", False, id="a control that its program brings back"),
        pytest.param(MIX, MIX + ", same program again: ignored", 2,
                     "a: {one: {state: warm, set: {mix: 5}}}\nb: {two: warm}",
                     "A: [a]\nB: [b]", True, id="or not, where a repeat is ignored"),
        pytest.param(MIX, MIX, 2,
                     "a: {one: {state: warm, set: {mix: 5}}}\n"
                     "b: {two: {state: warm, set: {mix: 5}}}",
                     "A: [a]\nB: [a, b]", False, id="set alike"),
        pytest.param(MIX, MIX, 2,
                     "a: {one: {state: warm, set: {mix: 5}}}\n"
                     "b: {two: {state: warm, set: {mix: 6}}}",
                     "A: [a]\nB: [a, b]", True, id="set apart"),
        pytest.param("", ", loading: engages, switched by: {cc: 28, any value flips: yes}", 0,
                     "a: {one: warm}", "A: [a]\nB: []", True, id="off by hand, and engaged"),
        pytest.param("", ", loading: engages, switched by: {cc: 28, on: 127, off: 0}", 0,
                     "a: {one: warm}\nb: {two: thin}", "A: [a]\nB: [b]", True,
                     id="off by a message, and engaged after it by a computer"),
        pytest.param("", ", switched by: {cc: 28, on: 127, off: 0}", 0,
                     "a: {one: warm}\nb: {two: thin}", "A: [a]\nB: [b]", False,
                     id="off by a message"),
        pytest.param("", ", tap: {cc: 21}", 2, "a: {one: thin}\nb: {two: warm}", "A: [a]\nB: [b]", False,
                     id="nothing is sent to the other"),
        pytest.param(MIX, ", tap: {cc: 21}", 2, "a: {one: {set: {mix: 5}}}\nb: {two: warm}",
                     "A: [a]\nB: [b]", True, id="a tap"),
        pytest.param(MIX, ", reached by: {up: 21}", 2, "a: {one: {set: {mix: 5}}}\nb: two",
                     "A: [a]\nB: [b]", True, id="a step"),
        pytest.param(MIX, ", switched by: {cc: 21, any value flips: yes}", 2,
                     "a: {one: {set: {mix: 5}}}\nb: {two: warm}", "A: [a]\nB: [b]", True,
                     id="a flip"),
        pytest.param("", ", busy after program: 9 ms", 2, "a: {one: warm}\nb: {two: warm}",
                     "A: [a]\nB: [a, b]", False, id="busy, and whichever is lost is the same"),
        pytest.param("", ", busy after program: 9 ms", 2, "a: {one: thin}\nb: {two: warm}",
                     "A: [a]\nB: [a, b]", True, id="busy, and it hangs on milliseconds"),
    ],
)  # fmt: skip
def test_two_boxes_on_one_channel(
    tmp_path: Path, one: str, two: str, loop: int, effects: str, scenes: str, harmed: bool
) -> None:
    units = TWO.format(one=one, two=two, loop=f"loop: {loop}, " if loop else "")
    compiled = compile_mini(tmp_path, units=units, effects=effects, scenes=scenes)
    errors = {one.code for one in told(compiled) if one.severity is Severity.ERROR}
    assert errors == ({"channel-collision"} if harmed else set())
    assert (proof(compiled) is None) is harmed


def test_a_harmless_neighbour_stays_proven(tmp_path: Path) -> None:
    units = TWO.format(one="", two="", loop="loop: 2, ")
    compiled = compile_mini(
        tmp_path, units=units, effects="a: {one: warm}\nb: {two: warm}", scenes="A: [a]\nB: [a, b]"
    )
    proven = proof(compiled)
    assert proven is not None
    assert (proven.scenes, proven.not_known) == (2, 0)


HAND = "switched by: {cc: 28, any value flips: yes}, acts only on: what is declared"


@pytest.mark.parametrize(
    ("unit", "effects", "scenes", "by_hand"),
    [
        pytest.param(f"loop: 1, {HAND}", "a: box", "A: [a]\nB: []", [("switch", "on")],
                     id="a flip in a loop is on all night"),
        pytest.param(HAND, "a: box", "A: [a]\nB: []", None, id="a flip that is on and off"),
        pytest.param(HAND, "a: box", "A: [a]\nB: [a]", [("switch", "on")], id="always on"),
        pytest.param(HAND, "a: box\nb: {pedal: up}", "A: [b]\nB: [b]", [("switch", "off")],
                     id="no scene uses it"),
        pytest.param(f"loop: 1, {HAND}", "a: box", "A: []\nB: []", [], id="out all night"),
        pytest.param("relay: {number: 2, open: clean, closed: dirty}", "a: {box: dirty}",
                     "A: [a]\nB: [a]", [("relay", "dirty")], id="a pulse, dirty all night"),
        pytest.param("relay: {number: 2, open: clean, closed: dirty}", "a: {box: dirty}",
                     "A: []\nB: []", [("relay", "clean")], id="a pulse, clean all night"),
        pytest.param("relay: {number: 2, open: clean, closed: dirty}", "a: {box: dirty}",
                     "A: [a]\nB: []", None, id="a pulse, and both are wanted"),
        pytest.param("loop: 1, display: 1 to 8, programs: {warm: 1, thin: 2, again: 1}, "
                     "reached by: {up: 70}, acts only on: what is declared",
                     "a: {box: warm}\nb: {box: again}", "A: [a]\nB: [b]\nC: []",
                     [("program", "again (display 1)")], id="one stepped program, by two names"),
        pytest.param("loop: 1, display: 1 to 8, programs: {warm: 1, thin: 2}, "
                     "reached by: {up: 70}, acts only on: what is declared",
                     "a: {box: warm}\nb: {box: thin}", "A: [a]\nB: [b]", None,
                     id="two stepped programs"),
        pytest.param("loop: 1, display: 1 to 8, programs: {warm: 1}, reached by: {up: 70}, "
                     "controls: {mix: {cc: 21, only with: warm}}, acts only on: what is declared",
                     "a: {box: {state: warm, set: {mix: 7}}}", "A: [a]\nB: []",
                     [("program", "warm (display 1)")], id="and a control that needs it"),
        pytest.param(f"loop: 1, display: 1 to 8, programs: {{warm: 1}}, loading: engages, "
                     f"same program again: ignored, {HAND}",
                     "a: {box: warm}", "A: [a]\nB: []", [("switch", "on")],
                     id="a program that engages, and may be there already"),
        pytest.param(f"loop: 1, display: 1 to 8, programs: {{warm: 1}}, loading: engages, {HAND}",
                     "a: {box: warm}", "A: [a]\nB: []", [], id="loading switches it on"),
        pytest.param(f"loop: 1, display: 1 to 8, programs: {{warm: 1}}, loading: bypasses, {HAND}",
                     "a: {box: warm}", "A: [a]\nB: []", None, id="loading switches it off"),
    ],
)  # fmt: skip
def test_what_is_set_before_the_night(
    tmp_path: Path,
    unit: str,
    effects: str,
    scenes: str,
    by_hand: list[tuple[str, str]] | None,
) -> None:
    channel = "" if "relay" in unit else "channel: 3, "
    compiled = compile_mini(
        tmp_path,
        units=f"box: {{{channel}{unit}}}\npedal: {{by foot: [down, up], at start: up}}",
        effects=effects,
        scenes=scenes,
    )
    codes = {one.code for one in told(compiled)}
    doubted = codes & {"flip-not-known", "steps-not-known"}
    assert bool(doubted) is (by_hand is None)
    assert list(compiled.set_by_hand) == [ByHand("box", *one) for one in by_hand or ()]
    for scene in compiled.scenes.values():
        for one in scene.proved:
            if one.unit == "box" and one.value is not None and by_hand is not None:
                assert one.verdict is not Verdict.UNKNOWN, one
            if (one.unit, one.quantity) in {("box", what) for what, _ in by_hand or ()}:
                assert one.verdict in {Verdict.FEET, Verdict.FREE}
    for preset in compiled.placement.presets:
        assert preset.content.relays == (), "a relay that only gives a pulse is left alone"


ALONE = """
    box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1, thin: 2},
      busy after program: 90 ms, acts only on: what is declared,
      controls: {mix: {cc: 21, at rest: 40}}}
    far: {channel: 4, switched by: {cc: 28, on: 127, off: 0}, acts only on: what is declared}
"""
NO_SLOTS = "switcher: board\nbanks: 9\nswitches: 5\nloops: 4\n"


def alone(folder: Path, midi: str = "[computer, box, far]") -> Compiled:
    return compile_mini(
        folder,
        units=ALONE,
        effects="a: {box: warm}\nb: {box: thin}\nc: far",
        scenes="A: [a]\nB: [b]\nC: [c]",
        rig=f"midi:\n- {midi}\n",
        switcher=NO_SLOTS,
    )


def test_a_computer_alone_sends_and_presets_hold_loops(tmp_path: Path) -> None:
    """A switcher whose presets store no messages at all will do, and a busy box is waited for."""
    compiled = alone(tmp_path)
    assert told(compiled) == []
    assert [one.content.loops for one in compiled.placement.presets] == [(1,), ()]
    assert all(one.content.commands == () for one in compiled.placement.presets)
    proven = proof(compiled)
    assert proven is not None
    assert (proven.not_known, proven.proven) == (0, 3)
    assert compiled.lines.listening(compiled.lines.sender) == ["box", "far"]
    scenes = {key[1]: scene for key, scene in compiled.scenes.items()}
    assert scenes["A"].lowered.stored.commands == ()
    for first, second in product(scenes, repeat=2):
        box = Receiver(compiled.target.units["box"], program=(0, 7), controls={21: 99})
        for name in (first, second):
            box.rest()
            route = scenes[name].lowered.direct
            for message, timed in zip(messages(route.stream), route.commands, strict=True):
                box.take(message, timed.starts)
        if second != "C":
            assert (box.program, box.value(21)) == ((0, "xAB".index(second)), 40)


def test_the_same_rig_with_a_switcher_on_the_line_is_no_good(tmp_path: Path) -> None:
    """The near miss: now its presets have to hold what they cannot."""
    compiled = alone(tmp_path, "[switcher, box, far]")
    assert [one.code for one in told(compiled)] == ["preset-full"]


def test_what_no_cable_of_a_lone_computer_reaches_is_deaf(tmp_path: Path) -> None:
    compiled = alone(tmp_path, "[computer, box]")
    (finding,) = told(compiled)
    assert finding.code == "deaf-unit"
    assert {
        one.cause for s in compiled.scenes.values() for one in s.proved if one.unit == "far"
    } == {Cause.DEAF}


def test_two_on_the_channel_of_a_lone_computer(tmp_path: Path) -> None:
    units = TWO.format(one="", two="", loop="loop: 2, ")
    compiled = compile_mini(
        tmp_path,
        units=units,
        effects="a: {one: warm}\nb: {two: thin}",
        scenes="A: [a]\nB: [a, b]",
        rig="midi:\n- [computer, one, two]\n",
        switcher=NO_SLOTS,
    )
    assert [one.code for one in told(compiled)] == ["channel-collision"]


def test_what_is_made_for_a_lone_computer(tmp_path: Path) -> None:
    """Maps, sheet, MIDI files and words speak of what the computer sends."""
    compiled = compile_mini(
        tmp_path,
        units=ALONE,
        effects="a: {box: warm}\nb: {box: thin}",
        songs="""
            songs:
            - title: Tune
              meter: 4/4
              tempo: quarter = 120
              form: AB, 2 rounds
              scenes: {A: [a], B: [b]}
              order: [A, B: round 2 A, B: round 2 B]
            """,
        rig="midi:\n- [computer, box, far]\n",
        switcher=NO_SLOTS,
    )
    assert told(compiled) == []
    files = output_files(compiled).files
    assert json.loads(files["night.json"])["sender"] == "computer"
    assert b"load thin" in files["maps/programs.csv"]
    assert b"a computer sends\nthe rest" in files["preset-sheet.html"]
    assert not [name for name in files if name.startswith("stored/")]
    # A and B have the same loop and so one switch: the foot stays, and the computer does not.
    tune = mido.MidiFile(file=BytesIO(files["direct/1-01-tune.mid"]))
    sent = [message.bytes()[:2] for message in tune if not message.is_meta]
    assert sent == [
        [0xB3, 0x1C], [0xC2, 1], [0xB2, 0x15], [0xB3, 0x1C], [0xC2, 2], [0xB2, 0x15],
    ]  # fmt: skip
    found = find_scene(compiled, "Tune/B")
    assert isinstance(found, Found)
    assert "the preset sends nothing: no MIDI line leads out of the switcher" in [
        *trace(compiled, found)
    ]
    assert "stored in the preset: loops and relays alone, for no MIDI line leads out of the " in (
        "\n".join(explain(compiled, found))
    )
    planned = plan(compiled, found, direct=False)
    assert isinstance(planned, Plan)
    assert planned.route is found.scene.lowered.direct
    assert "loop 1 (box) in" in planned.not_sent


def test_a_computer_whose_line_does_not_lead_to_the_switcher(tmp_path: Path) -> None:
    """It cannot call a preset, so there are no files for that, and sending says why."""
    board = NO_SLOTS + "each preset stores: {programs: 4, controls: 4}\nrecalled on channel: 16\n"
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1}}\nm: {is: merge}",
        effects="a: {box: warm}",
        scenes="A: [a]",
        rig="midi:\n- [switcher, m]\n- [computer, m, box]\n",
        switcher=board,
    )
    assert [one.code for one in told(compiled)] == ["sent-twice"]
    assert not [name for name in output_files(compiled).files if name.startswith("stored/")]
    found = find_scene(compiled, "Tune/A")
    assert isinstance(found, Found)
    problem = plan(compiled, found, direct=False)
    assert isinstance(problem, Problem)
    assert problem.code == "computer-not-on-the-line"
    direct = plan(compiled, found, direct=True)
    assert isinstance(direct, Plan)
    assert "does not lead to" not in direct.not_sent


def test_a_computer_that_tells_half_of_the_units_says_which_half(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=ALONE + "    m: {is: merge}\n",
        effects="a: {box: warm}\nc: far",
        scenes="A: [a, c]",
        rig="midi:\n- [switcher, box, m]\n- [computer, m, far]\n",
    )
    assert [one.code for one in told(compiled) if one.code != "sent-in-vain"] == ["sent-twice"]
    found = find_scene(compiled, "Tune/A")
    assert isinstance(found, Found)
    planned = plan(compiled, found, direct=True)
    assert isinstance(planned, Plan)
    assert planned.not_sent == (
        "the computer's MIDI line does not lead to ‘box’, as the rig has it; loops and relays are "
        "the switcher's own and no message here sets them; this scene needs loop 1 (box) in, all "
        "others out"
    )


@pytest.mark.parametrize(("midi", "codes"), [
    ("- [switcher, box]\n- [computer, lamp]", []),
    ("- [switcher, box, m]\n- [computer, m, lamp]", ["channel-collision"]),
    ("- [switcher, m]\n- [computer, m, box, lamp]", ["channel-collision"]),
])  # fmt: skip
def test_a_computer_with_other_things_to_do(tmp_path: Path, midi: str, codes: list[str]) -> None:
    """What no cable of it brings to any unit of the scenes, it will not send either."""
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1}}\n"
        "lamp: {channel: 3, display: 0 to 9, programs: {red: 1}}\nm: {is: merge}",
        effects="a: {box: warm}",
        scenes="A: [a]",
        rig=f"midi:\n{midi}\n",
    )
    found = [one.code for one in told(compiled) if one.severity is Severity.ERROR]
    assert found == codes


COMPUTER_RIG = """\
rig: Shed
switcher: board.yaml
units:
  squeezer: {loop: 1}
  wobbler:
    loop: 2
    channel: 6
    display: 0 to 99
    programs: {tremolo: 42}
    acts only on: what is declared
  echo:
    channel: 9
    switched by: {cc: 28, on: 127, off: 0}
    time: {cc: 20, linear: 20 ms to 1800 ms, at rest: 400 ms}
    acts only on: what is declared
  computer: {is: sender}
  combo: {is: amplifier}
  joiner: {is: merge}
effects:
  compression: squeezer
  tremolo: {wobbler: tremolo}
  long echo: echo
path:
  - [guitar, squeezer, wobbler, echo, combo]
midi:
"""
CALLS = "  - [computer, switcher]\n  - [switcher, wobbler, echo]\n"
PLAYS = "  - [computer, wobbler, echo]\n"
BESIDE = "  - [switcher, joiner]\n  - [computer, joiner]\n  - [joiner, wobbler, echo]\n"
BRANCHES = "  - [computer, wobbler]\n  - [computer, echo]\n"


@pytest.mark.parametrize(
    ("midi", "old", "new", "code", "at"),
    [
        (CALLS, "  - [computer, switcher]\n", "", "computer-unheard", "computer"),
        (CALLS, "[computer, switcher]", "[computer]", "computer-unheard", "computer"),
        (CALLS, "[computer, switcher]", "[switcher, computer]", "computer-unheard", "computer"),
        (CALLS, "  - [switcher, wobbler, echo]\n", "", "deaf-unit", "midi"),
        (PLAYS, PLAYS, "  - []\n", "deaf-unit", "midi"),
        (PLAYS, "computer, ", "", "deaf-unit", "wobbler"),
        (PLAYS, "wobbler, echo", "wobbler", "deaf-unit", "9"),
        (PLAYS, "wobbler,", "wobbler: {thru: no},", "deaf-unit", "no"),
        (BRANCHES, "  - [computer, echo]\n", "", "deaf-unit", "9"),
        (BESIDE, "  - [computer, joiner]\n", "", "computer-unheard", "computer"),
        (BESIDE, "[computer, joiner]", "[computer]", "computer-unheard", "computer"),
    ],
)
@pytest.mark.parametrize("declared", [True, False])
def test_a_computers_cable_is_taken_away(
    midi: str, old: str, new: str, code: str, at: str, declared: bool
) -> None:
    """One finding, at the exact words; what was not declared and is gone, nobody can miss."""
    rig = COMPUTER_RIG if declared else COMPUTER_RIG.replace("  computer: {is: sender}\n", "")
    base = corpus.base()
    board = base["board.yaml"] + "recalled on channel: 16\nrecalled by bank select: msb\n"
    night = {**base, "board.yaml": board, "rig.yaml": rig + midi}
    right = [one.code for one in corpus.findings(night)]
    assert right == (["sent-twice"] if midi == BESIDE else [])
    assert old in midi
    cut = corpus.findings({**night, "rig.yaml": rig + midi.replace(old, new)})
    if code == "computer-unheard" and not declared and new != "[computer]":
        assert cut == []
        return
    (one,) = cut
    assert (one.code, corpus.underlined(one)) == (code, at)


@pytest.mark.parametrize(
    ("midi", "follows", "code"),
    [
        ("- [computer, m]\n- [switcher, m, echo]", "clock", ""),
        ("- [computer, switcher]\n- [switcher, echo]", "clock", "no-clock"),
        ("- [computer, m]\n- [box, m]\n- [switcher, m, echo]", "clock", "two-clocks"),
        ("- [computer, n, m]\n- [switcher, n]\n- [computer, m, echo]", "clock", "heard-twice"),
    ],
)
def test_the_clock_of_a_computer(tmp_path: Path, midi: str, follows: str, code: str) -> None:
    compiled = compile_mini(
        tmp_path,
        units=f"""
            echo: {{loop: 1, channel: 3, switched by: {{cc: 1, on: 127, off: 0}},
              tempo from: {follows}, acts only on: what is declared}}
            computer: {{is: sender, sends: clock}}
            box: {{is: sender, sends: clock}}
            m: {{is: merge}}
            n: {{is: merge}}
        """,
        effects="a: echo",
        scenes="A: [a]",
        rig=f"midi:\n{midi}\n",
        switcher="switcher: board\nbanks: 9\nswitches: 5\nloops: 4\nrecalled on channel: 16\n"
        "each preset stores: {programs: 4, controls: 4}\n",
    )
    found = {one.code for one in told(compiled) if one.severity is not Severity.NOTE}
    assert found == ({code} - {""})
