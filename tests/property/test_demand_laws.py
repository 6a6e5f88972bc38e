"""Laws every forecast keeps, whatever the history."""

from dataclasses import replace
from random import Random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.demand.chance import Chance
from stockroom.demand.choose import forecast
from stockroom.demand.history import History
from stockroom.demand.lags import waiting_chances, weeks_moved, worked
from stockroom.demand.paths import Paths, explode, path_chunks, sample_paths, together
from stockroom.demand.view import look, season_doubt
from tests.unit.demand.views import quantiles

MONDAY = np.datetime64("2022-01-03")


@st.composite
def histories(draw: st.DrawFn, least_weeks: int = 1) -> History:
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    n_series, n_weeks = draw(st.integers(1, 6)), draw(st.integers(least_weeks, 130))
    level = rng.choice([0.0, 0.05, 0.7, 4.0, 60.0], (n_series, 1))
    use = rng.poisson(level * rng.gamma(2, 0.5, (n_series, n_weeks))).astype(float)
    use[np.arange(n_weeks) < rng.integers(0, n_weeks + 1, (n_series, 1))] = np.nan
    use[rng.random(use.shape) < draw(st.sampled_from([0.0, 0.3]))] = np.nan
    share = rng.choice([0.0, 0.4, 1.0], n_weeks, p=[0.1, 0.1, 0.8])
    return History(
        use=use,
        weeks=MONDAY + np.timedelta64(7, "D") * np.arange(n_weeks),
        groups=tuple(rng.choice(["a", "b", "c"], n_series)),
        open_share=share,
        future_open=rng.choice([0.0, 1.0], draw(st.integers(0, 5))),
    )


@given(history=histories(), horizon=st.integers(1, 12), seed=st.integers(0, 99))
@settings(max_examples=60, deadline=None)
def test_futures_are_whole_finite_and_grow_with_the_span(history: History, horizon: int, seed: int) -> None:
    paths = sample_paths(history, horizon, np.random.default_rng(seed), 30)
    assert np.isfinite(paths.mean).all()
    assert (paths.mean >= 0).all()
    assert (paths.counts >= 0).all()
    levels = np.array([0.1, 0.5, 0.9, 0.99])
    spans = np.stack([quantiles(paths, levels, span) for span in range(1, horizon + 1)])
    assert (np.diff(spans, axis=0) >= 0).all()
    assert (np.diff(spans, axis=2) >= 0).all()
    shut = history.open_ahead(horizon) == 0
    assert (paths.counts[:, shut] == 0).all()


@given(history=histories(), seed=st.integers(0, 99))
@settings(max_examples=30, deadline=None)
def test_the_order_of_series_does_not_matter(history: History, seed: int) -> None:
    order = np.random.default_rng(seed).permutation(history.n_series)
    turned = History(
        use=history.use[order],
        weeks=history.weeks[order],
        groups=tuple(history.groups[i] for i in order),
        open_share=history.share[order],
        future_open=None if history.future_open is None else history.future_open[order],
    )
    one, two = forecast(history, 4), forecast(turned, 4)
    np.testing.assert_allclose(two.mean, one.mean[order], rtol=1e-6)  # sums in another order
    np.testing.assert_allclose(two.spread.long, one.spread.long[order], rtol=1e-6, atol=1e-9)


@given(history=histories(), size=st.integers(1, 4), seed=st.integers(0, 99))
@settings(max_examples=20, deadline=None)
def test_futures_drawn_some_series_at_a_time_are_those_drawn_at_once(history: History, size: int, seed: int) -> None:
    whole = sample_paths(history, 4, np.random.default_rng(seed), 20)
    parts = list(path_chunks(history, 4, np.random.default_rng(seed), 20, size=size))
    np.testing.assert_array_equal(np.concatenate([part.counts for part in parts], axis=1), whole.counts)
    np.testing.assert_array_equal(np.concatenate([part.mean for part in parts]), whole.mean)
    assert sum((part.names for part in parts), ()) == whole.names
    assert max(len(part.names) for part in parts) <= size


@given(history=histories(), seed=st.integers(0, 99))
@settings(max_examples=20, deadline=None)
def test_a_series_keeps_its_futures_in_whatever_order_series_come(history: History, seed: int) -> None:
    order = np.random.default_rng(seed).permutation(history.n_series)
    turned = History(
        use=history.use[order],
        weeks=history.weeks[order],
        groups=tuple(history.groups[i] for i in order),
        names=tuple(history.names[i] for i in order),
        open_share=history.share[order],
        future_open=None if history.future_open is None else history.future_open[order],
    )
    one, two = (sample_paths(each, 4, np.random.default_rng(seed), 50).counts for each in (history, turned))
    assert (np.abs(two - one[:, order]) > 0).mean() < 0.01  # sums in another order may tip a drawn number


