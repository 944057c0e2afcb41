"""Laws of many rows at once: each row's values are those of its own law."""

import numpy as np
import pytest

from preloadmc.chance.laws import Constant, Gumbel, LogNormal, Normal, Triangular, Uniform
from preloadmc.chance.row_laws import laws_of_rows

FAMILIES = {
    "the same": [Normal(2.0, 0.1)] * 3,
    "constants": [Constant(1.0), Constant(2.0), Constant(-3.0)],
    "normal": [Normal(1.0, 0.1), Normal(2.0, 0.3), Normal(-1.0, 0.2)],
    "lognormal": [LogNormal(mean, 0.1 * mean) for mean in (0.1, 0.12, 5.0)],
    "gumbel": [Gumbel(1.0, 0.1), Gumbel(5.0, 2.0), Gumbel(-3.0, 0.5)],
    "triangular": [Triangular(0.0, 1.0, 2.0), Triangular(1.0, 1.5, 5.0), Triangular(0.0, 0.1, 1.0)],
    "unlike": [Normal(1.0, 0.1), Uniform(0.0, 2.0), Constant(4.0)],
}


@pytest.mark.parametrize("name", FAMILIES)
def test_each_row_has_the_values_of_its_own_law(name):
    laws = FAMILIES[name]
    z = np.linspace(-8.0, 8.0, 60)
    row = np.repeat(np.arange(3), 20)
    found = np.broadcast_to(laws_of_rows(laws).from_normal(z, row), 60)
    for place, law in enumerate(laws):
        mine = row == place
        own = law.value if isinstance(law, Constant) else law.from_normal(z[mine])
        assert found[mine] == pytest.approx(np.broadcast_to(own, 20), rel=1e-12)
