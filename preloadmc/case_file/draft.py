"""A case in the making: the laws, assumptions and warnings that follow from what a file states."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path, PurePath
from types import MappingProxyType

from preloadmc.case import Assumption, Follows, Shared
from preloadmc.case_file.content import UnsuitableError, csv_text
from preloadmc.case_file.field import TRACE_SECTIONS
from preloadmc.case_file.law_kind import StatedLaw
from preloadmc.case_file.reading import Stated
from preloadmc.chance.laws import Constant, Law
from preloadmc.inputs import INPUT_KINDS, NOT_GIVEN
from preloadmc.mechanics.thread import Thread
from preloadmc.told import Told

# The allowed value of a key that names a table beside the case file.
# A table is some pages of findings or tests; anything far larger is another file.
LARGEST_TABLE = 1_000_000
_NONE: Mapping[str, str] = MappingProxyType({})


class Draft:
    """Collects what the sections of one case make of what its file states.

    ``folder`` is where files named in the case file lie, ``texts`` are those read before;
    ``tables`` are those read here, by name.
    """

    def __init__(self, stated: Stated, folder: Path, texts: Mapping[str, str] = _NONE) -> None:
        self.stated = stated
        self.folder = folder
        self.texts = texts
        self.laws: dict[str, Law] = {}
        self.shared: dict[str, Shared] = {}
        self.correlations: dict[tuple[str, str], float] = {}
        self.follows: dict[str, Follows] = {}
        self.warnings: list[str] = []
        self.tables: dict[str, str] = {}
        self._assumptions: dict[Assumption, None] = {}

    @property
    def unit_system(self) -> str:
        """Return the unit system of the thread; "metric" as long as that is not known."""
        found = self.stated.get("fastener.thread", Thread)
        return "metric" if found is None else found.unit_system

    def assume(self, path: str, told: Told, source: str = NOT_GIVEN) -> None:
        """Note a value that the file did not state, in words and quantities."""
        self._assumptions[Assumption(path, told, source)] = None

    def assume_default(self, path: str) -> None:
        """Note the default of a row where the file does not state it."""
        default = self.stated.field(path).default
        if path not in self.stated and default is not None:
            self.assume(path, default.words, default.source)

    def table(self, path: str) -> str | None:
        """Return the text of the CSV file that a key names; None with the problem noted."""
        name = self.stated.get(path, str)
        if name is None:
            return None
        if (known := self.texts.get(PurePath(name).as_posix())) is not None:
            return known
        try:
            text = csv_text(self.folder, name, LARGEST_TABLE)
        except UnsuitableError as error:
            self.stated.problem(path, str(error))
            return None
        except OSError as error:
            self.stated.problem(path, f"a CSV file that can be read: {error.strerror}")
            return None
        except ValueError:  # also a name that no file can have
            self.stated.problem(path, "a CSV file in UTF-8")
            return None
        self.tables[PurePath(name).as_posix()] = text
        return text

    def has_law(self, *endings: str) -> bool:
        """Return whether there is a law of an input whose name ends so, of some state or of all."""
        return any(name.endswith(endings) for name in self.laws)

    def leading_law(self, name: str) -> Law | None:
        """Return the law that an input scatters by: its own, or that of the one it follows."""
        follows = self.follows.get(name)
        return self.laws.get(name if follows is None else follows.leader)

    def mean(self, name: str) -> float | None:
        """Return the mean of an input with a law, or of one that follows such; None of others."""
        law, follows = self.leading_law(name), self.follows.get(name)
        if law is None:
            return None
        return law.mean if follows is None else follows.factor * law.mean

    def take_laws(self, unread: Collection[str] = (), *, traces: bool = False) -> None:
        """Take the law of every input of the case, or of the traces that only evidence shows.

        Those of temperature states wait for the names of the states; those ``unread`` are no
        inputs of this case. What an input needs beside it is asked for.
        """
        for name, kind in INPUT_KINDS.items():
            of_traces = name.partition(".")[0] in TRACE_SECTIONS
            if of_traces is traces and "*" not in name and name not in unread:
                self.take(name, name)
                if kind.needs and name in self.stated and kind.needs not in self.stated:
                    meaning = self.stated.field(kind.needs).meaning
                    self.stated.missing(kind.needs, f"the {meaning}")

    def take(self, path: str, name: str) -> None:
        """Take the law that the file states at ``path`` as the input ``name``, or its default."""
        stated = self._stated_law(path) if path in self.stated else self._default_law(path)
        if stated is None:
            return
        self.laws[name] = stated.law
        if stated.shared is not None:
            self.shared[name] = stated.shared
        if stated.warning:
            self.warnings.append(f"{path}: {stated.warning}.")
        if stated.below:
            self.assume(
                path,
                f"cut off at 0, which it reaches with probability {stated.below:.1g}",
                "a quantity that cannot be negative",
            )

    def _stated_law(self, path: str) -> StatedLaw | None:
        """Return the law that the file states, in whatever form; None where it states none."""
        form = self.stated.form(path)
        if form is None:
            return self.stated.law(path)
        law = None if form.law is None else form.law(self)
        shared = f"{path}.shared"
        common = self.stated.get(shared, Shared) if shared in self.stated else None
        return None if law is None else StatedLaw(law, common)

    def _default_law(self, path: str) -> StatedLaw | None:
        """Return the law that holds where the file states none; None where none does."""
        default = self.stated.field(path).default
        if default is None:
            return None
        self.assume_default(path)
        if isinstance(default.value, Law):
            return StatedLaw(default.value)
        assert isinstance(default.value, float), f"{path} is a quantity"
        return StatedLaw(Constant(default.value))

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """Return what was assumed, in the order of the rows."""
        place = self.stated.fields.place
        return tuple(sorted(self._assumptions, key=lambda item: place(item.path)))
