"""Cut or buy: a sheet material against the pre-cut parts that serve the same jobs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from operator import attrgetter

from stockroom.errors import RefusedError
from stockroom.flows.book.terms import terms_of
from stockroom.flows.learning.yields import GAP, YEAR, CutLine, outline_for, sheet_lines, sheet_yield
from stockroom.margins.alerts import offered_costs
from stockroom.margins.cutting import (
    CutOrBuy,
    Cutting,
    CuttingSheet,
    Rival,
    bought_pair,
    cut_or_buy,
    pre_cut_names,
    sheet_layout,
    twice_as_long,
)
from stockroom.margins.sole_layout import Outline, Plate
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, half_up
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer, current
from stockroom.stock.typed import material_meant
from stockroom.store import catalogue, tickets
from stockroom.store.book import Book

_MINUTES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingWish:
    """What the owner says of the sheet; what is not said is read from the book."""

    plate: tuple[float, float] | None = None  # width and length in mm; None: twice as long as wide
    share: Fraction | None = None  # yield to reckon with; None: the one learnt
    minutes: int = 0  # of bench time to cut a pair
    gap: float = GAP  # mm between pieces


def compare_cutting(book: Book, typed: str, day: date, wish: CuttingWish | None = None) -> CutOrBuy:
    """Compare cutting from a sheet with buying pre-cut, at the offers of a day and the sizes of the year before.

    Raises
    ------
    RefusedError
        If no recipe cuts it by the size of the shoe, or nobody offers it.
    """
    wish = wish or CuttingWish()
    with book.reading() as session:
        shop = catalogue.read_shop(session)
        materials = {m.code: m for m in catalogue.read_materials(session)}
        material = material_meant(typed, materials)
        offers = current(catalogue.read_offers(session, catalogue.dimensions(session)), day)
        terms = terms_of(session)
        done = tickets.read_tickets(session, worked=(day - YEAR, day))
        lines = sheet_lines(material, catalogue.read_recipes(session), done, day)
        if not lines:
            raise RefusedError(
                phrase("No recipe cuts %(material)s by the size of the shoe.", material=material.code),
                fix="Name a sheet that a recipe draws by area, such as a bend.",
            )
        offer = _sheet_offer(material, offers)
        plate = twice_as_long(offer.pack.nano, wish.gap)
        if wish.plate:
            plate = Plate(width=wish.plate[0], length=wish.plate[1], gap=wish.gap)
        learnt = sheet_yield(session, material, lines, offer.pack.nano, plate)
        outlines = {line.recipe.job: outline_for(session, line.recipe.job) for line in lines}
    cost = half_up(offer.cost(1) * MILLI * terms.borne(offer, day))
    sheet = CuttingSheet(area=offer.pack.nano, cost=cost, cutting=_bench(shop, wish.minutes))
    costs = offered_costs(offers, day, terms)
    share = wish.share or learnt.exact
    jobs = tuple(_cutting(line, (materials, costs), sheet, share, (plate, outlines[line.recipe.job])) for line in lines)
    return CutOrBuy(
        material=material,
        sheet=sheet,
        pack=offer.pack_name or str(offer.pack),
        learnt=learnt,
        share=share,
        jobs=jobs,
    )


def sheets_cut(book: Book, day: date) -> list[Material]:
    """List the materials that a recipe in force cuts by the size of the shoe, by name."""
    with book.reading() as session:
        recipes = catalogue.read_recipes(session)
        found = [m for m in catalogue.read_materials(session) if sheet_lines(m, recipes, (), day)]
    return sorted(found, key=attrgetter("name"))


def _sheet_offer(material: Material, offers: Iterable[Offer]) -> Offer:
    mine = [offer for offer in offers if offer.material == material.code and offer.pack.nano > 0]
    if not mine:
        raise RefusedError(
            phrase("No supplier offers %(material)s.", material=material.code), fix="Load an offer for it first."
        )
    return min(mine, key=lambda offer: Fraction(offer.cost(1), offer.pack.nano))


def _bench(shop: Shop, minutes: int) -> int:
    rate = Fraction(shop.bench_hour_rate) * 10**shop.currency_digits * MILLI
    return half_up(rate * minutes / _MINUTES)


def _cutting(
    cut: CutLine,
    known: tuple[Mapping[str, Material], Mapping[str, Fraction]],
    sheet: CuttingSheet,
    share: Fraction,
    lay: tuple[Plate, Outline],
) -> Cutting:
    materials, costs = known
    rivals = [
        Rival(
            material=name,
            choices=tuple(
                cut_or_buy(
                    cut.pattern, sheet, {s: bought_pair(name, s, materials, costs) for s in cut.sizes}, share=share
                )
            ),
        )
        for name in pre_cut_names(cut.line, cut.recipe, materials)
    ]
    usual = cut.usual
    return Cutting(
        job=cut.recipe.job,
        line=cut.line.name,
        recipe_share=1 / (1 + cut.line.waste / 100),
        rivals=tuple(rivals),
        layout=sheet_layout(cut.pattern, usual, *lay) if usual else None,
        layout_size=usual,
    )
