from dataclasses import dataclass, replace

import numpy as np
import pytest

from stockroom.buying.ask import Ask
from stockroom.buying.basket import basket
from stockroom.buying.reasons import Reason, compare, reasons, sentence
from tests.unit.buying.asks import small_ask, stocked


@dataclass(frozen=True)
class PlainWords:
    def money(self, value: float) -> str:
        return f"{value:.2f}"

    def day(self, days: float) -> str:
        return f"day {days:.0f}"

    def share(self, value: float) -> str:
        return f"{100 * value:.0f} %"

    def packs(self, offer: int, packs: int) -> str:
        return f"{packs} x offer {offer}"


def given(ask: Ask) -> tuple[Reason, ...]:
    return reasons(ask, basket(ask))


def test_every_line_has_its_reason() -> None:
    ask = stocked(small_ask(), 0.5)
    found = basket(ask)
    assert [each.line for each in reasons(ask, found)] == list(found.lines)


def test_reason_says_what_is_risked_without_the_line() -> None:
    for each in given(stocked(small_ask(), 0.3)):
        assert each.chance_without > 0.5
        assert each.chance_with < each.chance_without
        assert each.saves > 10
        assert each.runs_out < 14
        assert each.lasts_until > each.next_day


def test_sentence_names_day_chance_money_and_the_other_offer() -> None:
    ask = stocked(small_ask(), 0.3)
    reason = next(each for each in given(ask) if each.line.item == 0)
    said = sentence(reason, PlainWords(), ask)
    assert said.startswith("Runs out around day ")
    assert "chance of running short before the next one arrives" in said
    assert "in held-up work and lost sales" in said
    assert reason.other is not None
    assert "would cost" in said


def test_line_bought_ahead_says_so() -> None:
    ask = stocked(small_ask(2, n_suppliers=1), 0.0)
    plain = basket(replace(ask, suppliers=(replace(ask.suppliers[0], free_over=None),)))
    ask = replace(ask, suppliers=(replace(ask.suppliers[0], free_over=plain.value * 1.05),))
    ahead = [each for each in given(ask) if each.bought_ahead]
    assert ahead
    assert sentence(ahead[0], PlainWords(), ask).startswith("Bought ahead: ")
    assert ahead[0].free_carriage == pytest.approx(ask.suppliers[0].carriage)


def test_dearer_offer_is_dearer_in_all() -> None:
    ask = stocked(small_ask(), 0.3)
    reason = next(each for each in given(ask) if each.line.item == 0)
    assert reason.other is not None
    assert reason.other.offer != reason.line.offer
    assert np.isfinite(reason.other.dearer)


def test_basket_beats_nothing_and_own_levels() -> None:
    for seed in range(4):
        ask = stocked(small_ask(seed), 0.5)
        told = compare(ask, basket(ask))
        assert told.over_nothing > 0
        assert told.over_own_levels >= -0.02  # the search proves to within a cent a group


def test_comparison_with_full_shelves_is_nil() -> None:
    ask = stocked(small_ask(), 40.0)
    told = compare(ask, basket(ask))
    assert told.over_nothing == pytest.approx(0.0, abs=1e-9)
    assert told.value == 0