@given(history=histories(), seed=st.integers(0, 99))
@settings(max_examples=20, deadline=None)
def test_exploding_is_linear(history: History, seed: int) -> None:
    rng = np.random.default_rng(seed)
    recipes = rng.choice([0.0, 0.5, 2.0], (history.n_series, 3))
    names = ("glue", "rubber", "thread")
    paths = sample_paths(history, 3, rng, 10)

    def used(source: Paths) -> Paths:
        return explode(source, recipes, names=names, dtype=np.float64)

    twice, added = used(together(paths, paths)), together(used(paths), used(paths))
    np.testing.assert_allclose(twice.counts, added.counts)
    np.testing.assert_allclose(twice.mean, added.mean)


@given(history=histories(least_weeks=30))
@settings(max_examples=20, deadline=None)
def test_what_is_not_yet_known_changes_no_earlier_level(history: History) -> None:
    earlier = history.until(20)
    paths = sample_paths(earlier, 2, np.random.default_rng(0), 5)
    again = sample_paths(history.until(25).until(20), 2, np.random.default_rng(0), 5)
    np.testing.assert_array_equal(paths.counts, again.counts)


waits = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 70), st.booleans()), max_size=40)


def _waiting(found: list[tuple[int, int, bool]]) -> np.ndarray:
    kind, days, done = (np.array(each) for each in zip(*found, strict=True)) if found else (np.zeros(0, int),) * 3
    return waiting_chances(kind.astype(np.intp), days.astype(np.intp), done.astype(bool), n_kinds=3)


@given(waits, st.randoms())
def test_how_long_work_waits_is_a_distribution_whatever_the_order_of_tickets(
    found: list[tuple[int, int, bool]], dice: Random
) -> None:
    chances = _waiting(found)
    assert (chances >= 0).all()
    np.testing.assert_allclose(chances.sum(axis=1), 1.0)
    mixed = list(found)
    dice.shuffle(mixed)
    np.testing.assert_allclose(_waiting(mixed), chances)


@given(waits, st.integers(0, 39), st.integers(1, 20))
def test_a_ticket_that_took_longer_never_makes_work_sooner(
    found: list[tuple[int, int, bool]], which: int, more: int
) -> None:
    found = [(kind, days, True) for kind, days, _ in found]
    if not found:
        return
    kind, days, _ = found[which % len(found)]
    longer = [*found]
    longer[which % len(found)] = (kind, days + more, True)
    before, after = (_waiting(each)[kind].cumsum() for each in (found, longer))
    assert (after <= before + 1e-9).all()


@given(waits, st.integers(0, 2**31), st.sets(st.integers(0, 6), min_size=1), st.integers(0, 3))
def test_work_is_done_once_and_never_before_it_came_in(
    found: list[tuple[int, int, bool]], seed: int, open_days: set[int], shut: int
) -> None:
    rng, weeks = np.random.default_rng(seed), 30
    coming = rng.poisson(2.0, (5, 4, weeks)).astype(np.int32)
    coming[:, :, 10:] = 0  # so that all of it is worked within the horizon
    kind = np.array([0, 1, 2, 0], dtype=np.intp)
    week_of = np.array([n // 7 for n in range(7 * weeks) if n % 7 in open_days and n // 7 != shut], dtype=np.intp)
    chances = _waiting(found)[:, :16]
    chances[:, -1] += 1.0 - chances.sum(axis=1)  # nobody waits for more than fifteen days worked
    none = np.zeros((4, weeks), dtype="datetime64[D]")
    paths = Paths(names=tuple("abcd"), weeks=none, mean=coming.mean(axis=0), counts=coming)
    done = worked(paths, weeks_moved(chances, week_of, weeks), kind, Chance(seed=seed))
    assert (done.counts.cumsum(axis=2) <= coming.cumsum(axis=2)).all()
    np.testing.assert_array_equal(done.counts.sum(axis=2), coming.sum(axis=2))
    np.testing.assert_allclose(done.mean.sum(axis=1), coming.mean(axis=0).sum(axis=1))


@given(st.integers(0, 999), st.integers(13, 130), st.floats(0.05, 0.8))
@settings(max_examples=15, deadline=None)
def test_a_year_that_was_expected_widens_futures_only_while_it_may_be_wrong(
    seed: int, weeks: int, swing: float
) -> None:
    rng = np.random.default_rng(seed)
    months = np.exp(swing * np.cos(2 * np.pi * np.arange(12) / 12))[None].repeat(3, axis=0)
    history = History(
        use=rng.poisson(4.0, (3, weeks)).astype(float),
        weeks=MONDAY + np.timedelta64(7, "D") * np.arange(weeks),
        usual_year=months / months.mean(),
    )
    doubt = season_doubt(look(history, np.array([weeks]), horizon=8))
    assert (doubt >= 0).all()
    assert (doubt <= np.log(months).var(axis=1) + 1e-12).all()
    assert weeks < 79 or not doubt.any()
    steady = replace(history, usual_year=np.ones((3, 12)))
    assert not season_doubt(look(steady, np.array([weeks]), horizon=8)).any()
