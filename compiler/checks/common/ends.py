"""Where songs end, and which moments lie behind that."""

from __future__ import annotations

from setwright.compiler.bind import BoundSong
from setwright.scenes.places import KeyPath
from setwright.scenes.resolve import Moment


def end_before(song: BoundSong, moment: Moment) -> tuple[str, KeyPath] | None:
    """Return how the song ends, in words, and where that is written, if that is too early.

    Rounds that are said count more than a length; an assumed moment is never too late.
    """
    shape, written = song.resolved.shape, song.song
    if moment.assumed:
        return None
    if shape.form is not None and shape.form.rounds_said and moment.bars is not None:
        bars = shape.bars_in_all
        late = bars is not None and moment.bars >= bars
        return (f"has {shape.form}", (*written.path, "form")) if late else None
    seconds = moment.seconds
    if written.lasts is not None and seconds is not None and seconds >= written.lasts:
        return "does not last so long", (*written.path, "lasts")
    return None
