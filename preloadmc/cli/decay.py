"""`preloadmc fit --decay`: what do records of vibration tests say?"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from preloadmc.case_file import load_records
from preloadmc.cli.outputs import Inputs, Outputs
from preloadmc.cli.terminal import Shown
from preloadmc.errors import UsageError
from preloadmc.questions.decay import DecayQuestion, decay
from preloadmc.report.documents.decay import decay_document, decay_mark
from preloadmc.report.folder import INPUTS
from preloadmc.report.text.decay import decay_screen, decay_text


def answer_decay(files: Sequence[Path], question: DecayQuestion, outputs: Outputs) -> None:
    """Read the records, ask, and deliver."""
    if not files:
        raise UsageError("FILES are missing: --decay reads records of vibration tests")
    sources = tuple(load_records(file) for file in files)
    read = Inputs(
        str(files[0]),
        {name: text for each in sources for name, text in each.files.items()},
        tuple(files),
        tuple(f"{INPUTS}/{each.name}" for each in sources),
    )
    outputs.check(read, decay_mark(sources, question))
    result = decay(sources, question)

    def report_files(document: str, command: str) -> dict[str, bytes]:
        from preloadmc.report.files import decay_files

        return decay_files(result, document, command, png=outputs.png)

    outputs.deliver(
        read,
        Shown(decay_screen(result), lambda: decay_text(result)),
        decay_document(result),
        report_files,
    )
