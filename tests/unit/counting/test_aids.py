from decimal import Decimal
from fractions import Fraction
from types import ModuleType

import pytest

from stockroom.counting import aids as folder
from stockroom.counting.aid import Aid, Measured, by_eye, combine, doubt, within
from stockroom.counting.aids import aid, aids
from stockroom.errors import StockroomError, UnitsError, UnknownError, UsageError
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Dimension, Quantity, bridge, quantity, unit


def material(unit_name: str, extra: dict[str, str] | None = None, link: str = "") -> Material:
    return Material(
        code="X1",
        name="test",
        family="other",
        unit=unit(unit_name),
        extra=extra or {},
        bridge=bridge(link) if link else None,
    )


GLUE = material("l", {"tare": "120", "container": "1 l"}, "1 l = 860 g")
SHEET = material("dm2", {"sheet": "60 dm2", "width": "900 mm"})
NAILS = material("piece")
THREAD = material("m", {"tare": "25 g", "metres_per_gram": "12.5"})
LACE = material("m", {"core": "60"})


def measure(name: str, of: Material, **answers: str) -> Measured:
    return aid(name).measure(answers, of)


def base(measured: Measured) -> tuple[float, float]:
    return measured.amount.nano / 1e9, measured.error.nano / 1e9


def test_tin_weighs_its_contents_and_the_density_turns_grams_into_millilitres() -> None:
    amount, error = base(measure("tin-weight", GLUE, gross="550"))
    assert amount == 500
    # two weighings within 1 g each (0.816 g), 0.86 g/ml, and 1 % of 500 ml for the density
    assert error == pytest.approx(combine(0.816496581 / 0.86, 5.0), rel=1e-6)


def test_tin_kept_in_grams_needs_no_density() -> None:
    amount, error = base(measure("tin-weight", material("kg"), gross="1.2 kg", tare="200"))
    assert (amount, round(error, 6)) == (1000, 0.816497)


def test_coarser_scale_is_less_sure() -> None:
    fine = measure("tin-weight", GLUE, gross="550", step="1")
    coarse = measure("tin-weight", GLUE, gross="550", step="20")
    assert fine.amount == coarse.amount
    assert coarse.error.nano > fine.error.nano


def test_a_hair_below_the_empty_weight_is_empty_but_more_is_refused() -> None:
    assert measure("tin-weight", GLUE, gross="119").amount.nano == 0
    with pytest.raises(UsageError, match="less than the 120 g the container weighs empty") as caught:
        measure("tin-weight", GLUE, gross="80")
    assert "correct the weight of the empty container" in caught.value.fix


def test_tenths_of_a_tin() -> None:
    amount, error = base(measure("tin-tenths", GLUE, tenths="4"))
    assert amount == 400
    assert error == pytest.approx(100 / 6**0.5)


def test_sealed_and_open_tins_add_up() -> None:
    amount, error = base(measure("sealed-open", GLUE, sealed="3", tenths="5"))
    assert amount == 3500
    assert error == pytest.approx(combine(10 * 3**0.5, 100 / 6**0.5))


def test_nothing_open_leaves_only_the_fill_in_doubt() -> None:
    assert base(measure("sealed-open", GLUE, sealed="4")) == (4000, 20)


def test_thread_by_weight() -> None:
    amount, error = base(measure("thread-weight", THREAD, gross="125"))
    assert amount == 1250
    assert error == pytest.approx(combine(0.816496581 * 12.5, 25), rel=1e-6)


def test_roll_by_diameters() -> None:
    # a turn of 2 mm between 60 mm and 200 mm: pi (0.2^2 - 0.06^2) / (4 x 0.002) m
    amount, _ = base(measure("roll", LACE, outer="200", thickness="2"))
    assert amount == pytest.approx(14.294246574, rel=1e-9)


def test_roll_kept_by_area_takes_its_width() -> None:
    length, length_error = base(measure("roll", material("m"), outer="200", core="50", thickness="1.2"))
    area, area_error = base(measure("roll", SHEET, outer="200", core="50", thickness="1.2"))
    assert (area, area_error) == pytest.approx((length * 90, length_error * 90))


