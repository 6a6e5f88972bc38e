from stockroom.stock.landing import line_weights
from stockroom.stock.orders import DeliveryLine
from tests import build

MATERIALS = {m.code: m for m in build.materials()}


def line(code: str, amount: str) -> DeliveryLine:
    return DeliveryLine(material=code, amount=build.amount(amount), cost=1000)


def test_weights_come_from_the_amount_or_over_the_materials_bridge() -> None:
    weighed = line_weights([line("FILLER", "2 kg"), line("CEMENT", "5 l")], MATERIALS, by="weight")
    assert weighed == [build.nano("2 kg"), build.nano("4300 g")]  # 1 l = 860 g


def test_one_line_of_unknown_weight_leaves_it_to_the_cost() -> None:
    assert line_weights([line("FILLER", "2 kg"), line("TIP", "10 pair")], MATERIALS, by="weight") is None
    assert line_weights([line("FILLER", "2 kg")], MATERIALS, by="value") is None
