"""The rooms that faults are put into, and the tests that judge each, the quickest first.

A judge is ``tests/test_NAME.py`` with words for pytest, or ``corpus CODE …``: the planted books and
near misses of these codes. What lies on the way to the messages is judged by model receivers
alone, which know nothing of how the messages are made.
"""

from __future__ import annotations

from typing import NamedTuple

from tests.conftest import ROOT


class Room(NamedTuple):
    """Some files and their judges; a ``whole`` room gets every mutant, not a sample."""

    name: str
    files: tuple[str, ...]
    judges: tuple[str, ...]
    whole: bool = False
    by_receivers: bool = False


def _receivers(name: str, file: str) -> Room:
    judges = ("test_sequences", "test_receive", "test_demo_scenes", "test_pairs")
    return Room(name, (file,), tuple(f"tests/{one}.py" for one in judges), by_receivers=True)


BY_RECEIVERS = (
    _receivers("bind", "compiler/binding/bind.py"),
    _receivers("lower", "compiler/lowering/lower.py"),
    _receivers("wire", "compiler/lowering/wire.py"),
    _receivers("midi", "compiler/midi.py"),
)

# Without the tests that start the command or read the largest book.
_BAD = "tests/test_bad_files.py -k 'one_finding or names_stay or colons or lead_out or circle or below'"
# Without what a browser prints.
_SHEETS = (
    "tests/test_sheets.py -k 'small_book or guessed or every_preset or framed or "
    "foot or bank_that or odd_text or escaped or formula or told_apart or same_bytes'"
)
# Without the browser, and what starts the command.
_DRAWINGS = "tests/test_drawings.py -k 'not browser and not process'"
_SLIPS = "tests/test_rig_slips.py"

_SCENES = (
    ("finding", ("tests/test_finding.py", "tests/test_many_slips.py -k 'fold or few or said'")),
    ("wording", ("tests/test_finding.py", "tests/test_rig_slips.py", _BAD)),
    ("quantities", ("tests/test_quantities.py", _SLIPS)),
    ("musical_time", ("tests/test_musical_time.py", "tests/test_data.py")),
    ("forms", ("tests/test_musical_time.py", "tests/test_parts.py")),
    ("shapes", ("tests/test_musical_time.py", "tests/test_parts.py")),
    ("tempi", ("tests/test_parts.py",)),
    ("displays", ("tests/test_displays.py",)),
    ("files", (_BAD, "tests/test_cli.py -k only_night")),
    ("nights", ("tests/test_cli.py -k night",)),
    (
        "places",
        (
            "tests/test_places.py",
            "tests/test_finding.py",
            "corpus fed-twice slow-change set-too-long",
            _BAD,
        ),
    ),
    ("text", ("tests/test_syntax.py", _BAD)),
    ("syntax", ("tests/test_syntax.py", _BAD)),
    ("names", (_SLIPS, _BAD, "tests/test_resolve.py")),
    ("fields", ("tests/test_records.py",)),
    ("records", ("tests/test_records.py", _SLIPS, _BAD)),
    ("reading", ("tests/test_records.py", _SLIPS, _BAD)),
    ("texts", ("tests/test_schema.py", _BAD)),
    ("songs", ("tests/test_resolve.py", _BAD, "tests/test_schema.py")),
    ("stored", ("tests/test_plan.py", "tests/test_stored_text.py")),
    ("stored_file", ("tests/test_plan.py", "corpus stored-newer stored-of-another")),
    ("switcher", (_SLIPS, "tests/test_place.py", _BAD, "tests/test_schema.py")),
    ("control", (_SLIPS, "tests/test_bind.py", "tests/test_receive.py", "tests/test_schema.py")),
    ("power", ("tests/test_power.py", _SLIPS, "corpus supply-voltage supply-kind")),
    ("sight", ("tests/test_quantities.py", "tests/test_cues.py", "corpus sheet-too-far")),
    ("unit", (_SLIPS, "tests/test_bind.py", "tests/test_hear.py", _BAD, "tests/test_schema.py")),
    ("rig", (_SLIPS, "tests/test_bind.py", "tests/test_hear.py", _BAD)),
    ("night", (_BAD, "tests/test_bind.py -k tonight", "tests/test_let_pass.py")),
    ("kinds", ("tests/test_book.py", "tests/test_bad_files.py -k kind")),
    ("merge", ("tests/test_merge.py", "corpus program-two-numbers display-disagrees", _BAD)),
    ("shelf", ("tests/test_book.py", "tests/test_merge.py", _BAD)),
    ("book", ("tests/test_book.py", "tests/test_merge.py", _BAD)),
    ("nothing", ("tests/test_bad_files.py -k 'empty or nothing or requests'",)),
    ("identities", ("tests/test_merge.py", _BAD)),
    ("instead", ("tests/test_bad_files.py -k 'stand_in or circle or instead'", _SLIPS)),
    ("length", ("tests/test_length.py", "corpus length-disagrees beyond-end set-too-long")),
    (
        "moments",
        ("tests/test_resolve.py", "tests/test_data.py", "corpus order-out-of-time", _BAD),
    ),
    ("resolve", ("tests/test_resolve.py", "tests/test_data.py", "corpus order-out-of-time", _BAD)),
    ("schema", ("tests/test_schema.py",)),
)

