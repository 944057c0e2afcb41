"""What is planned of a joint's service: how long, in which states, how it creeps, what is done."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from preloadmc.units import time_words

SETTLED = "settled"
AFTER_SLIP = "after slip"
RETIGHTEN, CHECK, REPLACE = "retighten", "check", "replace"
ACTIONS = (RETIGHTEN, CHECK, REPLACE)
_DONE = {RETIGHTEN: "retightening", CHECK: "check", REPLACE: "replacement"}


@dataclass(frozen=True, slots=True)
class Creep:
    """One way in which preload creeps away with log time.

    ``reference`` [s] is the time from which it grows. It acts in one ``state`` alone, or in all
    where that is empty. Where it depends on temperature, it was found at ``temperature`` [K] and
    its pace doubles with each ``doubling`` [K]; both None otherwise.
    """

    name: str
    reference: float
    state: str = ""
    temperature: float | None = None
    doubling: float | None = None

    @property
    def rate_input(self) -> str:
        """Return the name of the input that is its rate."""
        return f"settling.over_time.{self.name}.rate"


@dataclass(frozen=True, slots=True)
class Spell:
    """When a temperature state holds: from ``start`` on, for ``duration`` [s].

    With ``every`` [s] it comes again in each such time; without it comes once.
    """

    state: str
    start: float
    duration: float
    every: float | None = None

    @property
    def end(self) -> float:
        """Return when it is over for good [s]; infinite where it comes again."""
        return self.start + self.duration if self.every is None else math.inf

    def lasted(self, time: float) -> float:
        """Return how long the joint has been in it by a time [s]; on average where it comes again.

        Examples
        --------
        >>> Spell("hot", 0.0, 8.0, every=24.0).lasted(240.0), Spell("hot", 10.0, 5.0).lasted(12.0)
        (80.0, 2.0)
        """
        since = max(time - self.start, 0.0)
        if self.every is None:
            return min(since, self.duration)
        return since * self.duration / self.every


@dataclass(frozen=True, slots=True)
class Action:
    """What is done ``at`` a time of service [s]: one of `ACTIONS`; ``place`` counts from 1.

    A check turns the fastener on up to ``pass_torque`` [N·mm]: one that moves is retightened.
    Without it, the torque at which the fastener turns is read, and nothing is done.
    ``redrawn`` are the inputs that are new in the tightening that may follow, each of which has a
    law of its own under `again_input`.
    """

    place: int
    at: float
    does: str
    pass_torque: float | None
    redrawn: tuple[str, ...]

    @property
    def words(self) -> str:
        """Return it in words, such as "retightening at 1 day"."""
        return f"{_DONE[self.does]} at {time_words(self.at)}"

    def input(self, quantity: str) -> str:
        """Return the name of an input that the action alone has."""
        return f"service.action.{self.place}.{quantity}"


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment at which states are judged: ``time`` [s], before or ``after`` an action then.

    ``states`` are judged there, each under one of the ``names``, which says when.
    """

    time: float
    states: tuple[str, ...]
    action: Action | None = None
    after: bool = False
    names: tuple[str, ...] = ()

    def named(self, state: str) -> str:
        """Return what a state is called at this moment, such as "hot after 5 years"."""
        if self.after and self.action is not None:
            return f"{state} after {self.action.words}"
        return f"{state} after {time_words(self.time)}"


@dataclass(frozen=True, slots=True)
class Service:
    """The service of a joint: ``times`` [s] at which its preload is asked for, the last its end.

    Without times the joint is judged as settled. ``states`` are the names of its states, ``spells``
    say when they hold; one without a spell may come at any time. Where ``only_end``, no moment
    before the last one is judged.
    """

    times: tuple[float, ...]
    creep: tuple[Creep, ...]
    spells: tuple[Spell, ...]
    states: tuple[str, ...]
    actions: tuple[Action, ...]
    only_end: bool = False

    def until(self, time: float) -> Service:
        """Return the service up to a time [s]: what is done then, or later, is left out."""
        earlier = tuple(each for each in self.times if each < time)
        actions = tuple(each for each in self.actions if each.at < time)
        return replace(self, times=(*earlier, time), actions=actions)

    def spell(self, state: str) -> Spell | None:
        """Return when a state holds; None of one that may come at any time."""
        return next((each for each in self.spells if each.state == state), None)

    def share(self, state: str) -> float:
        """Return the share of time that the joint is in a state; 0 where none is stated."""
        spell = self.spell(state)
        return 0.0 if spell is None or spell.every is None else spell.duration / spell.every

    @property
    def first_states(self) -> tuple[str, ...]:
        """Return the states that the joint may be in at once."""
        spells = {state: self.spell(state) for state in self.states}
        return tuple(state for state, when in spells.items() if when is None or when.start == 0.0)

    def states_at(self, time: float) -> tuple[str, ...]:
        """Return the states that the joint may be in at a time of service, the settled one first.

        A spell still holds at its end.
        """
        found = [SETTLED]
        for state in self.states:
            spell = self.spell(state)
            if spell is None or spell.start <= time <= spell.end:
                found.append(state)
        return tuple(found)

    @property
    def instants(self) -> tuple[Instant, ...]:
        """Return the moments that decide: creep only takes, so least is left at the end of each.

        That is the end of service, the moment before each action, and the start and end of each
        spell; after an action most is there again.
        """
        return _instants(self)

    @property
    def judged(self) -> tuple[str, ...]:
        """Return the name of every state at every moment that decides."""
        judged = self.instants[-1:] if self.only_end else self.instants
        return tuple(name for instant in judged for name in instant.names)


@lru_cache(maxsize=256)
def _instants(service: Service) -> tuple[Instant, ...]:
    if not service.times:
        return ()
    end = service.times[-1]
    moments: dict[float, dict[str, None]] = {}
    for spell in service.spells:
        for moment in (spell.start, spell.end):
            if 0.0 < moment < end:
                moments.setdefault(moment, {})[spell.state] = None
    actions = {action.at: action for action in service.actions if action.at < end}
    for moment in (*actions, end):
        moments[moment] = dict.fromkeys(service.states_at(moment))
    found = []
    for moment, states in sorted(moments.items()):
        action = actions.get(moment)
        found.append(Instant(moment, tuple(states), action))
        if action is not None:
            found.append(Instant(moment, tuple(states), action, after=True))
    return tuple(replace(each, names=tuple(map(each.named, each.states))) for each in found)


@lru_cache(maxsize=256)
def states_by_name(service: Service) -> dict[str, str]:
    """Return the state that each name of a judged state means, of those later than the first."""
    return {
        name: state
        for instant in service.instants
        for name, state in zip(instant.names, instant.states, strict=True)
    }
