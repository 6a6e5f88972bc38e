from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
import pytest

from stockroom.buying.lead_times import (
    LONGEST,
    LeadTime,
    PastOrder,
    Terms,
    arrivals,
    as_shown,
    lead_time_quantiles,
    learn,
    order_days,
    starts,
    worked_days,
)

START = date(2031, 3, 3)  # a Monday
AS_OF = date(2032, 3, 1)


def delivered(*days: int) -> list[PastOrder]:
    return [PastOrder(ordered=START, received=START + timedelta(days=each)) for each in days]


def quantile(posterior: LeadTime, part: float) -> float:
    return float(np.quantile(posterior.sample(lead_time_quantiles(4000, np.random.default_rng(1))), part))


def test_without_deliveries_his_word_counts() -> None:
    posterior = learn([], Terms(stated_days=6), AS_OF)
    assert posterior.usual_days == pytest.approx(6)
    assert quantile(posterior, 0.5) == pytest.approx(6, rel=0.1)


def test_deliveries_outvote_his_word() -> None:
    posterior = learn(delivered(*[10] * 20), Terms(stated_days=5), AS_OF)
    assert quantile(posterior, 0.5) == pytest.approx(10, rel=0.1)


def test_overdue_deliveries_fatten_the_tail_but_not_the_middle() -> None:
    prompt = learn(delivered(*[5] * 20), Terms(stated_days=5), AS_OF)
    mixed = learn(delivered(*[5] * 17, 30, 40, 50), Terms(stated_days=5), AS_OF)
    assert quantile(mixed, 0.98) > 2 * quantile(prompt, 0.98)
    assert quantile(mixed, 0.5) == pytest.approx(quantile(prompt, 0.5), rel=0.1)


def test_open_overdue_order_counts_as_at_least_this_long() -> None:
    known = delivered(*[5] * 10)
    waiting = PastOrder(ordered=AS_OF - timedelta(days=40), received=None)
    with_open, without = (learn(each, Terms(stated_days=5), AS_OF) for each in ([*known, waiting], known))
    assert with_open.beyond(np.array([20.0]))[0] > 1.5 * without.beyond(np.array([20.0]))[0]
    assert quantile(with_open, 0.97) > quantile(without, 0.97)


def test_an_order_not_yet_due_says_next_to_nothing() -> None:
    known = delivered(*[5] * 4)
    young = PastOrder(ordered=AS_OF - timedelta(days=1), received=None)
    with_open, without = (learn(each, Terms(stated_days=5), AS_OF) for each in ([*known, *[young] * 3], known))
    assert with_open.usual_days == pytest.approx(without.usual_days, abs=0.01)


def test_later_delivery_is_not_known_yet() -> None:
    late = [PastOrder(ordered=START, received=START + timedelta(days=60))]
    still = [PastOrder(ordered=START, received=None)]
    day = START + timedelta(days=20)
    assert learn(late, Terms(stated_days=5), day) == learn(still, Terms(stated_days=5), day)


def test_part_deliveries_carry_their_share() -> None:
    """Two halves that came together teach what the whole does, and halves of two days what lies between."""
    five, seven = ([PastOrder(ordered=START, received=START + timedelta(days=n), share=0.5)] for n in (5, 7))
    believed = {
        name: learn(past, Terms(stated_days=5), AS_OF)
        for name, past in (("5", delivered(5)), ("7", delivered(7)), ("5 5", five * 2), ("5 7", [*five, *seven]))
    }
    assert believed["5 5"] == believed["5"]
    assert believed["5"].usual_days < believed["5 7"].usual_days < believed["7"].usual_days


def test_closed_days_are_not_held_against_him() -> None:
    shut = Terms(stated_days=5, closures=((START + timedelta(days=2), START + timedelta(days=11)),))
    assert worked_days(START, START + timedelta(days=15), shut) == 5


def test_a_closure_already_begun_counts_only_as_far_as_it_has_come() -> None:
    """Asked within the closure: two days were worked, and none of those still to come is taken off."""
    closed = (START + timedelta(days=2), START + timedelta(days=11))
    shut = Terms(stated_days=5, closures=(closed,))
    assert [worked_days(START, START + timedelta(days=day), shut) for day in (1, 2, 3, 7, 12, 13)] == [1, 2, 2, 2, 2, 3]


def test_an_order_placed_before_a_closure_does_not_come_within_it_when_asked_within_it() -> None:
    closed = (START + timedelta(days=2), START + timedelta(days=11))
    terms = Terms(stated_days=5, closures=(closed,))
    posterior = learn([], terms, START)
    before, within = (
        arrivals(
            posterior, START, START + timedelta(days=day), terms, lead_time_quantiles(500, np.random.default_rng(3))
        )
        + day
        for day in (2, 7)
    )
    assert within.min() >= 12  # days from the order: he opens again on the twelfth
    np.testing.assert_allclose(within, before)  # nothing was learnt while he was shut