_SUPPLY = (
    "corpus supply-voltage supply-overloaded supply-kind supply-polarity fed-twice power-in-circle",
    "corpus not-fed draw-not-said feeds-nothing amplifier-on-supply",
    "tests/test_power.py",
)
_COMMON = (
    Room("common/supply", ("compiler/checks/common/supply.py",), _SUPPLY, whole=True),
    Room(
        "common/left_controls",
        ("compiler/checks/common/left_controls.py",),
        ("corpus repeat-ignored stays-as-left", "tests/test_proof.py"),
    ),
    Room(
        "common/clocked",
        ("compiler/checks/common/clocked.py",),
        ("tests/test_clock.py", "corpus one-tempo-for-all beyond-clock"),
    ),
    Room(
        "common/unknowns",
        ("compiler/checks/common/unknowns.py",),
        ("corpus repeat-ignored stays-as-left flip-not-known steps-not-known",),
    ),
    Room(
        "common/computer",
        ("compiler/checks/common/computer.py",),
        ("corpus computer-unheard recall-unheard",),
    ),
    Room(
        "common/full_presets",
        ("compiler/checks/common/full_presets.py",),
        ("tests/test_full_presets.py", "corpus preset-full"),
    ),
    Room(
        "common/sets",
        ("compiler/checks/common/sets.py",),
        ("corpus set-too-long set-begins-too-soon",),
    ),
    Room(
        "common/ways",
        ("compiler/checks/common/ways.py", "compiler/checks/common/unreached.py"),
        ("corpus not-in-path ends-in-no-amplifier unreached-unit spare-unit",),
    ),
    Room(
        "checks/phases",
        ("compiler/checks/phases.py", "compiler/checks/aimed.py", "compiler/checks/registry.py"),
        ("tests/test_codes.py", "tests/test_proof.py -k page"),
    ),
    Room(
        "checks/listed",
        ("compiler/checks/listed.py", "compiler/checks/check.py", "compiler/checks/run.py"),
        (
            "tests/test_let_pass.py",
            "corpus fed-twice slow-change supply-voltage",
            "tests/test_proof.py",
        ),
    ),
)

SAFETY = frozenset(
    {
        "supply-voltage",
        "supply-kind",
        "supply-polarity",
        "supply-overloaded",
        "fed-twice",
        "power-in-circle",
        "amplifier-on-supply",
        "channel-collision",
        "omni-hears-others",
        "other-sender",
        "sent-twice",
    }
)
"""Checks on which health, boxes or the whole night hang: every mutant has to be noticed."""