def test_roll_narrower_than_its_core_is_refused() -> None:
    with pytest.raises(UsageError, match=r"roll \(50 mm\) can't be narrower than its core \(60 mm\)"):
        measure("roll", LACE, outer="50", thickness="2")


def test_nails_by_a_weighed_sample_come_whole() -> None:
    amount, error = base(measure("sample-weight", NAILS, gross="512", tare="12", pieces="50", sample="24.9"))
    assert amount == 1004
    assert 20 < error < 30


def test_sample_too_light_for_the_scale_is_refused() -> None:
    with pytest.raises(UsageError, match="too light for a scale that steps by 1 g"):
        measure("sample-weight", NAILS, gross="512", tare="12", pieces="5", sample="2")


def test_remainders_by_rectangles() -> None:
    amount, error = base(measure("rectangles", SHEET, pieces="30 x 40, 2 x 10 x 20", usable="75"))
    assert amount == 12
    assert error == pytest.approx(0.05 / 3**0.5 * (3**2 + 4**2 + 2 * (1 + 2**2)) ** 0.5 * 0.75)


@pytest.mark.parametrize("text", ["30", "30 x 40 x 50 x 2", "a x b", "30 x -4"])
def test_what_is_no_rectangle_is_refused(text: str) -> None:
    with pytest.raises(StockroomError):
        measure("rectangles", SHEET, pieces=text)


def test_too_many_rectangles_are_a_slip() -> None:
    with pytest.raises(UsageError, match="More than 200 pieces"):
        measure("rectangles", SHEET, pieces="99999 x 10 x 10")


def test_more_than_all_of_a_piece_is_refused() -> None:
    with pytest.raises(UsageError, match="100 %"):
        measure("rectangles", SHEET, pieces="10 x 10", usable="150")


def test_sheets_and_part_of_one() -> None:
    assert base(measure("sheet-fraction", SHEET, whole="1", left="30")) == pytest.approx((78, 6 / 6**0.5))
    assert base(measure("sheet-fraction", SHEET, whole="2")) == (120, 0)


def test_sheet_of_no_area_and_more_than_one_open_are_refused() -> None:
    with pytest.raises(UsageError, match="A full sheet is an area"):
        measure("sheet-fraction", SHEET, whole="1", full="2 kg")
    with pytest.raises(UsageError, match="More than 100 % is left of the open sheet"):
        measure("sheet-fraction", SHEET, whole="1", left="130")


def test_pairs_and_odd_ones() -> None:
    assert base(measure("pairs", NAILS, pairs="3", odd="1")) == (7, 0)
    assert base(measure("pairs", NAILS, pairs="65"))[1] == 1
    with pytest.raises(UsageError, match="whole number"):
        measure("pairs", NAILS, pairs="2.5")


@pytest.mark.parametrize(
    ("text", "of", "amount", "error"),
    [
        ("2.5", GLUE, 2500, 50 / 3**0.5),
        ("2,5", GLUE, 2500, 50 / 3**0.5),
        ("250 ml", GLUE, 250, 0.5 / 3**0.5),
        ("7", NAILS, 7, 0),
        ("3 pairs", NAILS, 6, 0),
        ("0", SHEET, 0, 0.5 / 3**0.5),
        ("0,125 l", GLUE, 125, 0.5 / 3**0.5),
    ],
)
def test_plain_amount_is_as_sure_as_its_last_digit(text: str, of: Material, amount: float, error: float) -> None:
    assert base(measure("plain", of, amount=text)) == pytest.approx((amount, error))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,500", "can be read in two ways"),
        ("1,500 ml", "can be read in two ways"),
        ("1,500.5", "can be read in two ways"),
        ("1,500,000 g", "can be read in two ways"),
        ("-3", "below zero"),
        ("3 kgg", "No unit is called 'kgg'"),
        ("nan", "No unit is called 'nan'"),
        ("3 m", "not in length"),
        ("1e9", "No unit is called"),
        ("9" * 30, "not an amount"),
        ("", "missing the amount"),
    ],
)
def test_unreadable_amounts_are_refused_in_plain_words(text: str, says: str) -> None:
    with pytest.raises(StockroomError, match=says):
        measure("plain", GLUE, amount=text)


