"""The stage page: the whole night in one file for a phone or tablet on the stand.

It loads nothing, from nowhere: the browser is told to refuse all but its own style and script,
which it knows by their SHA-256 (Content Security Policy Level 3, 2.3.1 and 6.7.2). Without
scripts every song is there, one below the other, with a list that leads to each. With them one
song is shown at a time; a pedal, a key, a finger or the list turns, and nothing else does, unless
the page is served by `setwright follow`: then a preset that is pressed turns it, too.

Near-white on black is 18.8:1, black on white 21:1 (WCAG 2.2, SC 1.4.6). Shape and words alone
carry meaning, since stage light is coloured.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from functools import cache
from importlib import resources
from typing import NamedTuple

from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.filled import render

STAGE_PAGE = "stage.html"
"""The name of the file."""


class Page(NamedTuple):
    """A page in UTF-8, and the policy that stands in it, for whoever serves it."""

    html: bytes
    policy: str


def stage_page_files(data: NightData) -> dict[str, bytes]:
    """Return the stage page of ``data``: file name → UTF-8. The same data, the same bytes."""
    return {STAGE_PAGE: _page(data, _text("stage.css"), _text("stage.js")).html}


def followed_page(data: NightData, *, light: bool = False) -> Page:
    """Return the stage page of ``data`` as it is served: it asks its server what is pressed.

    ``light`` begins in black on white.
    """
    style = _text("stage.css") + _text("follow.css")
    script = _text("stage.js") + _text("follow.js")
    return _page(data, style, script, connects="connect-src 'self'; ", light=light, follows=True)


def _page(
    data: NightData,
    style: str,
    script: str,
    *,
    connects: str = "",
    light: bool = False,
    follows: bool = False,
) -> Page:
    from markupsafe import Markup

    policy = (
        f"default-src 'none'; {connects}style-src {_hash(style)}; script-src {_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    html = render(
        "stage.html.j2",
        sheet=sheet_of(data),
        style=Markup(style),
        script=Markup(script),
        policy=Markup(policy),
        light=light,
        follows=follows,
    )
    return Page(html, policy)


@cache
def _text(name: str) -> str:
    return (resources.files("setwright.templates") / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    """Return what stands in a policy for an element with this text."""
    return f"'sha256-{b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"