_MORE_JUDGES = {
    "supply-voltage": ("tests/test_power.py", "tests/test_let_pass.py"),
    "supply-kind": ("tests/test_let_pass.py",),
    "supply-polarity": ("tests/test_power.py", "tests/test_let_pass.py"),
    "supply-overloaded": ("tests/test_power.py", "tests/test_let_pass.py"),
    "fed-twice": ("tests/test_power.py", "corpus power-in-circle"),
    "power-in-circle": ("tests/test_power.py",),
    "sent-twice": ("corpus deaf-unit", "tests/test_hear.py"),
    "control-is-bank-select": ("corpus channel-collision",),
    "repeat-ignored": ("tests/test_proof.py",),
    "stays-as-left": ("tests/test_proof.py",),
    "other-sender": ("tests/test_hear.py",),
    "omni-hears-others": ("corpus channel-collision", "tests/test_hear.py"),
    "channel-collision": ("corpus omni-hears-others control-is-bank-select", "tests/test_hear.py"),
    "deaf-unit": ("tests/test_hear.py",),
    "midi-loop": ("tests/test_hear.py",),
    "no-clock": ("tests/test_power.py",),
    "sent-in-vain": ("tests/test_stored.py",),
    "pressed-too-soon": ("tests/test_presses.py",),
}


def _checks() -> tuple[Room, ...]:
    """Return one room for each check; those on which safety hangs are whole."""
    folder = ROOT / "compiler" / "checks"
    rooms = []
    for path in sorted(folder.glob("*.py")):
        code = path.stem.replace("_", "-")
        if "\nCHECK = " not in path.read_text(encoding="utf-8"):
            continue
        judges = (f"corpus {code}", *_MORE_JUDGES.get(code, ()))
        rooms.append(Room(code, (f"compiler/checks/{path.name}",), judges, whole=code in SAFETY))
    return tuple(rooms)