def test_wrong_kind_of_unit_is_named() -> None:
    with pytest.raises(UnitsError, match="is length, not mass") as caught:
        measure("tin-weight", GLUE, gross="3 m")
    assert "such as g" in caught.value.fix


def test_weight_says_nothing_about_a_material_without_a_bridge() -> None:
    with pytest.raises(UnitsError, match="not in mass"):
        measure("tin-weight", material("m"), gross="300", tare="10")


def test_missing_fact_says_where_it_could_be_kept() -> None:
    with pytest.raises(UsageError, match="X1: missing the weight of the empty tin") as caught:
        measure("tin-weight", material("g"), gross="300")
    assert "'tare'" in caught.value.fix


def test_answer_nobody_asked_for_is_refused() -> None:
    with pytest.raises(UsageError, match="doesn't ask for 'grams'"):
        measure("tin-weight", GLUE, grams="300")


def test_zero_where_it_makes_nonsense_is_refused() -> None:
    with pytest.raises(UsageError, match="thickness can't be zero"):
        measure("roll", LACE, outer="200", thickness="0")
    with pytest.raises(UsageError, match="can't hold nothing"):
        measure("tin-tenths", GLUE, tenths="3", full="0 l")
    with pytest.raises(UsageError, match="'lots' for how many tenths"):
        measure("tin-tenths", GLUE, tenths="lots")
    with pytest.raises(UsageError, match="11 tenths is more than 1 full"):
        measure("tin-tenths", GLUE, tenths="11")


def test_more_than_the_book_can_hold_is_refused() -> None:
    with pytest.raises(UsageError, match="larger than the book can hold"):
        measure("plain", material("kg"), amount="999999999999")


def test_numbers_may_come_as_numbers() -> None:
    assert aid("pairs").measure({"pairs": 3, "odd": Decimal(1)}, NAILS).amount.nano == 7 * 10**9


def test_an_absurd_amount_is_asked_about() -> None:
    found = measure("plain", GLUE, amount="200")
    assert doubt(found, quantity("1 l")) == "200000 ml is 200 times the usual 1000 ml. Is the unit right?"
    assert doubt(found, quantity("3 l")) == ""
    assert doubt(found, Quantity(nano=0, dimension=Dimension.VOLUME)) == ""


def test_every_aid_is_found_by_name_and_explains_its_error() -> None:
    found = aids()
    assert set(found) == {
        "pairs", "plain", "rectangles", "roll", "sample-weight", "sealed-open", "sheet-fraction", "thread-weight",
        "tin-tenths", "tin-weight",
    }  # fmt: skip
    for name, each in found.items():
        assert each.name == name
        assert each.error_rule
        assert len({ask.name for ask in each.asks}) == len(each.asks)


def test_unknown_aid_suggests_the_nearest() -> None:
    with pytest.raises(UnknownError, match="No counting method is called 'tin-wieght'") as caught:
        aid("tin-wieght")
    assert caught.value.fix == "Did you mean 'tin-weight'?"


def test_two_aids_of_one_name_are_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    twin = ModuleType("twin")
    twin.AID = aid("plain")  # type: ignore[attr-defined]
    monkeypatch.setattr(folder, "import_module", lambda _: twin)
    with pytest.raises(ValueError, match="two counting aids are called 'plain'"):
        aids()


def test_errors_follow_their_distributions() -> None:
    assert (within(1.0), by_eye(1.0)) == pytest.approx((1 / 3**0.5, 1 / 6**0.5))
    assert combine(3, 4) == 5


def test_amounts_are_exact() -> None:
    found = measure("thread-weight", material("m"), gross="0.3", tare="0.1", metres_per_gram="0.1", step="0.01")
    assert Fraction(found.amount.nano, 10**9) == Fraction(2, 100)


def test_aids_are_frozen() -> None:
    assert isinstance(aid("plain"), Aid)
    with pytest.raises(AttributeError):
        aid("plain").name = "other"  # type: ignore[misc]
