"""The house: packages, and imports that go one way."""

from __future__ import annotations

import ast
import re
import tomllib
from functools import cache

import pytest

from tests.conftest import ROOT

# Each check is a room of its own, and none knows of another.
SINGLE_CHECKS = sorted(
    path.stem
    for path in (ROOT / "compiler" / "checks").glob("*.py")
    if "\nCHECK = " in path.read_text(encoding="utf-8")
)

# DEVELOPERS.md, "The house": a room imports only from rooms above it.
ROOMS = [
    "scenes.wording",
    "scenes.finding",
    "scenes.explained",
    "scenes.slips.books",
    "scenes.slips.files",
    "scenes.slips.texts",
    "scenes.slips.values",
    "scenes.slips.music",
    "scenes.slips.songs",
    "scenes.slips.lists",
    "scenes.examples.said",
    "scenes.examples.music",
    "scenes.examples.evening",
    "scenes.examples.rigs",
    "scenes.examples.boxes",
    "scenes.examples.every",
    "scenes.quantities",
    "scenes.musical_time",
    "scenes.forms",
    "scenes.shapes",
    "scenes.displays",
    "scenes.files",
    "scenes.nights",
    "scenes.places",
    "scenes.syntax",
    "scenes.text",
    "scenes.names",
    "scenes.fields",
    "scenes.records",
    "scenes.reading",
    "scenes.texts",
    "scenes.songs",
    "scenes.switcher",
    "scenes.control",
    "scenes.power",
    "scenes.sight",
    "scenes.unit",
    "scenes.rig",
    "scenes.night",
    "scenes.stored",
    "scenes.stored_file",
    "scenes.kinds",
    "scenes.merge",
    "scenes.shelf",
    "scenes.book",
    "scenes.nothing",
    "scenes.identities",
    "scenes.instead",
    "scenes.length",
    "scenes.moments",
    "scenes.tempi",
    "scenes.resolve",
    "scenes.schema",
    "compiler.midi",
    "compiler.legible",
    "compiler.lettered",
    "compiler.binding.target",
    "compiler.binding.described",
    "compiler.binding.rig_findings",
    "compiler.binding.sharing",
    "compiler.binding.switcher_use",
    "compiler.binding.programs",
    "compiler.binding.settings",
    "compiler.binding.contacts",
    "compiler.binding.units",
    "compiler.binding.states_asked",
    "compiler.binding.effects",
    "compiler.binding.cables",
    "compiler.binding.combined",
    "compiler.binding.pedals",
    "compiler.binding.aim",
    "compiler.binding.states",
    "compiler.binding.paced",
    "compiler.binding.foot",
    "compiler.binding.bound",
    "compiler.binding.lacking",
    "compiler.binding.played",
    "compiler.binding.bind",
    "compiler.binding.kept",
    "compiler.binding.playings",
    "compiler.binding.taps",
    "compiler.signal.graph",
    "compiler.signal.silence",
    "compiler.signal.rounds",
    "compiler.signal.plugs",
    "compiler.signal.faults",
    "compiler.signal.order",
    "compiler.lowering.commands",
    "compiler.lowering.wire",
    "compiler.lowering.fine_parts",
    "compiler.lowering.slot_order",
    "compiler.lowering.lower",
    "compiler.lowering.preset",
    "compiler.lowering.recall",
    "compiler.placement.held",
    "compiler.placement.entries",
    "compiler.placement.typing_order",
    "compiler.placement.hurry",
    "compiler.placement.needs",
    "compiler.placement.apart",
    "compiler.placement.fewest",
    "compiler.placement.quiet",
    "compiler.placement.cover",
    "compiler.placement.hands",
    "compiler.placement.feet",
    "compiler.placement.pins",
    "compiler.placement.parting",
    "compiler.placement.wanted",
    "compiler.placement.search",
    "compiler.placement.over",
    "compiler.placement.for_hands",
    "compiler.placement.switches",
    "compiler.placement.banks",
    "compiler.placement.requests",
    "compiler.placement.pressing",
    "compiler.proving.routing",
    "compiler.proving.receiver",
    "compiler.proving.stands",
    "compiler.proving.bystanders",
    "compiler.proving.prove",
    "compiler.proving.traffic",
    "compiler.proving.proved",
    "compiler.proving.tonight",
    "compiler.proving.by_hand",
    "compiler.proving.bank_moves",
    "compiler.proving.baking",
    "compiler.proving.stretches",
    "compiler.proving.presses",
    "compiler.proving.passed",
    "compiler.compiled",
    "compiler.checks.common.full_presets",
    "compiler.checks.common.supply",
    "compiler.checks.common.unknowns",
    "compiler.checks.common.clocked",
    "compiler.checks.common.left_controls",
    "compiler.checks.common.computer",
    "compiler.checks.common.unreached",
    "compiler.checks.check",
    "compiler.checks.common.ways",
    "compiler.checks.common.sets",
    *(f"compiler.checks.{name}" for name in SINGLE_CHECKS),
    "compiler.checks.listed",
    "compiler.checks.phases",
    "compiler.checks.aimed",
    "compiler.checks.registry",
    "compiler.checks.run",
    "compiler.mark",
    "compiler.pipeline",
    "compiler.plan",
    "compiler.reports.basis",
    "compiler.reports.checks",
    "compiler.reports.words",
    "compiler.reports.summary",
    "compiler.reports.find",
    "compiler.reports.heard",
    "compiler.reports.explain",
    "compiler.reports.trace",
    "compiler.reports.plan",
    "compiler.reports.places",
    "compiler.outputs.plain",
    "compiler.outputs.sent",
    "compiler.outputs.wiring",
    "compiler.outputs.data",
    "compiler.outputs.collect_wiring",
    "compiler.outputs.collect_songs",
    "compiler.outputs.collect_switcher",
    "compiler.outputs.collect_typing",
    "compiler.outputs.slots",
    "compiler.outputs.collect",
    "compiler.outputs.names",
    "compiler.outputs.tunes",
    "compiler.outputs.midi_file",
    "compiler.outputs.maps",
    "compiler.outputs.behaviour",
    "compiler.outputs.drawings.lettering",
    "compiler.outputs.drawings.svg",
    "compiler.outputs.drawings.order",
    "compiler.outputs.drawings.folds",
    "compiler.outputs.drawings.layout",
    "compiler.outputs.drawings.figure",
    "compiler.outputs.drawings.signal",
    "compiler.outputs.drawings.midi",
    "compiler.outputs.drawings.power",
    "compiler.outputs.drawings.banks",
    "compiler.outputs.drawings.drawn",
    "compiler.outputs.filled",
    "compiler.outputs.typed",
    "compiler.outputs.preset_sheet",
    "compiler.outputs.cued",
    "compiler.outputs.cues",
    "compiler.outputs.cue_sheet",
    "compiler.outputs.stage_page",
    "compiler.outputs.pdf",
    "compiler.outputs.paper",
    "compiler.outputs.kinds",
    "compiler.outputs.night_json",
    "compiler.outputs.night_schema",
    "compiler.outputs.disk",
    "compiler.outputs.lock",
    "compiler.outputs.manifest",
    "compiler.outputs.survey",
    "compiler.outputs.moving",
    "compiler.outputs.write",
    "compiler.outputs.stored_text",
    "compiler.outputs.one_file",
    "compiler.outputs.done",
    "compiler.outputs.schemas",
    "compiler.outputs.build",
    "compiler.sending.port.problem",
    "compiler.sending.port.ports",
    "compiler.sending.port.drivers",
    "compiler.sending.port.schedule",
    "compiler.sending.port.voice",
    "compiler.sending.port.orders",
    "compiler.sending.port.timekeeper",
    "compiler.sending.port.engine",
    "compiler.sending.port.child",
    "compiler.sending.port.lookout",
    "compiler.sending.port.request",
    "compiler.sending.port.line",
    "compiler.sending.port.ear",
    "compiler.sending.incoming.decode",
    "compiler.sending.incoming.incoming_clock",
    "compiler.sending.incoming.meaning",
    "compiler.sending.incoming.listen",
    "compiler.sending.send",
    "compiler.sending.incoming.bursts",
    "compiler.sending.incoming.expected",
    "compiler.sending.incoming.heard_preset",
    "compiler.sending.incoming.presses",
    "compiler.sending.following.cursor",
    "compiler.sending.following.follow",
    "compiler.sending.following.listening",
    "compiler.sending.following.page_server",
    "compiler.sending.auditing.foot_ways",
    "compiler.sending.auditing.audit",
    "compiler.sending.auditing.audit_report",
    "compiler.sending.rehearsing.silencing",
    "compiler.sending.rehearsing.steps",
    "compiler.sending.rehearsing.rehearsal",
    "compiler.sending.rehearsing.whereto",
    "compiler.sending.rehearsing.footsteps",
    "compiler.sending.rehearsing.live",
    "compiler.sending.rehearsing.deliveries",
    "compiler.sending.rehearsing.walk",
    "compiler.sending.rehearsing.line_check",
    "compiler.sending.rehearsing.suspects",
    "compiler.sending.rehearsing.check_walk",
    "compiler.sending.rehearsing.pump",
    "compiler.sending.rehearsing.plain",
    "compiler.sending.rehearsing.frame",
    "compiler.sending.rehearsing.screen",
    "compiler.lists.listed_song",
    "compiler.lists.decoding",
    "compiler.lists.table",
    "compiler.lists.tune_headers",
    "compiler.lists.song_list",
    "compiler.lists.written",
    "compiler.new_book",
    "compiler.terminal",
    "compiler.progress",
    "compiler.console",
    "compiler.floor",
    "compiler.folder",
    "compiler.audit",
    "compiler.saved",
    "compiler.watch",
    "compiler.listen",
    "compiler.follow",
    "compiler.rehearse",
    "compiler.cli",
    "compiler.__main__",
]


