"""Numbers in the words of a report, rounded to what their intervals support."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preloadmc.estimates.probability import Difference, Probability
from preloadmc.inputs import input_kind
from preloadmc.units import format_number

# Width of the interval of a share below which it is as good as exact: a ten-thousandth of a point.
_EXACT = 1e-6
# A share below this is none: 64-bit numbers hardly tell it from that.
_NONE = 1e-15
# An upper end this many times the estimate has a unit of its own: in that of the estimate it would
# have four digits or more.
_FAR_UP = 1e3


def round_to_interval(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return value, low and high as text, with the digits that the interval's width supports.

    The last digit kept is the first one of the half width, or the one after where that is a 1.

    Parameters
    ----------
    value, low, high : float
        An estimate and the ends of its interval, in the unit printed.

    Returns
    -------
    tuple of str
        All three with the same decimals.

    Examples
    --------
    >>> round_to_interval(0.0298123, 0.02651, 0.03338)
    ('0.030', '0.027', '0.033')
    >>> round_to_interval(1.0, 1.0, 1.0)
    ('1', '1', '1')
    """
    half = 0.5 * (high - low)
    if not 0.0 < half < math.inf:
        return f"{value:.4g}", f"{low:.4g}", f"{high:.4g}"
    exponent = math.floor(math.log10(half))
    if half / 10.0**exponent < 2.0:
        exponent -= 1
    if exponent >= 0:
        return f"{value:.0f}", f"{low:.0f}", f"{high:.0f}"
    return f"{value:.{-exponent}f}", f"{low:.{-exponent}f}", f"{high:.{-exponent}f}"


_PER_CENT, _PER_MILLION = " %", " per million"
_SCALE = {_PER_CENT: 1e2, _PER_MILLION: 1e6}


def common_unit(probabilities: Sequence[Probability]) -> str | None:
    """Return the one unit in which all probabilities of a column read well; None if none does.

    It is the unit that the largest has by itself, if the smallest has a digit at its third decimal.

    Examples
    --------
    >>> from preloadmc.estimates.probability import from_counts
    >>> common_unit([from_counts(298, 1_000_000), from_counts(31_000, 1_000_000)])
    ' %'
    """
    sizes = [each.high if each.bound else each.value for each in probabilities]
    told = [size for size in sizes if size > 0.0]
    if not told:
        return None
    unit = unit_of_share(max(told))[1]
    return unit if unit in _SCALE and min(told) * _SCALE[unit] >= 1e-3 else None


def probability_words(probability: Probability, unit: str | None = None) -> str:
    """Return a probability with its interval: per cent, per million, or as a power of ten.

    Parameters
    ----------
    probability : Probability
        With its interval; one that is an upper bound is printed as such.
    unit : str, optional
        That of the column (`common_unit`); its own unless given.

    Returns
    -------
    str
        Such as "298 per million (265 to 334)".

    Examples
    --------
    >>> from preloadmc.estimates.probability import from_counts
    >>> probability_words(from_counts(298, 1_000_000))
    '298 per million (265 to 334)'
    >>> probability_words(from_counts(0, 1_000_000))
    'below 3.7 per million'
    """
    if probability.low == probability.high:
        return f"{100 * probability.value:g} %"
    if probability.value == 1.0:
        decimals = max(1 - math.floor(math.log10(100 * (1.0 - probability.low))), 0)
        return f"above {100 * probability.low:.{decimals}f} %"
    size = probability.high if probability.bound else probability.value
    scale, unit = unit_of_share(size) if unit is None else (_SCALE[unit], unit)
    if probability.bound == "upper":
        return f"below {format_number(scale * probability.high, 2)}{unit}"
    if _spans_powers(probability):
        value, low, high = map(share_text, (probability.value, probability.low, probability.high))
        return f"{value} ({low} to {high})"
    value, low, high = round_to_interval(
        scale * probability.value, scale * probability.low, scale * probability.high
    )
    return f"{value}{unit} ({low} to {high})"


def _spans_powers(probability: Probability) -> bool:
    """Return whether the interval reaches so far up that one unit does not suit both."""
    return 0.0 < _FAR_UP * probability.value < probability.high


def estimate_words(probability: Probability) -> str:
    """Return a probability without its interval, rounded to what that supports.

    Parameters
    ----------
    probability : Probability
        Whose interval says how many digits are kept.

    Returns
    -------
    str
        Such as "298 per million".

    Examples
    --------
    >>> from preloadmc.estimates.probability import from_counts
    >>> estimate_words(from_counts(298, 1_000_000))
    '298 per million'
    """
    return probability_words(probability).partition(" (")[0]


