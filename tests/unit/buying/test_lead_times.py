from datetime import date, timedelta

import numpy as np
import pytest

from stockroom.buying.lead_times import (
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
    assert with_open.late_chance > without.late_chance
    assert quantile(with_open, 0.97) > quantile(without, 0.97)


def test_later_delivery_is_not_known_yet() -> None:
    late = [PastOrder(ordered=START, received=START + timedelta(days=60))]
    still = [PastOrder(ordered=START, received=None)]
    day = START + timedelta(days=20)
    assert learn(late, Terms(stated_days=5), day) == learn(still, Terms(stated_days=5), day)


def test_part_deliveries_carry_their_share() -> None:
    halves = [
        PastOrder(ordered=START, received=START + timedelta(days=5), share=0.5),
        PastOrder(ordered=START, received=START + timedelta(days=7), share=0.5),
    ]
    assert learn(halves, Terms(stated_days=5), AS_OF).deliveries == 1.0


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


@pytest.mark.parametrize(("stated", "late_after"), [(1, 3.0), (2, 4.0), (4, 6.0), (5, 7.5), (10, 15.0)])
def test_a_short_lead_is_late_by_days_and_a_long_one_by_its_half(stated: int, late_after: float) -> None:
    """Half as long again of a day is no lateness: a parcel for tomorrow that comes the day after is not overdue."""
    assert learn(delivered(*[stated] * 9), Terms(stated_days=stated), AS_OF).late_after == late_after


def test_the_day_after_tomorrow_is_not_late_for_a_parcel_due_tomorrow() -> None:
    prompt = learn(delivered(*[1] * 12), Terms(stated_days=1), AS_OF)
    slower = learn(delivered(*[1] * 11, 3), Terms(stated_days=1), AS_OF)
    late = learn(delivered(*[1] * 11, 4), Terms(stated_days=1), AS_OF)
    assert slower.late_chance == prompt.late_chance < late.late_chance


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
    assert learn([*usual, *tuesdays], shut, AS_OF).usual_days == pytest.approx(4.0)


def test_a_supplier_who_delivers_before_his_order_day_starts_at_once() -> None:
    usual = [placed_on(START + timedelta(weeks=n), 4) for n in range(20)]
    tuesdays = [placed_on(START + timedelta(weeks=20 + n, days=1), 4) for n in range(3)]
    said = Terms(stated_days=4, order_weekdays=MONDAYS)
    assert learn([*usual, *tuesdays], said, AS_OF).usual_days == pytest.approx(4.0)
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