LINES = 400
"""A room above this has more than one purpose."""


@cache
def modules() -> dict[str, ast.Module]:
    return {
        ".".join(path.relative_to(ROOT).with_suffix("").parts): ast.parse(
            path.read_text(encoding="utf-8")
        )
        for folder in ("scenes", "compiler")
        for path in sorted((ROOT / folder).rglob("*.py"))
        if path.name != "__init__.py"
    }


def test_every_module_is_a_room() -> None:
    assert sorted(modules()) == sorted(ROOMS)


@pytest.mark.parametrize("room", ROOMS)
def test_imports_go_up(room: str) -> None:
    above = set(ROOMS[: ROOMS.index(room)])
    for node in ast.walk(modules()[room]):
        if not isinstance(node, ast.ImportFrom) or node.module is None:
            continue
        assert node.level == 0, f"{room} imports relatively"
        if not node.module.startswith("setwright."):
            continue
        inner = node.module.removeprefix("setwright.")
        targets = [inner] if inner in ROOMS else [f"{inner}.{alias.name}" for alias in node.names]
        for target in targets:
            assert target in above, f"{room} imports {target}"
            other = target.removeprefix("compiler.checks.")
            assert room == "compiler.checks.listed" or other not in SINGLE_CHECKS


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_is_small_enough_to_look_through(room: str) -> None:
    path = ROOT / f"{room.replace('.', '/')}.py"
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LINES


