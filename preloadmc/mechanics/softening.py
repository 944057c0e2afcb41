"""How the strength of metals falls with temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from preloadmc.units import FloatLike

ZERO_CELSIUS = 273.15
ROOM = ZERO_CELSIUS + 20.0
# Up to here the usual metals bear about what they do at room temperature: engineering judgement.
SOFT_FROM = ZERO_CELSIUS + 80.0

_MEMORY = "(values from memory)"


@dataclass(frozen=True, slots=True)
class Softening:
    """Yield or 0.2 % proof strength at temperatures over that at 20 °C.

    Parameters
    ----------
    temperatures : tuple of float
        [K], rising.
    ratios : tuple of float
        Strength there over that at 20 °C.
    source : str
        Where the ratios stand.
    """

    temperatures: tuple[float, ...]
    ratios: tuple[float, ...]
    source: str

    def ratio(self, temperature: FloatLike) -> FloatLike:
        """Strength at a temperature over that at 20 °C.

        Parameters
        ----------
        temperature : float or ndarray
            Temperature [K].

        Returns
        -------
        float or ndarray
            Linear between the rows of the table, constant beyond its ends.

        Examples
        --------
        Class 8.8: 590 of 640 MPa at 100 °C.

        >>> round(float(CLASS_8_8.ratio(373.15)), 3)
        0.922
        """
        if np.max(temperature) <= self._unchanged_to:
            return self.ratios[0]  # the usual case, and much quicker than a look at the table
        found: FloatLike = np.interp(temperature, self.temperatures, self.ratios)
        return found

    @property
    def _unchanged_to(self) -> float:
        """Temperature [K] up to which the ratio is the first one."""
        rows = zip(self.temperatures, self.ratios, strict=True)
        return max(at for at, ratio in rows if ratio == self.ratios[0])

    @property
    def words(self) -> str:
        """Return the table in words, such as "0.92 at 100 degC, 0.84 at 200 degC"."""
        rows = zip(self.temperatures, self.ratios, strict=True)
        return ", ".join(f"{ratio:.2g} at {at - ZERO_CELSIUS:.0f} degC" for at, ratio in rows)


def _celsius(
    temperatures: tuple[float, ...], strengths: tuple[float, ...], source: str
) -> Softening:
    """Strengths in any unit, the first of them at 20 °C."""
    return Softening(
        tuple(each + ZERO_CELSIUS for each in temperatures),
        tuple(each / strengths[0] for each in strengths),
        f"{source} {_MEMORY}",
    )


_ANNEX = "strength at temperature: ISO 898-1:1999, Annex A"
_BOLTS = (20.0, 100.0, 200.0, 250.0, 300.0)
CLASS_5_6 = _celsius(_BOLTS, (300, 250, 210, 190, 160), _ANNEX)
CLASS_8_8 = _celsius(_BOLTS, (640, 590, 540, 510, 480), _ANNEX)
CLASS_10_9 = _celsius(_BOLTS, (940, 875, 790, 745, 705), _ANNEX)
CLASS_12_9 = _celsius(_BOLTS, (1100, 1020, 925, 875, 825), _ANNEX)
CARBON_STEEL = _celsius(
    (20, 100, 200, 300, 400),
    (1.0, 1.0, 0.89, 0.78, 0.65),
    "strength at temperature: EN 1993-1-2:2005, Table E.1",
)
_STAINLESS = "strength at temperature: EN 1993-1-2:2005, Annex C"
STAINLESS_A2 = _celsius((20, 100, 200, 300, 400), (1.0, 0.82, 0.68, 0.64, 0.60), _STAINLESS)
STAINLESS_A4 = _celsius((20, 100, 200, 300, 400), (1.0, 0.88, 0.76, 0.71, 0.66), _STAINLESS)
# For an exposure of up to two hours: long exposures lower it further.
_ALUMINIUM = "strength at temperature for up to two hours: EN 1999-1-2:2007, Table 1a"
_HOT_ALUMINIUM = (20.0, 100.0, 150.0, 200.0, 250.0, 300.0)
ALUMINIUM_5083 = _celsius(_HOT_ALUMINIUM, (1.0, 1.0, 0.98, 0.90, 0.75, 0.40), _ALUMINIUM)
ALUMINIUM_6061 = _celsius(_HOT_ALUMINIUM, (1.0, 0.95, 0.91, 0.79, 0.55, 0.31), _ALUMINIUM)
ALUMINIUM_6082 = _celsius(_HOT_ALUMINIUM, (1.0, 0.90, 0.79, 0.65, 0.38, 0.20), _ALUMINIUM)
