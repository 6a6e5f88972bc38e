"""Cut or buy: a sheet material against the pre-cut parts that serve the same jobs."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import sqrt
from operator import attrgetter

from stockroom.errors import RefusedError
from stockroom.flows.accounts.margins import YEAR
from stockroom.flows.accounts.period import gather
from stockroom.flows.book.terms import terms_of
from stockroom.margins.accounts import Sources, costs_of
from stockroom.margins.alerts import offered_costs
from stockroom.margins.cutting import CutOrBuy, Cutting, CuttingSheet, Pattern, Rival, cut_or_buy, own_yield
from stockroom.margins.period import Period
from stockroom.margins.sole_layout import Plate, SheetLayout, lay_out, sole_area
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, half_up
from stockroom.stock.quantities import NANO, Dimension, unit
from stockroom.stock.recipes import Per, Recipe, RecipeLine, Sizing, in_force
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.suppliers import Offer, current
from stockroom.stock.tickets import by_job
from stockroom.stock.typed import material_meant
from stockroom.store import catalogue
from stockroom.store.book import Book, Session

MM2 = 10_000  # in a square decimetre
_MOST_SIZES = 12
_MINUTES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingWish:
    """What the owner says of the sheet; what is not said is read from the book."""

    plate: tuple[float, float] | None = None  # width and length in mm; None: twice as long as wide
    share: Fraction | None = None  # yield to reckon with; None: the shop's own, else the recipe's
    minutes: int = 0  # of bench time to cut a pair
    gap: float = 3.0  # mm between pieces


@dataclass(frozen=True, slots=True)
class _Cut:
    recipe: Recipe
    line: RecipeLine

    @property
    def pattern(self) -> Pattern:
        pairs = 2 if self.line.per is Per.SHOE else 1
        return Pattern(pair_area=self.line.amount.nano * pairs, reference=self.recipe.reference)


def compare_cutting(book: Book, typed: str, day: date, wish: CuttingWish | None = None) -> CutOrBuy:
    """Compare cutting from a sheet with buying pre-cut, at the offers of a day and the sizes of the year before."""
    wish = wish or CuttingWish()
    with book.reading() as session:
        year = Period(first=day - YEAR, last=day)
        sources, _ = gather(session, year)
        offers = current(catalogue.read_offers(session, catalogue.dimensions(session)), day)
        terms = terms_of(session)
        newest = _newest(session, day)
    material = material_meant(typed, sources.materials)
    cuts = _cuts(material, newest)
    offer = _sheet_offer(material, offers)
    cost = half_up(offer.cost(1) * MILLI * terms.borne(offer, day))
    sheet = CuttingSheet(area=offer.pack.nano, cost=cost, cutting=_bench(sources, wish.minutes))
    costs = offered_costs(offers, day, terms)
    patterns = {cut.recipe.job: cut.pattern for cut in cuts}
    measured = own_yield(costs_of(sources).entries, material.code, patterns, sources.tickets)
    share = wish.share or (Fraction(measured.share).limit_denominator(1000) if measured else None)
    jobs = tuple(_cutting(cut, (sources, costs, day), sheet, wish, share) for cut in cuts)
    return CutOrBuy(
        material=material,
        sheet=sheet,
        pack=offer.pack_name or str(offer.pack),
        measured=measured,
        share=share,
        jobs=jobs,
    )


def sheets_cut(book: Book, day: date) -> list[Material]:
    """List the materials that a recipe in force cuts by the size of the shoe, by name."""
    with book.reading() as session:
        cut = {line.material for recipe in _newest(session, day) for line in recipe.lines if _by_size(line)}
        return sorted((m for m in catalogue.read_materials(session) if m.code in cut), key=attrgetter("name"))


def _newest(session: Session, day: date) -> list[Recipe]:
    versions = by_job(catalogue.read_recipes(session)).values()
    return [recipe for each in versions if (recipe := in_force(each, day)) is not None]


def _by_size(line: RecipeLine) -> bool:
    return not line.nothing and line.sizing is Sizing.AREA and line.amount.dimension is Dimension.AREA


def _cuts(material: Material, recipes: Iterable[Recipe]) -> list[_Cut]:
    found = [
        _Cut(recipe, line)
        for recipe in recipes
        for line in recipe.lines
        if line.material == material.code and _by_size(line)
    ]
    if not found:
        raise RefusedError(
            phrase("No recipe cuts %(material)s by the size of the shoe.", material=material.code),
            fix="Name a sheet that a recipe draws by area, such as a bend.",
        )
    return found


def _sheet_offer(material: Material, offers: Iterable[Offer]) -> Offer:
    mine = [offer for offer in offers if offer.material == material.code and offer.pack.nano > 0]
    if not mine:
        raise RefusedError(
            phrase("No supplier offers %(material)s.", material=material.code), fix="Load an offer for it first."
        )
    return min(mine, key=lambda offer: Fraction(offer.cost(1), offer.pack.nano))


def _bench(sources: Sources, minutes: int) -> int:
    rate = Fraction(sources.shop.bench_hour_rate) * 10**sources.shop.currency_digits * MILLI
    return half_up(rate * minutes / _MINUTES)


def _cutting(
    cut: _Cut,
    known: tuple[Sources, Mapping[str, Fraction], date],
    sheet: CuttingSheet,
    wish: CuttingWish,
    share: Fraction | None,
) -> Cutting:
    sources, costs, day = known
    sizes = _sizes(cut, sources, day)
    by_recipe = 1 / (1 + cut.line.waste / 100)
    rivals = [
        Rival(
            material=name,
            choices=tuple(
                cut_or_buy(
                    cut.pattern, sheet, {s: _bought(name, s, sources, costs) for s in sizes}, share=share or by_recipe
                )
            ),
        )
        for name in _rival_names(cut, sources)
    ]
    usual = sizes[len(sizes) // 2] if sizes else None
    return Cutting(
        job=cut.recipe.job,
        line=cut.line.name,
        recipe_share=by_recipe,
        rivals=tuple(rivals),
        layout=_layout(cut.pattern, usual, sheet, wish) if usual else None,
        layout_size=usual,
    )


def _sizes(cut: _Cut, sources: Sources, day: date) -> list[ShoeSize]:
    """Give the sizes most often done in a year, in order; the reference sizes where none was."""
    systems = {size.system for size in cut.recipe.reference}
    done = Counter(
        ticket.size
        for ticket in sources.tickets.values()
        if ticket.job == cut.recipe.job
        and ticket.size is not None
        and ticket.size.system in systems
        and ticket.finished is not None
        and day - YEAR <= ticket.finished.date() <= day
    )
    often = [size for size, _ in done.most_common(_MOST_SIZES)] or list(cut.recipe.reference)
    return sorted(often, key=lambda size: (size.system, size.number))


def _rival_names(cut: _Cut, sources: Sources) -> list[str]:
    """Name what the same choice of the recipe offers by the piece or pair."""
    if not cut.line.choice:
        return []
    others = [
        line
        for line in cut.recipe.lines
        if line.material and line.choice == cut.line.choice and line.option != cut.line.option
    ]
    return list(dict.fromkeys(line.material for line in others if _pre_cut(line.material, sources.materials)))


def _pre_cut(name: str, materials: Mapping[str, Material]) -> bool:
    found = [m for m in materials.values() if name in (m.code, m.group)]
    return bool(found) and all(m.dimension is Dimension.COUNT and m.family == "pre-cut soles" for m in found)


def _bought(name: str, size: ShoeSize, sources: Sources, costs: Mapping[str, Fraction]) -> int | None:
    fitting = [
        m.code
        for m in sources.materials.values()
        if m.active and name in (m.code, m.group) and (m.size_from is None or m.fits(size))
    ]
    each = [costs[code] * unit("pair").nano for code in fitting if code in costs]
    return half_up(min(each)) if each else None


def _layout(pattern: Pattern, size: ShoeSize, sheet: CuttingSheet, wish: CuttingWish) -> SheetLayout:
    """Lay the usual size out; each sole is drawn as long as its net area asks of the outline."""
    width, length = wish.plate or _twice_as_long(sheet)
    sole = float(pattern.area(size)) / NANO * MM2 / 2
    plate = Plate(width=width, length=length, gap=wish.gap)
    return lay_out([(str(size), sqrt(sole / sole_area(1.0)))], plate)


def _twice_as_long(sheet: CuttingSheet) -> tuple[float, float]:
    width = sqrt(sheet.area / NANO * MM2 / 2)
    return round(width), round(2 * width)
