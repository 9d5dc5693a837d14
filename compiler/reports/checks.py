"""The codes in words: the list, one of them in full, and the reference page."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import dedent, fill, indent

from setwright.compiler.checks.registry import GROUPS, registered
from setwright.compiler.reports import basis
from setwright.scenes.explained import Explained

WIDTH = 96

PROOF = "proof"
"""What is no code, and explained like one: what ‘proven’ says and rests on."""


def all_explained() -> list[Explained]:
    """Return everything that can be explained, in the order of the list."""
    return list(registered().values())


def listed() -> Iterator[str]:
    """Yield the groups with one line for each code: code, weight, and what it finds in brief."""
    width = max(map(len, registered()))
    for number, group in enumerate(GROUPS):
        if number:
            yield ""
        yield group.title
        for one in group.codes:
            yield f"  {one.code:{width}}  {one.severity.value:7}  {one.brief}"
    yield ""
    yield f"‘setwright checks {PROOF}’ says what ‘proven’ means, and what it rests on"


def in_full(one: Explained) -> Iterator[str]:
    """Yield the lines that explain one code."""
    yield f"{one.code} ({one.weighs})"
    for title, text in (
        ("what", one.finds),
        ("why it hurts", one.hurts),
        ("what to do", one.do),
        ("caution", one.caution),
    ):
        if text:
            yield ""
            yield title
            yield from fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ").split("\n")
    yield ""
    yield "for example"
    yield from indent(dedent(one.example).rstrip(), "  ").split("\n")


def page() -> str:
    """Return the reference page of all codes as Markdown."""
    lines = [
        "# What is checked",
        "",
        "`setwright checks` lists these, `setwright checks CODE` explains one. What the checks",
        "find, and you have looked at and want to keep, can be let pass where it stands, with a",
        "reason that is printed with the result:",
        "",
        "```yaml",
        "echo:",
        "  channel: 6",
        "  let pass: {channel-collision: the two boxes are meant to change together}",
        "```",
        "",
        *basis.section(),
    ]
    for group in GROUPS:
        lines += ["", f"## {group.title}"]
        for one in group.codes:
            lines += _section(one)
    return "\n".join(lines) + "\n"


def _section(one: Explained) -> list[str]:
    lines = [
        "",
        f"### {one.code}",
        "",
        fill(f"*{one.weighs.capitalize()}.* {one.finds}", WIDTH),
    ]
    lines += ["", fill(f"**Why it hurts:** {one.hurts}", WIDTH)]
    lines += ["", fill(f"**What to do:** {one.do[0].upper()}{one.do[1:].rstrip('.')}.", WIDTH)]
    if one.caution:
        lines += ["", fill(f"**Caution:** {one.caution}", WIDTH)]
    return [*lines, "", "```yaml", *dedent(one.example).rstrip().split("\n"), "```"]