@pytest.mark.parametrize("day", [0, 3, 9])
def test_an_order_placed_within_a_closure_starts_after_it(day: int) -> None:
    closed = (START, START + timedelta(days=9))
    terms = Terms(stated_days=5, closures=(closed,))
    placed = START + timedelta(days=day)
    assert order_days(terms, placed, 30)[0] == 10 - day
    days = arrivals(learn([], terms, placed), placed, placed, terms, lead_time_quantiles(500, np.random.default_rng(4)))
    assert days.min() > 10 - day
    assert np.median(days) == pytest.approx(15 - day, abs=1)
    assert worked_days(placed, START + timedelta(days=15), terms) == 5, "what was shut before he began is no matter"


@pytest.mark.parametrize("day", [0, 3, 9])
def test_of_a_closure_already_begun_only_the_rest_is_waited_for(day: int) -> None:
    """A supplier without order days starts at once, even on a day he is shut."""
    terms = Terms(stated_days=5, order_weekdays=frozenset(), closures=((START, START + timedelta(days=9)),))
    placed = START + timedelta(days=day)
    lead_time_quantile = lead_time_quantiles(500, np.random.default_rng(4))
    days = arrivals(learn([], terms, placed), placed, placed, terms, lead_time_quantile)
    open_ = arrivals(
        learn([], terms, placed), placed, placed, Terms(stated_days=5, order_weekdays=frozenset()), lead_time_quantile
    )
    np.testing.assert_allclose(days, open_ + 10 - day)
    over = START + timedelta(days=10)
    np.testing.assert_allclose(arrivals(learn([], terms, over), over, over, terms, lead_time_quantile), open_)


@pytest.mark.parametrize("stated", [1, 2, 5, 12])
def test_a_delivery_a_little_later_says_less_of_lateness_than_one_much_later(stated: int) -> None:
    """A parcel for tomorrow that comes the day after is hardly late: nothing is cut where lateness would begin."""
    prompt, little, much = (
        learn(delivered(*[stated] * 11, last), Terms(stated_days=stated), AS_OF)
        for last in (stated, stated + 1, 3 * stated + 15)
    )
    overdue = np.array([2.0 * stated + 7.0])
    none, some, more = (float(each.beyond(overdue)[0]) for each in (prompt, little, much))
    assert more > 2 * none
    assert some < none + 0.25 * (more - none)


@pytest.mark.parametrize(("usual", "spread"), [(6.0, 0.25), (12.0, 0.3), (8.0, 0.45)])
def test_a_wide_spread_is_not_taken_for_lateness(usual: float, spread: float) -> None:
    """Eighty deliveries as they are drawn: every chance of taking longer is believed as it is.

    What was longer than half as long again as the middle one used to be cut off, and the rest believed too short.
    """
    chance = (np.arange(80) + 0.5) / 80
    took = np.round(usual * np.exp(spread * np.array([NormalDist().inv_cdf(each) for each in chance])))
    belief = learn(delivered(*took.astype(int).tolist()), Terms(stated_days=usual), AS_OF)
    days = np.round(usual * np.array([0.8, 1.0, 1.2, 1.5, 1.8]))
    np.testing.assert_allclose(belief.beyond(days + 0.5), [(took > day).mean() for day in days], atol=0.035)


def test_two_speeds_are_told_apart() -> None:
    """Seven in ten come in two days, three by the weekly lorry, five days later: hardly any between."""
    belief = learn(delivered(*([2] * 7 + [7] * 3) * 4), Terms(stated_days=2), AS_OF)
    later = belief.beyond(np.array([3.5, 5.5, 7.5]))
    assert later[0] == pytest.approx(0.3, abs=0.06)
    assert later[0] - later[1] < 0.05
    assert later[2] < 0.1


def test_an_order_older_than_any_is_as_one_just_given_up() -> None:
    belief = learn(delivered(5, 6, 7), Terms(stated_days=5), AS_OF)
    fates = lead_time_quantiles(100, np.random.default_rng(6))
    np.testing.assert_allclose(belief.sample(fates, age=500.0) - 500.0, belief.sample(fates, age=LONGEST) - LONGEST)
    assert belief.sample(fates, age=LONGEST).max() <= 2 * LONGEST


def test_order_waits_for_his_order_day() -> None:
    tuesdays = Terms(stated_days=3, order_weekdays=frozenset({1}))
    assert worked_days(START, START + timedelta(days=4), tuesdays) == 3
    assert order_days(tuesdays, START, 20) == (1.0, 8.0, 15.0)


