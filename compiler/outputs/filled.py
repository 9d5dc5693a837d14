"""Templates, filled in: what browsers are given, and how a text is shown on any sheet."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from setwright.scenes.finding import visible

if TYPE_CHECKING:
    from jinja2 import Environment


def render(template: str, **values: object) -> bytes:
    """Return a template of `setwright.templates`, filled in, as UTF-8.

    Everything filled in is text and nothing but text: markup is escaped, white space put in
    order, and characters that would turn the reading direction are shown (`shown`).
    """
    return _templates().get_template(template).render(values).encode("utf-8")


@cache
def _templates() -> Environment:
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("setwright.templates", ""),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=lambda value: shown(value) if type(value) is str else value,
    )


def shown(text: str) -> str:
    """Return ``text`` on one line, invisible characters escaped as in findings.

    Joiners (U+200C, U+200D) stay: Persian, Indic scripts and emoji are written with them, and
    they turn nothing around.
    """
    line = " ".join(text.split())
    if line.isprintable():
        return line
    return "".join(sign if sign in "\u200c\u200d" else visible(sign) for sign in line)
