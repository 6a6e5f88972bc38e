"""What delivered goods cost on the shelf: carriage and duties spread, and tax where the shop can't take it back."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from stockroom.stock.materials import Material
from stockroom.stock.moves import Document
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.postings import Stamp, delivered
from stockroom.stock.quantities import Dimension
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer, Supplier, current
from stockroom.stock.tax import TaxRules, from_net, per_cent


@dataclass(frozen=True, slots=True, kw_only=True)
class LandingTerms:
    """What deliveries are costed by: the shop's rules, and what suppliers ask for."""

    shop: Shop
    materials: Mapping[str, Material]
    rules: TaxRules
    offers: Sequence[Offer] = ()
    suppliers: Mapping[str, Supplier] | None = None

    def borne(self, offer: Offer, day: date) -> Fraction:
        """Give what an offer's price is multiplied by to be what it costs: 1, or with the tax the shop bears."""
        stated = offer.tax_rate or self._own(offer.supplier)
        return self._factor(stated, offer.material, day)

    def borne_on_carriage(self, supplier: str, day: date) -> Fraction:
        """Give the same for a supplier's carriage."""
        return self._factor(self._own(supplier), "", day)

    def tax_on_order(self, supplier: str, lines: Iterable[tuple[str, str, int]], carriage: int, day: date) -> int:
        """Give the tax that an order's goods and carriage will bear, where the shop can't take it back.

        Each line is its material, the supplier's code and its cost ex tax; the sum is in minor units, as receiving the
        order unchanged would book it.
        """
        if self.rules.registered:
            return 0
        offers = current((offer for offer in self.offers if offer.supplier == supplier), day)
        own = self._own(supplier)
        stated = [(_offered(material, code, offers) or own, material, net) for material, code, net in lines]
        return sum(
            from_net(net, per_cent(rate) if rate else self.rules.rate(item, day)).tax
            for rate, item, net in (*stated, (own, "", carriage))
        )

    def _own(self, supplier: str) -> str:
        found = (self.suppliers or {}).get(supplier)
        return found.tax_rate if found else ""

    def _factor(self, stated: str, item: str, day: date) -> Fraction:
        if self.rules.registered:
            return Fraction(1)
        return 1 + Fraction(per_cent(stated) if stated else self.rules.rate(item, day)) / 100


def taken_in(goods: Delivery, stamp: Stamp, terms: LandingTerms) -> Document:
    """Take goods in at what they cost, with the right to send them back that they were ordered with.

    Notes
    -----
    The tax rate of a line is what was typed, else the offer's, else the supplier's, else the material's, else the
    shop's; that of carriage what was typed, else the supplier's, else the shop's. Tax that the shop can't take back is
    part of the cost (IAS 2.11; FRS 102 section 13); duties carry none here.
    """
    rated = with_returns(with_rates(goods, terms), terms)
    weights = line_weights(rated.lines, terms.materials, by=terms.shop.carriage_by)
    return delivered(rated, terms.materials, stamp, weights, unrecovered(rated, terms.rules))


def with_rates(goods: Delivery, terms: LandingTerms) -> Delivery:
    """Fill in the tax rates that offers and supplier state; what none states is the material's or the shop's."""
    supplier = (terms.suppliers or {}).get(goods.supplier)
    own = supplier.tax_rate if supplier else ""
    offers = current((o for o in terms.offers if o.supplier == goods.supplier), goods.received.date())
    lines = tuple(
        replace(line, tax_rate=line.tax_rate or _offered(line.material, line.supplier_code, offers) or own)
        for line in goods.lines
    )
    return replace(goods, lines=lines, carriage_tax_rate=goods.carriage_tax_rate or own)


def with_returns(goods: Delivery, terms: LandingTerms) -> Delivery:
    """Say until when goods may go back, by the offer of the day on which they were ordered."""
    came = goods.received.date()
    offers = current((o for o in terms.offers if o.supplier == goods.supplier), goods.ordered or came)
    return replace(goods, lines=tuple(_returnable(line, offers, came) for line in goods.lines))


def _returnable(line: DeliveryLine, offers: Sequence[Offer], came: date) -> DeliveryLine:
    """Fill in a line's right to go back: that of its offer; where its code doesn't say which, of the only one."""
    mine = [offer for offer in offers if offer.material == line.material]
    named = [offer for offer in mine if line.supplier_code and offer.supplier_code == line.supplier_code] or mine
    last = named[0].returnable_until(came) if len(named) == 1 else None
    if last is None:
        return line
    return replace(line, back_until=last, back_pack=named[0].pack.nano, on_approval=named[0].on_approval)


def unrecovered(goods: Delivery, rules: TaxRules) -> tuple[list[int], int]:
    """Give the tax on each line and on carriage that the shop bears itself, in minor units."""
    if rules.registered:
        return [0] * len(goods.lines), 0
    day = goods.received.date()
    lines = [(line.cost, line.tax_rate, line.material) for line in goods.lines]
    taxes = [
        from_net(net, per_cent(stated) if stated else rules.rate(item, day)).tax
        for net, stated, item in (*lines, (goods.carriage, goods.carriage_tax_rate, ""))
    ]
    return taxes[:-1], taxes[-1]


def line_weights(lines: Sequence[DeliveryLine], materials: Mapping[str, Material], *, by: str) -> list[int] | None:
    """Weigh a delivery's lines, in billionths of a gram; None where cost decides.

    By weight only where every line's weight is known, from its amount or over its material's bridge: a weight that
    is guessed for one line would shift the cost of all others.
    """
    if by != "weight":
        return None
    weighed = [_weight(line, materials[line.material]) for line in lines]
    known = [weight for weight in weighed if weight is not None]
    return known if len(known) == len(weighed) and any(known) else None


def _offered(material: str, supplier_code: str, offers: Sequence[Offer]) -> str:
    """Give the rate of the offer a line came by; where its code doesn't say which, the one all of them state."""
    mine = [offer for offer in offers if offer.material == material]
    named = [offer for offer in mine if supplier_code and offer.supplier_code == supplier_code]
    stated = {offer.tax_rate for offer in named or mine}
    return stated.pop() if len(stated) == 1 else ""


def _weight(line: DeliveryLine, material: Material) -> int | None:
    amount = material.to_base(line.amount)
    if amount.dimension is Dimension.MASS:
        return amount.nano
    carried = material.bridge.carry(amount, Dimension.MASS) if material.bridge else None
    return carried.nano if carried else None
