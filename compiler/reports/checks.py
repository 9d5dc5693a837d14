"""The checks in words: the list, one of them in full, and the reference page."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import dedent, fill, indent

from setwright.compiler.checks.check import Explained
from setwright.compiler.checks.listed import CHECKS
from setwright.compiler.checks.phases import EARLIER

WIDTH = 96


def all_explained() -> list[Explained]:
    """Return everything that can be explained: the checks, then what is found before them."""
    return [*(check.explained for check in CHECKS), *EARLIER]


def listed() -> Iterator[str]:
    """Yield one line for each code: code, weight, and what it finds in brief."""
    explained = all_explained()
    width = max(len(one.code) for one in explained)
    for one in explained:
        yield f"{one.code:{width}}  {one.severity.value:7}  {one.brief}"


def in_full(one: Explained) -> Iterator[str]:
    """Yield the lines that explain one code."""
    yield f"{one.code} ({one.severity.value})"
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
        "`setwright checks` lists these, `setwright checks CODE` explains one. What you have",
        "looked at and want to keep can be let pass where it stands, with a reason that is printed",
        "with the result:",
        "",
        "```yaml",
        "echo:",
        "  channel: 6",
        "  let pass: {channel-collision: the two boxes are meant to change together}",
        "```",
        "",
        "## Checks",
    ]
    for check in CHECKS:
        lines += _section(check.explained)
    lines += ["", "## Found before the checks run"]
    for one in EARLIER:
        lines += _section(one)
    return "\n".join(lines) + "\n"


def _section(one: Explained) -> list[str]:
    lines = [
        "",
        f"### {one.code}",
        "",
        fill(f"*{one.severity.value.capitalize()}.* {one.finds}", WIDTH),
    ]
    lines += ["", fill(f"**Why it hurts:** {one.hurts}", WIDTH)]
    lines += ["", fill(f"**What to do:** {one.do[0].upper()}{one.do[1:].rstrip('.')}.", WIDTH)]
    if one.caution:
        lines += ["", fill(f"**Caution:** {one.caution}", WIDTH)]
    return [*lines, "", "```yaml", *dedent(one.example).rstrip().split("\n"), "```"]
