"""Creep and relaxation over time: preload lost with the logarithm of time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.mechanics.names import folded, row_named
from preloadmc.units import FloatLike

_MINUTE, _HOUR = 60.0, 3600.0


def log_time_loss(rate: FloatLike, age: FloatLike, reference: FloatLike) -> FloatLike:
    """Share of the preload lost by creep up to an age.

    Parameters
    ----------
    rate : float or ndarray
        Share of the preload lost in each decade of time.
    age : float or ndarray
        Time since tightening [s], not negative.
    reference : float or ndarray
        Time from which the loss grows with log time [s].

    Returns
    -------
    float or ndarray
        ``rate log10(1 + age/reference)``: nothing at once, ``rate log10 2`` at the reference time,
        a rate more in each decade after it.

    Notes
    -----
    Logarithmic creep, the usual form of the primary stage below about 0.3 of the melting
    temperature: O. H. Wyatt, Proc. Phys. Soc. B 66 (1953) 459, from memory. It has no end: it holds
    as far as tests reach, and a decade or two beyond with doubt.

    Examples
    --------
    3 % a decade from one hour, after 999 hours: three decades.

    >>> round(float(log_time_loss(0.03, 999 * 3600.0, 3600.0)), 12)
    0.09
    """
    loss: FloatLike = rate * np.log10(1.0 + age / reference)
    return loss


def ageing_factor(
    temperature: FloatLike, reference_temperature: float, doubling: float
) -> FloatLike:
    """How many times faster creep ages at a temperature than at the one of its tests.

    Parameters
    ----------
    temperature : float or ndarray
        Temperature [K].
    reference_temperature : float
        Temperature at which the rate was found [K].
    doubling : float
        Rise of temperature that doubles the pace [K].

    Returns
    -------
    float or ndarray
        ``2 ** ((T - T_ref)/doubling)``.

    Notes
    -----
    The rule of ten kelvin of van 't Hoff, with the step as stated: common practice, no published
    source for bolted joints. An activation energy E acts as a step of about ``R T^2 ln 2/E``.

    Examples
    --------
    >>> float(ageing_factor(393.15, 373.15, 10.0))
    4.0
    """
    factor: FloatLike = np.exp2((temperature - reference_temperature) / doubling)
    return factor


@dataclass(frozen=True, slots=True)
class CreepRow:
    """A guide value of creep: share lost per decade with its scatter, and from which time [s]."""

    name: str
    rate: float
    cov: float
    reference: float
    source: str


_GUESS = "order of magnitude from memory, no published source: test the joint"
# Losses over five days, spread over log time from one minute: 2.5 % and 6.5 % over 3.86 decades.
_FIVE_DAYS = (
    "W. H. Munse (1967), as quoted by the RCSC commentary: {} of preload over five days, spread "
    "here over log time from one minute"
)
_ROWS = (
    CreepRow("bare steel faces", 0.0065, 0.5, _MINUTE, _FIVE_DAYS.format("2.5 %")),
    CreepRow("galvanised faces", 0.017, 0.5, _MINUTE, _FIVE_DAYS.format("6.5 %")),
    CreepRow("painted faces", 0.03, 0.5, _HOUR, _GUESS),
    CreepRow("aluminium at 100 degC", 0.03, 0.5, _HOUR, _GUESS),
    CreepRow("aluminium at 150 degC", 0.08, 0.5, _HOUR, _GUESS),
    CreepRow("fibre gasket", 0.06, 0.5, _HOUR, _GUESS),
    CreepRow("rubber-bonded cork gasket", 0.10, 0.5, _HOUR, _GUESS),
)
_BY_NAME = {folded(row.name): row for row in _ROWS}


def known_creep() -> tuple[str, ...]:
    """Return the names of the rows of the table of creep."""
    return tuple(row.name for row in _ROWS)


def creep_row(name: str) -> CreepRow:
    """Return a row of the table of creep.

    Parameters
    ----------
    name : str
        One of `known_creep`.

    Raises
    ------
    ValueError
        A name that the table does not know.

    Examples
    --------
    6.5 % over the 3.86 decades from one minute to five days:

    >>> row = creep_row("galvanised faces")
    >>> round(float(log_time_loss(row.rate, 5 * 86400.0, row.reference)), 3)
    0.066
    """
    return row_named("creep", name, _BY_NAME, known_creep())
