"""Everything that is said of a scene says the same, down to the byte.

For every scene of three books: what ``explain`` prints, what ``send --dry-run`` prints,
``night.json``, the MIDI files (read by mido), the preset sheet's table, and what a receiver in
another process hears at a real port.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import mido
import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.midi_file import midi_files
from setwright.compiler.outputs.names import stem_of_song
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.compiler.outputs.sent import SceneData
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found
from setwright.compiler.sending.port.child import Patience
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.request import converse
from setwright.compiler.sending.send import Plan, bundles, plan
from tests.conftest import DEMO, ROOT
from tests.jack import PATIENCE, jack_server, receiver
from tests.nights import whole

ROUTES = ("stored", "direct")


def sent_by(scene: SceneData, route: str) -> list[str]:
    """Return the bytes that ``night.json`` gives for what a computer sends on one route."""
    chosen = scene.direct if route == "direct" else scene.recall
    assert chosen is not None
    return [message.hex for message in chosen.messages]


def events(content: bytes) -> list[str]:
    """Return the channel messages of a MIDI file in the order of time, as bytes in text."""
    tracks = mido.MidiFile(file=io.BytesIO(content)).tracks
    return [
        message.hex(" ").lower() for message in mido.merge_tracks(tracks) if not message.is_meta
    ]


def slots_on_paper(table: str) -> dict[tuple[str, str], list[tuple[str, ...]]]:
    """Return the message slots of each preset: (unit, channel, number on the wire, value)."""
    found: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for row in csv.DictReader(io.StringIO(table)):
        if row["what"] in {"program", "control"} and row["unit"]:
            found.setdefault((row["bank"], row["switch"]), []).append(
                (row["unit"], row["channel"], row["on the wire"], row["value"])
            )
    return found


def heard_at_a_port(compiled: Compiled, scenes: list[Found]) -> dict[str, list[str]]:
    """Send every scene by both routes to a real port; return the bytes that arrived there."""
    heard = {}
    with jack_server() as server, pytest.MonkeyPatch.context() as patch:
        patch.setenv("JACK_DEFAULT_SERVER", server.name)
        for route in ROUTES:
            parts: list[tuple[float, list[str]]] = []
            start = 0.0
            for found in scenes:
                planned = plan(compiled, found, direct=route == "direct")
                assert isinstance(planned, Plan)
                parts += [(start + ms, some) for ms, some in bundles(planned.route)]
                start += float(planned.route.ms)
            with receiver(server, "box") as box:
                asked = {"ask": "send", "port": "box", "bundles": parts, "linger": 0.25}
                ended = converse(asked, patience=Patience(PATIENCE, PATIENCE))
                assert not isinstance(ended, Problem), str(ended)
                heard[route] = [line.split("  ")[0] for line in box.heard()]
    return heard


NIGHTS = (
    DEMO / "granary-night.yaml",
    DEMO / "parlour-night.yaml",
    ROOT / "tests" / "boathouse" / "boathouse-night.yaml",
)


@pytest.mark.parametrize("night", NIGHTS, ids=["granary", "parlour", "boathouse"])
def test_all_outputs_agree_on_every_scene(night: Path) -> None:
    compiled = whole(night)
    data = night_data(compiled)
    files = midi_files(data)
    paper = slots_on_paper(preset_sheet_files(data)["preset-sheet.csv"].decode("utf-8"))
    written = json.loads(data.model_dump_json())
    by_name = {(scene["song"], scene["scene"]): scene for scene in written["scenes"]}
    scenes = [
        Found(song, compiled.scene(song, name)) for song in compiled.songs for name in song.scenes
    ]
    expected: dict[str, list[str]] = {route: [] for route in ROUTES}
    for found in scenes:
        song = data.songs[compiled.songs.index(found.song)]
        scene = data.scene(song.owner, found.scene.bound.name)
        said = list(explain(compiled, found))
        for route in ROUTES:
            sent = sent_by(scene, route)
            expected[route] += sent
            planned = plan(compiled, found, direct=route == "direct")
            assert isinstance(planned, Plan)
            lines = list(planned.lines())
            assert [line.split("  ")[0] for line in lines] == sent
            assert {f"  {line}" for line in lines} <= set(said)
        stored = [message.hex for message in scene.stored.messages]
        assert sorted(stored) == sorted(sent_by(scene, "direct"))
        as_json = by_name[scene.song, scene.scene]
        assert [message["hex"] for message in as_json["stored"]["messages"]] == stored
        assert scene.place is not None
        assert paper.get((scene.place.bank_shown, scene.place.switch_shown), []) == [
            (
                message.unit,
                str(message.channel),
                str(message.number),
                "" if message.value is None else str(message.value),
            )
            for message in scene.stored.messages
        ]
    for song in data.songs:
        if song.general:
            continue
        for route in ROUTES:
            pressed = [
                sent_by(data.scene(song.owner, moment.scene), route)
                for moment in sorted(song.moments, key=lambda one: one.bars or 0)
                if not moment.stay
            ]
            file = files[f"{route}/{stem_of_song(data, song)}.mid"]
            assert events(file) == [message for some in pressed for message in some], song.title
    assert min(map(len, expected.values())) > 20
    assert heard_at_a_port(compiled, scenes) == expected
