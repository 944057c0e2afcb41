"""What every report folder holds: text, page, JSON, copies of what was read, figures."""

from __future__ import annotations

from collections.abc import Mapping

from preloadmc.report.folder import MARK
from preloadmc.report.page import Page, page_html


def report_files(
    text: str, page: Page, document: str, copies: Mapping[str, str]
) -> dict[str, bytes]:
    """Return name and content of each file; ``copies`` are the texts that the command read."""
    files = {
        "report.txt": text.encode(),
        "report.html": page_html(page).encode(),
        MARK: document.encode(),
        **{name: copy.encode() for name, copy in copies.items()},
    }
    for figure in page.figures:
        files[f"{figure.name}.png"] = figure.png()
        files[f"{figure.name}.svg"] = figure.svg()
    return files