def test_age_of_an_open_order_moves_its_arrival() -> None:
    posterior, terms = learn(delivered(*[5] * 15), Terms(stated_days=5), AS_OF), Terms(stated_days=5)
    fresh = arrivals(posterior, AS_OF, AS_OF, terms, lead_time_quantiles(500, np.random.default_rng(2)))
    old = arrivals(
        posterior, AS_OF - timedelta(days=20), AS_OF, terms, lead_time_quantiles(500, np.random.default_rng(2))
    )
    assert (old >= 0).all()
    assert np.median(old) > np.median(fresh)


def test_arrivals_skip_his_closure() -> None:
    closed = (AS_OF + timedelta(days=2), AS_OF + timedelta(days=15))
    terms = Terms(stated_days=5, closures=(closed,))
    posterior = learn([], terms, AS_OF)
    days = arrivals(posterior, AS_OF, AS_OF, terms, lead_time_quantiles(500, np.random.default_rng(3)))
    assert not ((days > 2.5) & (days < 16)).any()
    assert np.median(days) == pytest.approx(19, abs=1)


def test_samples_follow_the_belief() -> None:
    posterior = learn(delivered(4, 5, 6, 5, 30), Terms(stated_days=5), AS_OF)
    days = posterior.sample(lead_time_quantiles(20_000, np.random.default_rng(4)))
    for limit in (4.0, 6.0, 12.0, 30.0):
        assert (days > limit).mean() == pytest.approx(float(posterior.beyond(np.array([limit]))[0]), abs=0.004)


def test_stated_days_must_be_positive() -> None:
    with pytest.raises(ValueError, match="stated days"):
        learn([], Terms(stated_days=0), AS_OF)


def test_orders_of_one_supplier_share_their_fate() -> None:
    terms = Terms(stated_days=5)
    posterior, lead_time_quantile = (
        learn(delivered(*[5] * 15), terms, AS_OF),
        lead_time_quantiles(500, np.random.default_rng(5)),
    )
    now, same_day, earlier = (
        arrivals(posterior, AS_OF - timedelta(days=days), AS_OF, terms, lead_time_quantile) for days in (0, 0, 3)
    )
    assert (now == same_day).all()
    assert (earlier <= now).all()  # and so they don't overtake each other


MONDAYS = frozenset({0})
HOLIDAY = START + timedelta(weeks=30)  # a Monday


def placed_on(day: date, took: int) -> PastOrder:
    return PastOrder(ordered=day, received=day + timedelta(days=took))


def test_an_order_that_a_holiday_put_off_by_a_day_took_as_long_as_any_other() -> None:
    """Counted from the next named weekday it took no time at all, and a supplier of four days seemed one of three."""
    usual = [placed_on(START + timedelta(weeks=n), 4) for n in range(20)]
    shut = Terms(stated_days=4, order_weekdays=MONDAYS, closures=((HOLIDAY, HOLIDAY),))
    tuesdays = [placed_on(HOLIDAY + timedelta(days=1), 4)] * 3
    assert learn([*usual, *tuesdays], shut, AS_OF).usual_days == pytest.approx(4.0, abs=0.1)


def test_a_supplier_who_delivers_before_his_order_day_starts_at_once() -> None:
    usual = [placed_on(START + timedelta(weeks=n), 4) for n in range(20)]
    tuesdays = [placed_on(START + timedelta(weeks=20 + n, days=1), 4) for n in range(3)]
    said = Terms(stated_days=4, order_weekdays=MONDAYS)
    assert learn([*usual, *tuesdays], said, AS_OF).usual_days == pytest.approx(4.0, abs=0.1)
    assert as_shown(said, tuesdays, AS_OF).at_once
    assert not as_shown(said, usual, AS_OF).at_once
    assert not as_shown(said, tuesdays, tuesdays[0].ordered + timedelta(days=3)).at_once, "nothing has come by then"


@pytest.mark.parametrize("who", ["closures", "away"])
def test_what_a_holiday_kept_from_going_out_goes_out_the_day_after(who: str) -> None:
    """Whether he was shut or the shop itself: an order for that day waits a day, not a week."""
    off = ((HOLIDAY, HOLIDAY),)
    shut = Terms(
        stated_days=4,
        order_weekdays=MONDAYS,
        closures=off if who == "closures" else (),
        away=off if who == "away" else (),
    )
    tuesday = HOLIDAY + timedelta(days=1)
    assert order_days(shut, tuesday, 14) == (0.0, 6.0, 13.0)
    assert starts(tuesday, shut) == tuesday
    assert starts(tuesday + timedelta(days=1), shut) == HOLIDAY + timedelta(weeks=1)
    assert worked_days(tuesday, tuesday + timedelta(days=4), shut) == 4


def test_a_holiday_on_a_day_he_takes_no_orders_changes_nothing() -> None:
    tuesday = HOLIDAY + timedelta(days=1)
    shut = Terms(stated_days=4, order_weekdays=MONDAYS, closures=((tuesday, tuesday),))
    assert order_days(shut, tuesday, 14) == (6.0, 13.0)