def upper_words(probability: Probability) -> str:
    """Return the upper limit of a probability, in the unit and digits of the estimate.

    Parameters
    ----------
    probability : Probability
        An estimate, no bound.

    Returns
    -------
    str
        Such as "334 per million"; empty where the estimate is exact.

    Examples
    --------
    >>> from preloadmc.estimates.probability import from_counts
    >>> upper_words(from_counts(298, 1_000_000))
    '334 per million'
    """
    if probability.low == probability.high:
        return ""
    if _spans_powers(probability):
        return share_text(probability.high)
    scale, unit = unit_of_share(probability.value)
    low, value, high = (
        scale * each for each in (probability.low, probability.value, probability.high)
    )
    return f"{round_to_interval(value, low, high)[2]}{unit}"


def range_words(low: float, high: float) -> str:
    """Return a range of probabilities in words.

    Parameters
    ----------
    low, high : float
        Ends of the range, from 0 to 1.

    Returns
    -------
    str
        Such as "between 0 and 217 per million".

    Examples
    --------
    >>> range_words(0.0, 2.168e-4), range_words(0.0123, 0.0457)
    ('between 0 and 217 per million', 'between 1.23 and 4.57 %')
    """
    scale, unit = unit_of_share(high)
    least, most = (format_number(scale * end, 3) for end in (low, high))
    return f"between {least} and {most}{unit}"


def share_text(share: float) -> str:
    """Return a share without an interval, to two digits: per cent, per million, power of ten.

    Examples
    --------
    >>> share_text(0.0123), share_text(7.4e-5)
    ('1.2 %', '74 per million')
    """
    if share < _NONE:
        return "0"
    scale, unit = unit_of_share(share)
    return f"{format_number(scale * share, 2)}{unit}"


def share_words(value: float, low: float, high: float) -> str:
    """Return a share in per cent with its interval, cut to what a share can be.

    Parameters
    ----------
    value, low, high : float
        A share and its interval, from 0 to 1; sampling may carry the ends beyond.

    Returns
    -------
    str
        Such as "81 % (79 to 84)"; without an interval that is narrower than anyone reads.

    Examples
    --------
    >>> share_words(0.812, 0.79, 0.84), share_words(0.39123456, 0.39123455, 0.39123457)
    ('81 % (79 to 84)', '39.12 %')
    """
    if high - low < _EXACT:
        return f"{100 * value + 0.0:.4g} %"
    texts = round_to_interval(100 * value, max(100 * low, 0.0), min(100 * high, 100.0))
    return f"{texts[0]} % ({texts[1]} to {texts[2]})"


def unit_of_share(value: float) -> tuple[float, str]:
    """Return scale and unit in which a share is printed: per cent, per million, power of ten."""
    if value >= 1e-3:
        return 1e2, " %"
    if value >= 1e-6 or value == 0.0:
        return 1e6, " per million"
    exponent = math.floor(math.log10(value))
    return 10.0**-exponent, f" x 10^{exponent}"


def quoted(name: str) -> str:
    """Return a name as it stands within a sentence."""
    return f'"{name}"'


def difference_words(difference: Difference) -> str:
    """Return a difference of probabilities with its interval, and whether it is resolved.

    Parameters
    ----------
    difference : Difference
        With its interval.

    Returns
    -------
    str
        In the unit of its larger end; "not resolved" where the interval holds zero.

    Examples
    --------
    >>> difference_words(Difference(-0.0051, -0.0053, -0.0049, 0.95, 1000))
    '-0.51 % (-0.53 to -0.49)'
    >>> difference_words(Difference(2e-6, -1e-6, 5e-6, 0.95, 1000))
    '2 per million (-1 to 5), not resolved'
    """
    if difference.low == difference.high == 0.0:
        return "none in any sample"
    largest = max(abs(difference.low), abs(difference.high))
    scale, unit = unit_of_share(largest)
    value, low, high = round_to_interval(
        scale * difference.value, scale * difference.low, scale * difference.high
    )
    words = f"{value}{unit} ({low} to {high})"
    return words if difference.resolved else f"{words}, not resolved"


def spread_words(name: str, mean: float, sd: float, system: str = "metric") -> str:
    """Return a standard deviation: in per cent of the mean, or in kelvin for a temperature.

    Parameters
    ----------
    name : str
        Name of the input.
    mean, sd : float
        Mean and standard deviation in the input's internal unit.
    system : {"metric", "inch"}
        Whose unit is printed where there is one.

    Returns
    -------
    str
        Such as "12 %" or "5 K".

    Examples
    --------
    >>> spread_words("friction.thread", 0.13, 0.0156)
    '12 %'
    """
    dimension = input_kind(name).dimension
    if dimension.name == "temperature":
        unit, size = ("degF", 1.8) if system == "inch" else ("K", 1.0)
        return f"{format_number(size * sd, 3)} {unit}"
    share = sd if mean == 0.0 else sd / abs(mean)
    return f"{format_number(100.0 * share, 3)} %"
