"""A register of joints: a row each in a CSV or XLSX file, whose cells change a template case."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePath

from preloadmc.case_file.csv_cells import wrong_count
from preloadmc.case_file.problems import UNPRINTABLE, shown
from preloadmc.case_file.register.columns import (
    BLANKS,
    CASE,
    JOINT,
    LOT,
    NOTE,
    TOOL,
    Column,
    cell_text,
    columns_of,
    value_of,
)
from preloadmc.case_file.register.table import (
    Cell,
    Unread,
    register_content,
    register_table,
    unusable,
)
from preloadmc.case_file.register.template import Template, Value, load_template
from preloadmc.case_file.word_kinds import LONGEST_NAME, LONGEST_NOTE
from preloadmc.errors import CaseError, Problem

# Cells of a column that are kept as they were read, since most registers repeat values; one with so
# many does not.
_MOST_KEPT = 4096


# A line above the header that tells a spreadsheet what divides cells.
_DIVIDER_LINE = "sep="


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One joint of a register.

    ``line`` is that of the file, its header included; ``case`` the name of its template among
    those of the register; ``cells`` hold path and TOML value of each that is not empty. ``key``,
    32 hexadecimal digits of a SHA-256, says what stands in the row, and not where it stands.
    """

    line: int
    joint: str
    key: str
    case: str
    lot: str = ""
    tool: str = ""
    cells: tuple[tuple[str, Value], ...] = ()
    notes: tuple[tuple[str, str], ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Register:
    """The joints of a register, and the cases that they change, by name.

    ``source`` is the file as given, ``sha256`` that of its ``content``, which is empty where it is
    made of case files; ``given`` the name of the template of rows that name none; ``empty`` counts
    the rows that leave a column empty.
    """

    source: str
    sha256: str
    templates: Mapping[str, Template]
    rows: tuple[RegisterRow, ...]
    given: str = ""
    content: bytes = b""
    empty: Mapping[str, int] = field(default_factory=dict)

    @property
    def places(self) -> dict[str, str]:
        """Return the path that each template gets among copies of what was read, by its name.

        One in the register's folder or below it keeps its place; one elsewhere is beside the
        register, in a folder of its own where another has its name.
        """
        found: dict[str, str] = {}
        for number, (name, template) in enumerate(self.templates.items(), 1):
            path = PurePath(name)
            if name == self.given or path.is_absolute() or ".." in path.parts:
                path = PurePath(path.name)
            others = [PurePath(place).parent / file for other, place in found.items()
                      for file in self.templates[other].files]  # fmt: skip
            if any(path.parent / file in others for file in template.files):
                path = PurePath(f"template-{number}") / path.name
            found[name] = path.as_posix()
        return found

    @property
    def files(self) -> dict[str, str]:
        """Return the texts of the templates and of the files that they name, by their places."""
        return {
            (PurePath(place).parent / file).as_posix(): text
            for name, place in self.places.items()
            for file, text in self.templates[name].files.items()
        }


def load_register(path: str | Path, template: str | Path | None = None) -> Register:
    """Read a register; what is wrong with single rows is noted there.

    Parameters
    ----------
    path : str or Path
        A CSV file in UTF-8, or an XLSX file, of which the first sheet counts: a header with a path
        of the case file above each column, and a row for each joint.
    template : str or Path or None
        The case file of rows that name none.

    Raises
    ------
    CaseError
        With every problem of the file as a whole at once, or of the template.
    """
    path = Path(path)
    templates = _Templates(path.parent, template)
    content = register_content(path)
    table = register_table(path, content)
    line, header = next(table.rows, (1, []))
    if header and cell_text(header[0]).casefold().startswith(_DIVIDER_LINE):
        line, header = next(table.rows, (1, []))
    if not header:
        words = "the file is empty; it needs a header, such as joint, tightening.torque [N·m]"
        raise unusable(path, words)
    columns = columns_of(path, line, header)
    reader = _RowReader(columns, table.divider, templates)
    rows = [reader.row(number, cells) for number, cells in table.rows]
    if not rows:
        raise unusable(path, "a row for each joint is needed below the header")
    digest = hashlib.sha256(content).hexdigest()
    return Register(
        str(path),
        digest,
        templates.found,
        _finished(rows),
        templates.given,
        content,
        dict(reader.empty),
    )


def register_of_cases(paths: Iterable[str | Path]) -> Register:
    """Return case files as a register: each is a joint, named as its file, and its own template.

    Alternatives of a case are left out. A file that cannot be read is a problem of its row.
    """
    templates = _Templates(Path(), None)
    files = [Path(path) for path in paths]
    rows = []
    for line, path in enumerate(files, 1):
        case, problems = templates.at(path, path.as_posix())
        key = _key(path.stem, templates.sha256(case), (), "", "")
        rows.append(RegisterRow(line, path.stem, key, case, problems=problems))
    read = sorted(f"{row.joint} {row.key}" for row in rows)
    digest = hashlib.sha256("\n".join(read).encode(errors="backslashreplace")).hexdigest()
    source = str(files[0]) if len(files) == 1 else f"{len(files)} case files"
    return Register(source, digest, templates.found, _finished(rows))


class _Templates:
    """The templates of one register: each file is read once, whatever it is called by."""

    def __init__(self, folder: Path, given: str | Path | None) -> None:
        self.folder = folder
        self.found: dict[str, Template] = {}
        self._read: dict[Path, tuple[str, tuple[Problem, ...]]] = {}
        self.given = ""
        if given is not None:
            self.given = str(given)
            self.found[self.given] = load_template(Path(given))
            self._read[Path(given).resolve()] = self.given, ()

    def named(self, written: str) -> tuple[str, tuple[Problem, ...]]:
        """Return the name of the template of a row, and what is wrong with it."""
        if not written:
            if self.given:
                return self.given, ()
            return "", (Problem(CASE, "", "missing; a template, here or by --template"),)
        name = PurePath(written)
        # A report keeps copies of what it read, each in its place beside the register.
        if name.is_absolute() or ".." in name.parts or UNPRINTABLE.search(written):
            words = "the path of a case file in the folder of the register or below it"
            return written, (Problem(CASE, shown(written), words),)
        return self.at(self.folder / name, name.as_posix())

    def at(self, path: Path, name: str) -> tuple[str, tuple[Problem, ...]]:
        """Return the name of the template in a file, read where it is not, and what is wrong."""
        try:
            place = path.resolve()
        except (OSError, ValueError):  # a name that no file can have
            return name, (Problem(CASE, shown(name), "a case file that can be read"),)
        if place not in self._read:
            if name in self.found:
                name = str(path)
            try:
                self.found[name] = load_template(path)
                self._read[place] = name, ()
            except CaseError as error:
                found = (
                    Problem(CASE, shown(name), each.allowed)
                    if each.path == "file"
                    else replace(each, of=each.of or name)
                    for each in error.problems
                )
                self._read[place] = name, tuple(found)
        return self._read[place]

    def sha256(self, name: str) -> str:
        """Return the SHA-256 of a template; empty where there is none."""
        return self.found[name].sha256 if name in self.found else ""


class _RowReader:
    """Makes rows of cells, by the columns of one register."""

    def __init__(self, columns: list[Column], divider: str, templates: _Templates) -> None:
        self._columns = columns
        self._names = [column.path for column in columns]
        self._divider = divider
        self._templates = templates
        self._has_joints = JOINT in self._names
        self.empty: Counter[str] = Counter()
        self._kept: list[dict[str, tuple[str, Value] | Problem]] = [{} for _ in columns]
        self._cases: dict[str, tuple[str, tuple[Problem, ...]]] = {}

    def row(self, line: int, cells: list[Cell]) -> RegisterRow:
        """Return the row of a line."""
        own: dict[str, str] = {}
        notes: list[tuple[str, str]] = []
        values: list[tuple[str, Value]] = []
        problems: list[Problem] = []
        count = len(self._columns)
        filled = next((n for n in range(len(cells), 0, -1) if cells[n - 1] not in ("", None)), 0)
        # A sheet ends its rows behind the last cell that is filled.
        if filled > count or (self._divider and len(cells) < count):
            given, words = wrong_count(max(filled, len(cells[:count])), count, self._divider)
            problems.append(Problem(f"line {line}", shown(given), words))
        for column, cell, kept in zip(self._columns, cells, self._kept, strict=False):
            if cell in ("", None):
                if column.place is not None:
                    self.empty[column.path] += 1
                continue
            if column.place is None:
                is_note = column.path.partition(" ")[0] == NOTE
                if isinstance(cell, Unread) and is_note:
                    notes.append((column.path, cell.given))
                elif isinstance(cell, Unread):
                    problems.append(Problem(column.path, cell.given, cell.words))
                elif is_note:
                    notes.append((column.path, _note(cell)))
                elif column.path not in (LOT, TOOL) or cell_text(cell).casefold() not in BLANKS:
                    own[column.path] = cell_text(cell)
                continue
            found = kept.get(cell) if isinstance(cell, str) else None
            if found is None:
                found = value_of(column, column.place, cell, self._divider)
                if isinstance(cell, str) and len(kept) < _MOST_KEPT:
                    kept[cell] = found
            if isinstance(found, Problem):
                problems.append(found)
            else:
                values.append(found)
        return self._made(line, own, values, notes, problems)

    def _made(
        self,
        line: int,
        own: dict[str, str],
        values: list[tuple[str, Value]],
        notes: list[tuple[str, str]],
        problems: list[Problem],
    ) -> RegisterRow:
        for name, text in own.items():
            if name != CASE and (len(text) > LONGEST_NAME or UNPRINTABLE.search(text)):
                words = f"one line of at most {LONGEST_NAME} printable characters"
                problems.append(Problem(name, shown(text), words))
                own[name] = UNPRINTABLE.sub(" ", text)[:LONGEST_NAME]
        written = own.get(CASE, "")
        if written not in self._cases:
            self._cases[written] = self._templates.named(written)
        case, wrong = self._cases[written]
        joint = own.get(JOINT, "")
        if self._has_joints and not joint:
            problems.append(Problem(JOINT, "", "missing; the name of the joint"))
        lot, tool = own.get(LOT, ""), own.get(TOOL, "")
        key = _key(joint, self._templates.sha256(case), values, lot, tool)
        return RegisterRow(
            line,
            joint or f"row {line}",
            key,
            case,
            lot,
            tool,
            tuple(values),
            tuple(notes),
            (*problems, *wrong),
        )


def _note(cell: Cell) -> str:
    """Return a note on one line."""
    return UNPRINTABLE.sub(" ", cell_text(cell))[:LONGEST_NOTE]


def _key(joint: str, template: str, cells: Iterable[tuple[str, Value]], lot: str, tool: str) -> str:
    """Return what tells a row from all others, in any order of rows and columns."""
    told = json.dumps((joint, template, sorted(cells), lot, tool))
    return hashlib.sha256(told.encode()).hexdigest()[:32]


def _finished(rows: list[RegisterRow]) -> tuple[RegisterRow, ...]:
    """Return rows with what they make together: names that are taken, and keys made unique."""
    keys: Counter[str] = Counter()
    first: dict[str, int] = {}
    again: dict[str, int] = {}
    for place, row in enumerate(rows):
        if first.setdefault(row.joint, row.line) != row.line:
            again.setdefault(row.joint, row.line)
        keys[row.key] += 1
        if keys[row.key] > 1:
            told = f"{row.key} {keys[row.key]}"
            rows[place] = replace(row, key=hashlib.sha256(told.encode()).hexdigest()[:32])
    if not again:
        return tuple(rows)
    for place, row in enumerate(rows):
        if row.joint in again:
            other = first[row.joint] if row.line != first[row.joint] else again[row.joint]
            words = f"a name of one joint; that of line {other} has it too"
            problem = Problem(JOINT, shown(row.joint), words)
            rows[place] = replace(row, problems=(*row.problems, problem))
    return tuple(rows)
