"""How much work a shelf allows, against trying every mix there is."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.buying.capacity import best_mix, most, scarcest

CODES = ("a", "b", "c", "d")
UNITS = (1, 7, 250_000_000, 1_000_000_007)  # nano amounts are whole numbers of any size

needs = st.lists(st.integers(0, 6), min_size=4, max_size=4).filter(any)


def tried(ways: list[dict[str, int]], shelf: dict[str, int]) -> int:
    """Try every mix."""
    spans = [range((most(way, shelf) or 0) + 1) for way in ways]
    return max(
        sum(mix)
        for mix in product(*spans)
        if all(sum(n * way[c] for n, way in zip(mix, ways, strict=True)) <= max(shelf[c], 0) for c in CODES)
    )


@given(
    asked=st.lists(needs, min_size=1, max_size=4),
    there=st.lists(st.integers(-3, 14), min_size=4, max_size=4),
    units=st.lists(st.sampled_from(UNITS), min_size=4, max_size=4),
    short=st.lists(st.integers(0, 1), min_size=4, max_size=4),
)
def test_the_best_mix_is_what_trying_every_mix_finds(
    asked: list[list[int]], there: list[int], units: list[int], short: list[int]
) -> None:
    """Exact, with amounts of any size, and with a billionth too little for the last one."""
    ways = [dict(zip(CODES, (n * u for n, u in zip(each, units, strict=True)), strict=True)) for each in asked]
    shelf = {code: n * u - s for code, n, u, s in zip(CODES, there, units, short, strict=True)}
    found = best_mix(ways, shelf)
    assert sum(found) == tried(ways, shelf)
    for code in CODES:
        assert sum(n * way[code] for n, way in zip(found, ways, strict=True)) <= max(shelf[code], 0)


@given(asked=needs, there=st.lists(st.integers(-3, 40), min_size=4, max_size=4))
def test_so_many_fit_and_one_more_does_not(asked: list[int], there: list[int]) -> None:
    way, shelf = dict(zip(CODES, asked, strict=True)), dict(zip(CODES, there, strict=True))
    times = most(way, shelf)
    assert times is not None
    assert all(times * way[code] <= max(shelf[code], 0) for code in CODES)
    assert (times + 1) * way[scarcest(way, shelf)] > max(shelf[scarcest(way, shelf)], 0)


def test_seventy_two_pairs_are_seventy_two_jobs() -> None:
    """It said 73: a belief about the shelf may lie above what the book holds."""
    assert most({"TIP": 2}, {"TIP": 144}) == 72
    assert most({"TIP": 2}, {"TIP": 143}) == 71


def test_what_needs_nothing_has_no_end() -> None:
    assert most({}, {"TIP": 5}) is None
    assert scarcest({}, {}) == ""
    with pytest.raises(ValueError, match="no end"):
        best_mix([{"TIP": 1}, {}], {"TIP": 5})


def test_many_jobs_are_counted_to_the_last_one() -> None:
    """A solver content with a part in ten thousand would lose jobs of a full shelf."""
    ways = [{"a": 3, "b": 1}, {"a": 1, "b": 3}, {"a": 2, "b": 2}]
    found = best_mix(ways, {"a": 400_001, "b": 400_003})
    assert sum(found) == 200_002 - 1  # a job takes four of the 800,004 in all, and neither alone is enough for more
