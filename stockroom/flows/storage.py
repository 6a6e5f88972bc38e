"""What is to be minded on the premises: hazards by material, and the flammable litres against the shop's own limit."""

from dataclasses import dataclass
from decimal import Decimal

from stockroom.stock.lists import cautions
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book

_LITRE = Decimal(1000)  # millilitres


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage:
    """What is stored that needs care."""

    careful: tuple[tuple[Material, tuple[str, ...], int], ...]  # with its cautions and what is there, nano
    litres: Decimal  # of flammable stock, as far as it can be told
    unknown: tuple[Material, ...]  # flammable, but no one knows how many litres
    limit: Decimal

    @property
    def over(self) -> bool:
        """Say whether more is there than the shop allows itself."""
        return self.litres > self.limit


def storage(book: Book) -> Storage:
    """Gather what needs care."""
    with book.reading() as session:
        materials = [m for m in catalogue.read_materials(session) if m.active]
        on_hand = ledger.balances(session)
        limit = catalogue.read_shop(session).flammable_limit_l
    careful = tuple((m, cautions(m), on_hand.get(m.code, 0)) for m in materials if cautions(m))
    there = [m for m in materials if m.flammable and on_hand.get(m.code, 0) > 0]
    known = {m.code: _litres(m, on_hand[m.code]) for m in there}
    return Storage(
        careful=careful,
        litres=sum((litres for litres in known.values() if litres is not None), Decimal(0)),
        unknown=tuple(m for m in there if known[m.code] is None),
        limit=limit,
    )


def _litres(material: Material, nano: int) -> Decimal | None:
    amount = material.dimension.base.of(Decimal(nano) / NANO)
    if material.dimension is not Dimension.VOLUME:
        carried = material.bridge.carry(amount, Dimension.VOLUME) if material.bridge else None
        if carried is None:
            return None
        amount = carried
    return amount.base_amount / _LITRE
