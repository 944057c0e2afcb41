"""How far probabilities may lie off for want of tests: the band of each limit of a case."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.case import Case, Parameters
from preloadmc.chance.streams import named_rng
from preloadmc.engine import conditional_margin_function, margin_function, restated
from preloadmc.estimates.band import Band, band_of, unknown_numbers
from preloadmc.estimates.conditional import Conditional, conditional_probabilities
from preloadmc.estimates.design_point import DesignPoint, design_points
from preloadmc.estimates.probability import Probability
from preloadmc.units import Array

# Design points this much farther than the nearest make no part of a miss that shows; of those
# that remain a few are enough.
_WITHIN = 1.5
_MOST_POINTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Draws of what is not known of a case, and the probabilities of its events given each.

    ``e`` (draws, unknowns) are the normal numbers drawn, ``parameters`` the locations and scales
    that they stand for. All events have them in common, so that their probabilities can be added
    draw by draw.
    """

    case: Case
    seed: int
    confidence: float
    e: Array
    parameters: Parameters
    found: dict[str, Conditional]

    @classmethod
    def of(cls, case: Case, seed: int) -> Bands:
        """Draw what is not known of a case; some of its laws must be known from tests only."""
        e = unknown_numbers(case.unknowns, named_rng(seed, "what is not known"))
        return cls(case, seed, case.requirement.confidence, e, case.parameters(e), {})

    def conditional(self, event: str) -> Conditional:
        """Return the probability of an event given each draw: an outcome, or a limit by name."""
        if event not in self.found:
            self.found[event] = self._searched(event)
        return self.found[event]

    def band(self, event: str) -> Band:
        """Return the band of an outcome, or of missing a limit."""
        return band_of(self.conditional(event), self.confidence)

    def band_of_either(self, either: Probability, sides: tuple[Probability, Probability]) -> Band:
        """Return the band of ending on either side of the window.

        What both sides have in common, such as a fastener that broke, is the share of their sum
        that the probabilities of the whole tell.
        """
        under, over = (self.conditional(name) for name in ("under_preload", "over_preload"))
        both = sides[0].value + sides[1].value
        once = either.value / both if both > 0.0 and either.reliable else 1.0
        p = np.minimum((under.p + over.p) * min(max(once, 0.5), 1.0), 1.0)
        error = max(under.relative_error, over.relative_error)
        calls = under.model_calls + over.model_calls
        own = under.own_samples or over.own_samples
        plain = max(under.plain_points, over.plain_points)
        whole = Conditional(p, error, calls, own, plain)
        return band_of(whole, self.confidence)

    def _searched(self, event: str) -> Conditional:
        case, columns = self.case, self.case.uncertain
        rng = named_rng(self.seed, f"band of {event}")
        points: tuple[DesignPoint, ...] = ()
        if case.is_smooth:
            points = design_points(margin_function(case, event), len(columns), rng=rng)
        starts = [
            (restated(case, point.z, self.parameters), point.column)
            for point in points
            if point.beta < points[0].beta + _WITHIN
        ]
        return conditional_probabilities(
            conditional_margin_function(case, event, self.parameters),
            starts[:_MOST_POINTS] if case.is_smooth else None,
            len(self.e),
            len(columns),
            rng=rng,
        )


def bands_of(case: Case, seed: int) -> Bands | None:
    """Return the draws of what is not known of a case; None where tests stand behind no law."""
    return Bands.of(case, seed) if case.tested else None


def knowledge_share(probability: Probability, band: Band) -> float:
    """Return the part of the uncertainty of a probability that is for want of tests, not samples.

    By the squared half widths of the intervals of its logarithm.
    """
    if probability.low <= 0.0 or band.low <= 0.0:
        return 1.0
    sampling = np.log(probability.high / probability.low)
    knowledge = np.log(band.high / band.low)
    return float(knowledge**2 / max(sampling**2 + knowledge**2, 1e-300))