_COMPILER = (
    (
        "target",
        ("binding/target", "binding/aim", "binding/rig_findings", "binding/programs"),
        (_SLIPS, "tests/test_bind.py", "tests/test_receive.py", _BAD),
    ),
    (
        "aimed",
        (
            "binding/switcher_use",
            "binding/sharing",
            "binding/settings",
            "binding/units",
            "binding/contacts",
            "binding/pedals",
            "binding/states_asked",
            "binding/effects",
            "binding/cables",
        ),
        (_SLIPS, "tests/test_sharing.py", "tests/test_bind.py", _BAD),
    ),
    ("signal", ("signal/graph",), ("tests/test_signal.py",)),
    (
        "path_faults",
        ("signal/rounds", "signal/plugs", "signal/faults", "signal/order"),
        (
            "tests/test_path_faults.py",
            "corpus not-in-path ends-in-no-amplifier starts-from-nowhere twice-in-path "
            "one-output-two-cables two-cables-one-input signal-in-circle against-loop-order",
        ),
    ),
    (
        "bound",
        ("binding/bound", "binding/lacking", "binding/played", "binding/combined"),
        ("tests/test_bind.py", _SLIPS, "tests/test_demo.py", _BAD),
    ),
    ("playings", ("binding/playings",), ("tests/test_playings.py", "tests/test_find.py")),
    (
        "paced",
        ("binding/paced",),
        ("tests/test_clock.py", "tests/test_tapped.py", "corpus two-tempi"),
    ),
    ("taps", ("binding/taps",), ("tests/test_taps.py",)),
    ("kept", ("binding/kept",), ("tests/test_kept.py",)),
    (
        "states",
        ("binding/states", "binding/described"),
        ("tests/test_bind.py", "tests/test_receive.py"),
    ),
    (
        "foot",
        ("binding/foot",),
        (
            "tests/test_foot.py",
            "corpus foot-clash foot-move-lost",
            "tests/test_silence.py",
            "tests/test_bind.py",
            "tests/test_demo.py -k swell",
        ),
    ),
    (
        "preset",
        ("lowering/preset", "lowering/recall", "lowering/fine_parts", "lowering/slot_order"),
        (
            "tests/test_full_presets.py",
            "tests/test_lower.py",
            "tests/test_fine_parts.py",
            "corpus preset-full beyond-recall fine-part-left",
        ),
    ),
    (
        "placement",
        ("placement/pins", "placement/banks", "placement/wanted"),
        (
            "tests/test_place.py",
            "tests/test_pins.py",
            "tests/test_plan.py",
            "corpus bank-too-small banks-too-few",
        ),
    ),
    (
        "feet",
        ("placement/needs", "placement/feet", "placement/search"),
        ("tests/test_feet.py", "tests/test_place.py"),
    ),
    (
        "hands",
        (
            *("placement/apart", "placement/fewest", "placement/cover", "placement/hands"),
            *("placement/for_hands", "placement/over", "placement/quiet"),
        ),
        ("tests/test_hands.py", "tests/test_plan.py -k hands"),
    ),
    ("baking", ("proving/baking",), ("tests/test_baking.py",)),
    ("switches", ("placement/switches",), ("tests/test_switches.py",)),
    (
        "typing",
        ("placement/entries", "placement/typing_order", "placement/hurry"),
        ("tests/test_typing_order.py", "tests/test_hurry.py"),
    ),
    (
        "held",
        (
            *("placement/held", "mark", "plan", "reports/plan", "reports/places", "floor"),
            *("outputs/done", "outputs/stored_text", "outputs/one_file"),
        ),
        ("tests/test_plan.py", "tests/test_stored_text.py", "corpus stored-nowhere"),
    ),
    ("parting", ("placement/parting",), ("tests/test_songs_on_the_floor.py",)),
    (
        "requests",
        ("placement/requests",),
        ("tests/test_songs_on_the_floor.py", "corpus request-without-room"),
    ),
    ("pressing", ("placement/pressing",), ("tests/test_pressing.py",)),
    (
        "silence",
        ("signal/silence",),
        ("tests/test_silence.py", "corpus silence-not-ended not-silent"),
    ),
    (
        "routing",
        ("proving/routing",),
        (
            "tests/test_hear.py",
            "corpus channel-collision midi-loop two-into-one deaf-unit omni-hears-others other-sender",
            "corpus heard-twice computer-unheard",
        ),
    ),
    ("receiver", ("proving/receiver",), ("tests/test_receive.py", "tests/test_proof.py")),
    (
        "prove",
        ("proving/prove", "proving/proved", "proving/stands"),
        ("tests/test_proof.py", "tests/test_bind.py", "tests/test_receive.py"),
    ),
    (
        "bystanders",
        ("proving/bystanders",),
        ("tests/test_routes.py", "corpus channel-collision omni-hears-others"),
    ),
    (
        "by_hand",
        ("proving/by_hand",),
        ("tests/test_routes.py", "corpus flip-not-known steps-not-known"),
    ),
    ("passed", ("proving/passed",), ("tests/test_let_pass.py",)),
    (
        "traffic",
        ("proving/traffic",),
        ("corpus channel-collision omni-hears-others deaf-unit sent-twice", "tests/test_hear.py"),
    ),
    (
        "tonight",
        ("proving/tonight",),
        ("tests/test_proof.py", "corpus repeat-ignored stays-as-left"),
    ),
    (
        "presses",
        ("proving/presses", "proving/stretches"),
        ("tests/test_presses.py", "corpus pressed-too-soon"),
    ),
    ("bank_moves", ("proving/bank_moves",), ("tests/test_bank_moves.py",)),
    (
        "pipeline",
        ("pipeline", "compiled"),
        (
            "tests/test_bind.py",
            "corpus fed-twice sent-twice banks-too-few",
            "tests/test_let_pass.py",
            _BAD,
        ),
    ),
    ("find", ("reports/find",), ("tests/test_find.py",)),
    (
        "explain",
        ("reports/explain", "reports/heard"),
        (
            "tests/test_explain.py",
            "tests/test_heard.py",
            "tests/test_find.py",
            "tests/test_playings.py",
        ),
    ),
    ("trace", ("reports/trace",), ("tests/test_proof.py -k trace",)),
    ("summary", ("reports/summary", "reports/basis"), ("tests/test_proof.py",)),
    ("reports/checks", ("reports/checks",), ("tests/test_proof.py",)),
    ("reports/words", ("reports/words",), ("tests/test_words.py",)),
    (
        "data",
        (
            "outputs/plain",
            "outputs/sent",
            "outputs/data",
            "outputs/collect",
            "outputs/collect_songs",
            "outputs/collect_switcher",
            "outputs/collect_typing",
        ),
        (
            "tests/test_data.py",
            "tests/test_silence.py",
            "tests/test_stored.py",
            "tests/test_maps.py",
            "tests/test_agreement.py",
        ),
    ),
    ("wiring", ("outputs/wiring", "outputs/collect_wiring"), ("tests/test_wiring.py",)),
    (
        "drawings",
        (
            "outputs/drawings/drawn",
            "outputs/drawings/signal",
            "outputs/drawings/midi",
            "outputs/drawings/power",
            "outputs/drawings/banks",
            "outputs/drawings/figure",
            "outputs/drawings/svg",
        ),
        (_DRAWINGS,),
    ),
    (
        "drawings/layout",
        (
            "outputs/drawings/layout",
            "outputs/drawings/folds",
            "outputs/drawings/order",
            "outputs/drawings/lettering",
        ),
        (_DRAWINGS,),
    ),
    ("outputs/names", ("outputs/names",), ("tests/test_names.py",)),
    ("maps", ("outputs/maps",), ("tests/test_maps.py",)),
    ("midi_file", ("outputs/midi_file", "outputs/tunes"), ("tests/test_midi_file.py",)),
    ("behaviour", ("outputs/behaviour",), ("tests/test_behaviour.py",)),
    ("preset_sheet", ("outputs/preset_sheet", "outputs/typed", "outputs/filled"), (_SHEETS,)),
    (
        "cue_sheet",
        ("outputs/cue_sheet", "outputs/cues", "outputs/cued"),
        (_SHEETS, "tests/test_cues.py"),
    ),
    ("slots", ("outputs/slots",), ("tests/test_slots.py",)),
    ("stage_page", ("outputs/stage_page",), ("tests/test_stage_page.py",)),
    ("lettered", ("lettered",), ("tests/test_lettered.py",)),
    ("paper", ("outputs/pdf", "outputs/paper", "legible"), ("tests/test_paper.py",)),
    ("night_json", ("outputs/night_json", "outputs/night_schema"), ("tests/test_build.py",)),
    (
        "write",
        (
            "outputs/write",
            "outputs/disk",
            "outputs/lock",
            "outputs/manifest",
            "outputs/survey",
            "outputs/moving",
        ),
        ("tests/test_write.py", "tests/test_build.py"),
    ),
    (
        "lists",
        (
            "lists/listed_song",
            "lists/decoding",
            "lists/table",
            "lists/tune_headers",
            "lists/song_list",
            "lists/written",
        ),
        ("tests/test_lists.py -k 'not command'",),
    ),
    ("saved", ("saved",), ("tests/test_saved.py",)),
    (
        "build",
        ("outputs/build", "outputs/kinds", "outputs/schemas"),
        ("tests/test_build.py", "tests/test_cli.py"),
    ),
)

ROOMS = (
    *(Room(name, (f"scenes/{name}.py",), judges) for name, judges in _SCENES),
    *BY_RECEIVERS,
    *(
        Room(name, tuple(f"compiler/{file}.py" for file in files), judges)
        for name, files, judges in _COMPILER
    ),
    *_COMMON,
    *_checks(),
)
"""Every room, in the order of the house."""
