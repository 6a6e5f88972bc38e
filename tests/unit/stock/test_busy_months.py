"""When work is busy, in words."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.errors import UsageError
from stockroom.stock.busy_months import STEADY, busy_months, trade_months
from stockroom.stock.shop import Shop, with_setting

NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def test_busy_months_bring_more_and_quiet_ones_less_of_the_same_year() -> None:
    year = busy_months("busy Oct-Dec; quiet Jun-Aug")
    assert sum(year) == pytest.approx(12)
    assert [n for n, factor in enumerate(year) if factor > 1.2] == [9, 10, 11]
    assert [n for n, factor in enumerate(year) if factor < 0.8] == [5, 6, 7]


@pytest.mark.parametrize(
    ("words", "same"),
    [
        ("busy from October to December", "busy Oct-Dec"),
        ("viel Okt-Dez; wenig Jun - Aug", "busy Oct, Nov and Dec; quiet Jun-Aug"),
        ("150% Oct-Dec", "busy Oct-Dec"),
        ("shut in August", "0% Aug."),
        ("quiet Nov-Feb", "quiet Nov, Dec, Jan, Feb"),
        ("steady", ""),
    ],
)
def test_the_same_said_otherwise(words: str, same: str) -> None:
    assert busy_months(words) == busy_months(same)


@pytest.mark.parametrize("words", ["Oct-Dec", "busy Octember", "busy 12", "very May", "quiet -", "busy Jun-"])
def test_what_says_neither_how_nor_when_is_refused_with_an_example(words: str) -> None:
    with pytest.raises(UsageError) as refused:
        busy_months(words)
    assert "busy Oct-Dec" in refused.value.fix
    with pytest.raises(UsageError):
        with_setting(Shop(), "season", words)


@settings(max_examples=40)
@given(st.dictionaries(st.sampled_from(NAMES), st.integers(0, 400)))
def test_every_year_comes_to_twelve_usual_months_in_the_proportions_said(said: dict[str, int]) -> None:
    year = busy_months("; ".join(f"{share}% {name}" for name, share in said.items()))
    assert sum(year) == pytest.approx(12)
    assert min(year) > 0
    plain = [max(said.get(name, 100) / 100, 0.02) for name in NAMES]
    assert year == pytest.approx([each * 12 / sum(plain) for each in plain])


def test_the_trade_tells_of_what_it_knows_and_of_nothing_else() -> None:
    assert trade_months("boots", "Walking boots resoled")[9] > 1
    assert trade_months("Sandalen")[5] > trade_months("Sandalen")[0]
    assert trade_months("bags", "Belt holes") == STEADY
