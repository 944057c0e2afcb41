"""Orders of tightening: each fastener once, opposite ones together, patterns of the trade."""

from __future__ import annotations

from itertools import pairwise

import pytest

from preloadmc.mechanics.tightening_order import ORDERS, around, middle_outwards, star


@pytest.mark.parametrize("name", ORDERS)
@pytest.mark.parametrize("tools", [1, 2, 3, 4, 8])
def test_each_fastener_has_one_turn(name, tools):
    for n in range(1, 41):
        order = ORDERS[name](n, tools)
        assert sorted(i for group in order for i in group) == list(range(n))
        assert all(1 <= len(group) <= tools for group in order)


@pytest.mark.published
@pytest.mark.parametrize(
    ("n", "numbers"),
    [
        # Star pattern of ASME PCC-1, fasteners numbered from 1 (values from memory).
        (4, "1 3 2 4"),
        (8, "1 5 3 7 2 6 4 8"),
        (12, "1 7 4 10 2 8 5 11 3 9 6 12"),
        (16, "1 9 5 13 3 11 7 15 2 10 6 14 4 12 8 16"),
        (20, "1 11 6 16 3 13 8 18 5 15 10 20 2 12 7 17 4 14 9 19"),
        (24, "1 13 7 19 4 16 10 22 2 14 8 20 5 17 11 23 3 15 9 21 6 18 12 24"),
    ],
)
def test_star_pattern(n, numbers):
    assert star(n) == tuple((int(number) - 1,) for number in numbers.split())


@pytest.mark.parametrize("n", range(5, 41))
def test_a_star_never_goes_to_a_neighbour(n):
    places = [group[0] for group in star(n)]
    for here, there in pairwise(places):
        away = abs(here - there)
        assert min(away, n - away) >= 2


@pytest.mark.parametrize("n", range(4, 41, 2))
def test_two_tools_work_opposite_each_other(n):
    for order in (star(n, 2), around(n, 2)):
        assert all(second - first in (n // 2, -n // 2) for first, second in order)


@pytest.mark.parametrize("n", range(4, 41, 4))
def test_four_tools_work_square_to_each_other(n):
    for order in (star(n, 4), around(n, 4)):
        for group in order:
            first, *others = sorted(group)
            assert [i - first for i in others] == [n // 4, n // 2, 3 * n // 4]


def test_around_starts_evenly_spaced():
    assert around(5) == ((0,), (1,), (2,), (3,), (4,))
    assert around(5, 2) == ((0, 3), (1, 4), (2,))


@pytest.mark.parametrize("tools", [1, 2, 4])
@pytest.mark.parametrize("n", [1, 2, 5, 6, 9])
def test_a_row_is_tightened_from_its_middle(n, tools):
    order = middle_outwards(n, tools)
    from_middle = [abs(2 * i - (n - 1)) for group in order for i in group]
    assert from_middle == sorted(from_middle)
    # With two tools, both sides alike.
    if tools == 2:
        assert all(sum(group) == (n - 1) * len(group) / 2 for group in order)
