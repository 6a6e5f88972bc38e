"""Short ways to write the invented shop's materials."""

from typing import Any

from stockroom.stock.materials import Material, Purpose
from stockroom.stock.quantities import bridge as read_bridge
from stockroom.stock.quantities import unit as read_unit
from stockroom.stock.shoe_sizes import shoe_size

SHEET = "Check the safety data sheet; follow local rules."


def tag(code: str, name: str, *, unit: str, bridge: str = "", **more: Any) -> Material:  # noqa: ANN401 -- passed on
    """Make a material from plain texts."""
    return Material(code=code, name=name, unit=read_unit(unit), bridge=read_bridge(bridge) if bridge else None, **more)


def sold(code: str, name: str, *, price: int, **more: Any) -> Material:  # noqa: ANN401 -- passed on
    """Make a material for the counter, with its price in cents."""
    return tag(code, name, sell_price=price, **{"purpose": Purpose.COUNTER, "unit": "piece"} | more)


def run(code: str, name: str, *, sizes: str, **more: Any) -> tuple[Material, ...]:  # noqa: ANN401 -- passed on
    """Make a size run: one material per stretch of EU sizes, such as '36-38 39-41'."""
    return tuple(
        tag(
            f"{code}-{low}",
            f"{name}, EU {low} to {high}",
            unit="pair",
            group=code,
            size_from=shoe_size(f"EU {low}"),
            size_to=shoe_size(f"EU {high}"),
            **more,
        )
        for low, high in (stretch.split("-") for stretch in sizes.split())
    )
