"""A port that is listened to for a whole night; one that goes away is waited for."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NoReturn

from setwright.compiler.midi import encode
from setwright.compiler.sending.following.follow import Follower
from setwright.compiler.sending.incoming.decode import Decoder
from setwright.compiler.sending.incoming.presses import Presses
from setwright.compiler.sending.port.ear import Dropped, Ear, Heard
from setwright.compiler.sending.port.problem import Problem
from setwright.scenes.wording import number_of

AGAIN = 0.5
"""Seconds between two tries to open a port that went away."""
_LONGEST = 0.5  # seconds without a look at whether somebody has interrupted us

Log = Callable[[str], None]


def listen(
    ear: Ear,
    reopen: Callable[[str], Ear | Problem],
    presses: Callable[[], Presses],
    follower: Follower,
    log: Log,
    heed: Callable[[], None],
) -> NoReturn:
    """Follow what ``ear`` hears, until ``heed`` raises what ends it; the ear is closed then.

    ``reopen`` is asked for a port of this name when it has gone, again and again. ``presses`` makes
    what collects messages, which begins anew with each port.
    """
    name = ear.port
    follower.midi(f"Listening to ‘{name}’.", gone=False)
    while True:
        with ear:
            problem = _until_it_goes(ear, presses(), follower, log, heed)
        log(f"{problem}; it is waited for")
        follower.midi(
            f"MIDI is gone: {problem.sentence}; {problem.way_out}. Turn by hand until it is back.",
            gone=True,
        )
        ear = _back(name, reopen, heed)
        log(f"the port ‘{ear.port}’ is back")
        follower.midi(f"MIDI is back: listening to ‘{ear.port}’.", gone=False)


def _back(name: str, reopen: Callable[[str], Ear | Problem], heed: Callable[[], None]) -> Ear:
    while True:
        heed()
        time.sleep(AGAIN)
        opened = reopen(name)
        if not isinstance(opened, Problem):
            return opened


def _until_it_goes(
    ear: Ear, presses: Presses, follower: Follower, log: Log, heed: Callable[[], None]
) -> Problem:
    decoder = Decoder()
    while True:
        heed()
        now = time.perf_counter()
        for press in presses.ended(now):
            log(follower.pressed(press, now))
        left = presses.left(now)
        heard = ear.get(_LONGEST if left is None else min(_LONGEST, left + 0.001))
        match heard:
            case Problem():
                return heard
            case Dropped(packets):
                log(f"{number_of(packets, 'packet')} came too fast and may hold a press")
            case Heard(at, data):
                for message in decoder.feed(at, data):
                    if message.voice is None:
                        continue
                    for press in presses.message(message.at, encode(message.voice)):
                        log(follower.pressed(press, message.at))