def test_phases_stand_together_in_their_order() -> None:
    """Data flows from folder to folder: no phase goes on behind a later one."""
    folders = [room.split(".")[1] for room in ROOMS if room.count(".") > 1]
    runs = [folder for at, folder in enumerate(folders) if at == 0 or folders[at - 1] != folder]
    assert runs == [
        "slips",
        "examples",
        "binding",
        "signal",
        "lowering",
        "placement",
        "proving",
        "checks",
        "reports",
        "outputs",
        "sending",
        "lists",
    ]


def test_the_guide_names_every_room() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    house = guide[guide.index("## The house") : guide.index("A new module has its line here")]
    words = set(re.findall(r"[a-z_]+", house))
    stems = {
        room.rpartition(".")[2]
        for room in ROOMS
        if ".slips." not in room and ".examples." not in room
    }
    assert stems - words - set(SINGLE_CHECKS) - {"__main__"} == set()
    named = {name.removesuffix(".py") for name in re.findall(r"[a-z_]+\.py", house)}
    assert named - stems == set(), "the guide names rooms that are not there"


def test_the_packages_are_those_of_the_tree() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    listed = project["tool"]["setuptools"]["packages"]
    found = [
        ".".join(("setwright", *path.parent.relative_to(ROOT).parts))
        for folder in ("scenes", "compiler", "templates")
        for path in (ROOT / folder).rglob("__init__.py")
    ]
    assert sorted(listed) == sorted(found)
    assert list(project["tool"]["setuptools"]["package-dir"]) == [
        name for name in listed if name.count(".") == 1
    ]


def test_links_for_type_checkers_lead_to_the_folders() -> None:
    for folder in ("scenes", "compiler", "templates"):
        link = ROOT / "typings" / "setwright" / folder
        assert link.resolve() == ROOT / folder
