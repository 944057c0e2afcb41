"""What a limit is: its record, and what it finds in one state of the joint."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from preloadmc.joint import Inputs, Joint, JudgedState, State
from preloadmc.units import Dimension, FloatLike

# What is asked for where nothing says how much preload there may be: see `Joint.has_no_upper_end`.
WANTED_LAW = (
    'a law of yield_strength, or strength = "usual": this method tightens each fastener to its own '
    "yield, and one stronger than the single figure is tightened harder"
)
# Sides of the preload window.
UNDER, OVER = "under", "over"
# Senses of a limit: what it bounds must stay above it, or below it.
ABOVE, BELOW = "above", "below"


@dataclass(frozen=True, slots=True)
class Requirement:
    """The preload window and how often it may be missed.

    ``minimum_from`` is "stated", "no slip" or "no separation"; ``maximum_from`` is "stated",
    "yield" or "" where yield at assembly alone bounds the preload. ``yield_fraction`` belongs to
    "yield". Allowed probabilities are None where none is asked: ``allowed_other`` is that of every
    limit beside the window, and ``allowed`` holds those of single limits by name. Where laws are
    known from tests only, a limit meets with ``confidence``.
    """

    minimum_from: str
    maximum_from: str
    yield_fraction: float
    allowed_under: float | None
    allowed_over: float | None
    allowed_other: float | None = None
    allowed: Mapping[str, float] = field(default_factory=dict)
    confidence: float = 0.95

    def allowed_for(self, limit: Limit) -> float | None:
        """Return the probability that is allowed of missing a limit; None where none is.

        A limit of the window is held to what is allowed of its side; one beside it to what is
        stated for it by name, else for all others, else to the smaller of what both sides are
        allowed.
        """
        for name in (limit.name, limit.kind.name):
            if name in self.allowed:
                return self.allowed[name]
        sides = {UNDER: self.allowed_under, OVER: self.allowed_over}
        if limit.sides:
            return _smallest(sides[side] for side in limit.sides)
        return self.allowed_for_others

    @property
    def allowed_for_others(self) -> float | None:
        """Return what is allowed of each limit beside the window that has nothing of its own."""
        return self.least_allowed if self.allowed_other is None else self.allowed_other

    @property
    def least_allowed(self) -> float | None:
        """Return the smaller of what is allowed of both sides; None where neither is."""
        return _smallest((self.allowed_under, self.allowed_over))


def _smallest(allowed: Iterable[float | None]) -> float | None:
    return min((each for each in allowed if each is not None), default=None)


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit in one state; ``sides`` are the outcomes that a miss belongs to, maybe none.

    ``name`` is that of its ``kind``, or more exact ("pressure under the nut").
    """

    kind: LimitKind
    name: str
    state: str
    sides: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Margin:
    """A limit with its margins, (n,) or float: negative is a miss.

    ``values`` and ``reference``, what is allowed or can be carried, are in the limit's own unit.
    """

    limit: Limit
    values: FloatLike
    reference: FloatLike


@dataclass(frozen=True, slots=True)
class Found:
    """What a kind of limit finds in one state, before it is known which side it belongs to.

    ``name`` is empty where it is that of the kind.
    """

    state: str
    values: FloatLike
    reference: FloatLike
    name: str = ""


Judge = Callable[[Joint, Requirement, Inputs, State], Iterator[Found]]
Reached = Callable[[Joint, Inputs, State, Margin], FloatLike]
Unjudged = Callable[[Joint, Requirement, Inputs], Iterator[tuple[str, str]]]


def has_input(x: Inputs, quantity: str) -> bool:
    """Return whether a load or friction is stated, for all states or for one of them."""
    return any(name.endswith(f".{quantity}") for name in x)


def always(*sides: str) -> Callable[[Requirement], tuple[str, ...]]:
    """Return the sides of a limit that belongs to them whatever the requirement asks."""
    return lambda requirement: sides


@dataclass(frozen=True, slots=True)
class LimitKind:
    """A limit: what it asks, how it is judged, and what tables and figures say and draw of it.

    Parameters
    ----------
    name : str
        As results name it.
    sense : str
        `ABOVE` or `BELOW`: where what it bounds must stay.
    dimension : Dimension
        Of its margins.
    sides : callable
        ``sides(requirement)`` returns the outcomes that a miss belongs to; none for a limit beside
        the preload window.
    judge : callable
        ``judge(joint, requirement, x, state)`` yields what it finds in each state that has it.
    dimension_in : callable, optional
        ``dimension_in(state)`` where the dimension depends on the method of tightening.
    reached : callable, optional
        ``reached(joint, x, state, margin)`` returns the preload [N] of the margin's state at
        which the limit is reached. By default the preload less, or plus, the margin.
    in_preload : bool
        Whether a preload reaches it at all; it is drawn beside the preload then.
    follows_preload : bool
        Whether its margins run one way with the preload: up where it must stay above, else down.
    unjudged : callable, optional
        ``unjudged(joint, requirement, x)`` yields the name of each limit of this kind that the
        case does not say enough of, and what is missing.
    unsure_strength : callable, optional
        ``unsure_strength(joint, requirement, x)`` yields the name of each limit of this kind that
        is judged with a strength that is not known to hold there, and with which and why.
    edge : str
        What an edge of the window is called, "minimum"; by default the name.
    bounds : str
        What too much is "above", such as "the maximum"; by default the name.
    remedy : str
        What helps where no setting does: "a larger bearing face or a hardened washer".
    compared_as : str
        What a comparison of alternatives calls it where the limit stands beside the window; empty
        where it is not compared.
    minimum_from : str
        What the case file says to derive the minimum preload from this limit; empty where it
        cannot.
    asks : str
        What the minimum preload then is, such as "what keeps the parts from slipping".
    places : tuple of str
        What a result calls it at each place where it is judged by itself; empty for a limit of one
        place.
    needed : callable, optional
        ``needed(joint, judged)`` returns the preload [N] that the limit then asks in a state.
    """

    name: str
    sense: str
    dimension: Dimension
    sides: Callable[[Requirement], tuple[str, ...]]
    judge: Judge
    dimension_in: Callable[[State], Dimension] | None = None
    reached: Reached | None = None
    in_preload: bool = True
    follows_preload: bool = True
    unjudged: Unjudged | None = None
    unsure_strength: Unjudged | None = None
    edge: str = ""
    bounds: str = ""
    remedy: str = ""
    compared_as: str = ""
    places: tuple[str, ...] = ()
    minimum_from: str = ""
    asks: str = ""
    needed: Callable[[Joint, JudgedState], FloatLike] | None = None

    @property
    def rises_with_preload(self) -> bool | None:
        """Return whether more preload raises its margins; None where it does neither."""
        return self.sense == ABOVE if self.follows_preload else None

    def dimension_of(self, state: State) -> Dimension:
        """Return the dimension of the margins in a joint's life."""
        return self.dimension if self.dimension_in is None else self.dimension_in(state)

    def margins(
        self, joint: Joint, requirement: Requirement, x: Inputs, state: State
    ) -> Iterator[Margin]:
        """Yield the margins in every state that has this limit."""
        sides = self.sides(requirement)
        for found in self.judge(joint, requirement, x, state):
            limit = Limit(self, found.name or self.name, found.state, sides)
            yield Margin(limit, found.values, found.reference)
