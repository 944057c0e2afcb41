"""How to come to the same numbers again."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from hashlib import sha256

import numpy as np

from preloadmc import __version__
from preloadmc.report.text.blocks import Block, Paragraph, Section, Verbatim

# Lines of a file that a page shows; a case file has a hundred, a file of tests may have any number.
_MOST_SHOWN = 500


def reproduction_sections(
    seed: int | None, command: str, copies: Mapping[str, str]
) -> tuple[Section, ...]:
    """Return versions, seed and the command, then each file that it reads: its content by name.

    ``seed`` is None where nothing is drawn.
    """
    seeded = "" if seed is None else f"; seed {seed}"
    blocks: list[Block] = [
        Paragraph(
            f"preloadmc {__version__} with numpy {np.__version__}, Python "
            f"{platform.python_version()}{seeded}. The same versions on the same kind of machine "
            "give the same numbers, to the last digit."
        ),
        Verbatim(command),
    ]
    files = []
    for name, text in copies.items():
        blocks.append(Paragraph(f"{name}, SHA-256 {sha256(text.encode()).hexdigest()}"))
        lines = text.count("\n")
        shown = lines <= _MOST_SHOWN
        content = Verbatim(text) if shown else Paragraph(f"{lines:,} lines, not shown here.")
        files.append(Section(name, (content,), found_in="the report folder"))
    return (Section("How to reproduce", tuple(blocks)), *files)
