"""The section [sampling]: how far to sample, and from which seed."""

from __future__ import annotations

from preloadmc.case import MOST_SAMPLES, Sampling
from preloadmc.case_file.draft import Draft
from preloadmc.case_file.field import Field
from preloadmc.case_file.kinds import Quantity, Table, Whole
from preloadmc.inputs import Default
from preloadmc.units import RATIO

_SAMPLES, _PRECISION, _SEED = "sampling.samples", "sampling.precision", "sampling.seed"
_PROGRAM = "default of this program"
FIELDS = (
    Field("sampling", Table(), "how far to sample"),
    Field(
        _SAMPLES,
        Whole(1, MOST_SAMPLES),
        "number of sampled fasteners",
        "1_000_000",
        Default(1_000_000, "1,000,000", _PROGRAM),
        replaces=("precision",),
    ),
    Field(
        _PRECISION,
        Quantity(RATIO, above=0.0, high=1.0),
        "half width of the interval over the probability, in place of a number",
        '"5 %"',
        replaces=("samples",),
    ),
    Field(
        _SEED,
        Whole(0, 2**63 - 1),
        "seed of the random numbers",
        "7",
        Default(1, "1", _PROGRAM),
    ),
)


def sampling_of(draft: Draft) -> Sampling:
    """Return a count or a precision, and the seed."""
    stated = draft.stated
    precise = _PRECISION in stated
    if precise and _SAMPLES in stated:
        stated.problem(_PRECISION, "either samples or a precision")
    if not precise:
        draft.assume_default(_SAMPLES)
    draft.assume_default(_SEED)
    return Sampling(
        None if precise else stated.known(_SAMPLES, int),
        stated.get(_PRECISION, float),
        stated.known(_SEED, int),
    )
