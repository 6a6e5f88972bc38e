"""What a job can be cut from: an offcut that fits, the sheet, or bought cut; and the cut itself."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from stockroom.errors import RefusedError
from stockroom.flows.bench.recipe_cards import Cards
from stockroom.flows.book.terms import terms_of
from stockroom.flows.learning.yields import outline_for, sheet_area, sheet_lines, sheet_yield
from stockroom.flows.posting.offcut_pieces import offcuts_there, said_size, the_offcut, what_is_left
from stockroom.margins.alerts import offered_costs
from stockroom.margins.cutting import bought_pair, pre_cut_names, sole_length
from stockroom.margins.piece_fit import Laid, left_over, lies_in
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats
from stockroom.stock.layers import Standing, closing, replay
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import DocumentKind
from stockroom.stock.offcuts import Offcut, OffcutCut, OffcutWanted, PieceSize, piece_size
from stockroom.stock.postings import Actual, Stamp
from stockroom.stock.quantities import NANO, Dimension, Quantity
from stockroom.stock.recipes import PAIR, Need, RecipeLine, Sizing
from stockroom.stock.suppliers import current
from stockroom.stock.tickets import Ticket
from stockroom.store import catalogue, ledger
from stockroom.store.book import Session

_LEAST = PieceSize.of(NANO // 10, NANO // 20)  # 10 x 5 cm: worth keeping where the material says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutOffer:
    """An offcut that a line of a job can be cut from."""

    piece: Offcut
    left: PieceSize | None  # what one straight cut leaves of it, if that is worth keeping
    cost: int  # thousandths of the minor unit: what the job and its waste take of the piece's own cost


@dataclass(frozen=True, slots=True, kw_only=True)
class CutChoice:
    """What a line of a job can be cut from, and what each costs in thousandths of the minor unit."""

    line: str
    sheet: Material
    kept: Mapping[str, Material]  # what the offcuts are kept as
    offers: tuple[OffcutOffer, ...]  # the cheapest first, then the smallest
    from_sheet: int | None  # at the supplier's price and the shop's yield; None: nobody offers it
    bought: int | None  # None: nobody offers it cut


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cutting:
    """A line of a ticket that may be cut from an offcut."""

    need: Need
    line: RecipeLine | None
    sheet: Material
    shoes: int

    @property
    def net(self) -> Fraction:
        """What the pieces themselves measure, in nano of the sheet."""
        return Fraction(self.need.nano) / (1 + (self.line.waste if self.line else Fraction(0)) / 100)

    @property
    def is_sole(self) -> bool:
        """Whether it grows as a sole does, so that its shape is known."""
        return self.line is not None and self.line.sizing is Sizing.AREA

    def laid(self, session: Session, job: str, piece: Offcut) -> Laid | None:
        """Lay the soles in a piece of known sides."""
        if not self.is_sole or piece.size is None:
            return None
        outline = outline_for(session, job)
        return lies_in(outline, sole_length(float(self.net) / self.shoes, outline), self.shoes, piece.size.mm)

    def fits(self, session: Session, job: str, piece: Offcut, kept: Material) -> bool:
        """Say whether the line can be cut from a piece: by its shape where that is known, else by its area."""
        asked = self.net if piece.size is not None else Fraction(self.need.nano)
        if kept.to_base(Quantity(nano=round(asked), dimension=self.sheet.dimension)).nano > piece.nano:
            return False
        return self.laid(session, job, piece) is not None or not self.is_sole or piece.size is None


def choices_of_cut(cards: Cards, ticket: Ticket, day: date) -> list[CutChoice]:
    """Say what the lines of a ticket can be cut from, where an offcut fits one."""
    there = offcuts_there(cards.session, ticket.site)
    found = [_choice(cards, ticket, cutting, there, day) for cutting in _cuttings(cards, ticket, day)]
    return [choice for choice in found if choice.offers]


def choice_said(choice: CutChoice, formats: Formats) -> str:
    """Say in one line which offcut a line can be cut from, and what each way costs."""
    best = choice.offers[0]
    kept = choice.kept[best.piece.material]
    others = ", ".join(str(offer.piece.number) for offer in choice.offers[1:])
    sheet, bought = choice.from_sheet, choice.bought
    parts = [
        phrase("from the offcut %(cost)s", cost=formats.milli(best.cost)),
        phrase("from the sheet %(cost)s", cost=formats.milli(sheet)) if sheet is not None else "",
        phrase("bought cut %(cost)s", cost=formats.milli(bought)) if bought is not None else "",
        phrase("others that fit: %(numbers)s", numbers=others) if others else "",
    ]
    return phrase(
        "'%(line)s' can be cut from offcut %(number)s (%(size)s): %(costs)s.",
        line=choice.line,
        number=best.piece.number,
        size=said_size(best.piece, kept.unit),
        costs=joined((part for part in parts if part), ", "),
    )


def _cuttings(cards: Cards, ticket: Ticket, day: date) -> list[_Cutting]:
    recipe = cards.recipe(ticket.job, day)
    lines = {line.name: line for line in recipe.lines} if recipe else {}
    return [
        _Cutting(need=need, line=lines.get(need.line), sheet=sheet, shoes=ticket.shoes)
        for need in cards.to_come(ticket, day)
        if need.nano > 0 and (sheet := cards.shelf.materials[need.material]).dimension is Dimension.AREA
    ]


def _choice(cards: Cards, ticket: Ticket, cutting: _Cutting, there: Iterable[Offcut], day: date) -> CutChoice:
    session, materials = cards.session, cards.shelf.materials
    fitting = [
        piece
        for piece in there
        if piece.sheet == cutting.sheet.code
        and piece.stored.date() <= day
        and cutting.fits(session, ticket.job, piece, materials[piece.material])
    ]
    values = _values(session, cutting.sheet.code, fitting, materials) if fitting else {}
    offers = [_offer(session, ticket, cutting, (piece, materials[piece.material]), values) for piece in fitting]
    from_sheet, bought = _other_costs(cards, ticket, cutting, day) if fitting else (None, None)
    return CutChoice(
        line=cutting.need.line,
        sheet=cutting.sheet,
        kept={piece.material: materials[piece.material] for piece in fitting},
        offers=tuple(sorted(offers, key=lambda offer: (offer.cost, offer.piece.nano))),
        from_sheet=from_sheet,
        bought=bought,
    )


def _offer(
    session: Session,
    ticket: Ticket,
    cutting: _Cutting,
    at: tuple[Offcut, Material],
    values: Mapping[int, tuple[int, int]],
) -> OffcutOffer:
    piece, kept = at
    left = _proposed(session, ticket, cutting, piece, kept)
    gone = piece.nano - (kept.to_base(left.area).nano if left else 0)
    nano, value = values.get(piece.number, (0, 0))
    return OffcutOffer(piece=piece, left=left, cost=half_up(Fraction(value * gone, nano)) if nano else 0)


def _proposed(session: Session, ticket: Ticket, cutting: _Cutting, piece: Offcut, kept: Material) -> PieceSize | None:
    """Give what one straight cut leaves of a piece, if that is worth keeping."""
    laid = cutting.laid(session, ticket.job, piece)
    if laid is None or piece.size is None:
        return None
    long, short = (int(side) for side in piece.size.mm)
    sides = left_over((short, long), (-int(-laid.width // 1), -int(-laid.length // 1)))
    left = PieceSize.of_mm(*sides)
    return left if left.covers(_least(cutting.sheet, kept)) else None


def _least(sheet: Material, kept: Material) -> PieceSize:
    stated = sheet.least_offcut or kept.least_offcut
    return piece_size(stated) if stated else _LEAST


def _values(
    session: Session, sheet: str, pieces: Sequence[Offcut], materials: Mapping[str, Material]
) -> dict[int, tuple[int, int]]:
    """Give what each piece's own layer holds: its amount and cost, by the piece's number.

    Only what moved the sheet or its offcuts is replayed.
    """
    codes = {sheet} | {piece.material for piece in pieces}
    about = {number for code in codes for number, _ in ledger.moves_of_material(session, code)}
    kinds = [DocumentKind.PERIOD, DocumentKind.PRICE_CORRECTION]
    about |= {d.id or 0 for d in ledger.read_documents(session, kinds=kinds, with_moves=False)}
    documents = [
        replace(document, moves=tuple(move for move in document.moves if move.material in codes))
        for document in ledger.read_documents(session, numbers=sorted(about))
    ]
    costing = replay(documents, materials, method=catalogue.read_shop(session).costing)
    standing: list[Standing] = list(closing(costing, date.max))
    found = {}
    for piece in pieces:
        mine = [s for s in standing if s.material == piece.material and s.site == piece.site and s.layer]
        own = [s for s in mine if costing.births[s.layer].move.lot == piece.lot]
        used = own or mine[:1]
        found[piece.number] = (sum(s.nano for s in used), sum(s.value for s in used))
    return found


def _other_costs(cards: Cards, ticket: Ticket, cutting: _Cutting, day: date) -> tuple[int | None, int | None]:
    """Give what the line costs from the sheet, by the shop's yield, and bought cut."""
    session, materials = cards.session, cards.shelf.materials
    offers = current(catalogue.read_offers(session, {code: m.dimension for code, m in materials.items()}), day)
    costs = offered_costs(offers, day, terms_of(session))
    bought = None
    recipe = cards.recipe(ticket.job, day)
    if cutting.line is not None and recipe is not None and ticket.size is not None:
        pairs = [
            bought_pair(name, size, materials, costs)
            for name in pre_cut_names(cutting.line, recipe, materials)
            for size in {ticket.size, *(recipe.reference if ticket.size in recipe.reference else ())}
        ]
        known = [each for each in pairs if each is not None]
        bought = half_up(Fraction(min(known) * ticket.shoes, PAIR)) if known else None
    rate = costs.get(cutting.sheet.code)
    if rate is None:
        return None, bought
    area: Fraction = Fraction(cutting.need.nano)
    lines = sheet_lines(cutting.sheet, catalogue.read_recipes(session), (), day)
    if cutting.is_sole and lines:
        area = cutting.net / sheet_yield(session, cutting.sheet, lines, sheet_area(offers, cutting.sheet.code)).exact
    return half_up(rate * area), bought


def cut_from_offcuts(
    cards: Cards, ticket: Ticket, used: Sequence[Need], actual: Actual, stamp: Stamp
) -> tuple[list[Need], dict[str, OffcutCut], list[str]]:
    """Let lines be cut from offcuts: what they draw, what is cut, and each in a sentence.

    A line draws what it takes of the sheet, but no more than goes of the piece; what else goes of that is waste.

    Raises
    ------
    RefusedError
        If a line is not cut from a sheet, or doesn't fit the piece, or more is to be left of it than can be.
    """
    cuttings = {cutting.need.line: cutting for cutting in _cuttings(cards, ticket, stamp.happened.date())}
    wanted = _by_line(actual.offcuts, cuttings)
    done, cuts, said = [], dict[str, OffcutCut](), list[str]()
    for need in used:
        if need.line not in wanted:
            done.append(need)
            continue
        cutting = replace(cuttings[need.line], need=replace(need, material=cuttings[need.line].sheet.code))
        drawn, cut = _cut(cards, ticket, cutting, wanted[need.line], stamp)
        if any(other.piece.number == cut.piece.number for other in cuts.values()):
            raise RefusedError(
                phrase("Two lines can't be cut from offcut %(number)s at once.", number=cut.piece.number),
                fix="Finish one, then give what is left of it; or enter one line as used so far first.",
            )
        kept = cards.shelf.materials[cut.piece.material]
        cuts[need.line] = cut
        done.append(replace(need, material=kept.code, nano=drawn))
        said.append(f"{need.line}: cut from offcut {cut.piece.number} ({said_size(cut.piece, kept.unit)})")
    return done, cuts, said


def _by_line(asked: Mapping[str, OffcutWanted], cuttings: Mapping[str, _Cutting]) -> dict[str, OffcutWanted]:
    """Put an offcut that names no line to the one line that is cut from a sheet."""
    found = {}
    for name, wanted in asked.items():
        named = [c.need.line for c in cuttings.values() if name in (c.need.line, c.need.material)]
        named = named or ([*cuttings] if not name else [])
        if len(named) != 1:
            known = ", ".join(cuttings) or phrase("nothing")
            raise RefusedError(
                phrase("Which line is cut from offcut %(number)s?", number=wanted.number),
                fix=phrase("Cut from a sheet are: %(known)s. Name the line: --offcut 'LINE=NUMBER'.", known=known),
            )
        found[named[0]] = wanted
    return found


def _cut(cards: Cards, ticket: Ticket, cutting: _Cutting, wanted: OffcutWanted, stamp: Stamp) -> tuple[int, OffcutCut]:
    piece = the_offcut(cards.session, wanted.number, stamp)
    kept = cards.shelf.materials[piece.material]
    if piece.sheet != cutting.sheet.code:
        raise RefusedError(
            phrase(
                "Offcut %(number)s was cut from %(sheet)s; '%(line)s' takes %(material)s.",
                number=piece.number,
                sheet=piece.sheet,
                line=cutting.need.line,
                material=cutting.sheet.code,
            ),
            fix="Choose another piece: stockroom offcuts",
        )
    if not stamp.sure and not cutting.fits(cards.session, ticket.job, piece, kept):
        raise RefusedError(
            phrase(
                "'%(line)s' doesn't fit offcut %(number)s (%(size)s) by the outline of its soles.",
                line=cutting.need.line,
                number=piece.number,
                size=said_size(piece, kept.unit),
            ),
            fix="Choose another piece: stockroom offcuts. If it was cut all the same, say so: --anyway.",
        )
    left = _proposed(cards.session, ticket, cutting, piece, kept)
    rest = kept.to_base(left.area).nano if left else 0
    asked = kept.to_base(Quantity(nano=cutting.need.nano, dimension=cutting.sheet.dimension)).nano
    if piece.size is None and not wanted.left:
        rest = _rest_of_odd(piece.nano - asked, cutting.sheet, kept)
    if wanted.left:
        left, rest = what_is_left(piece, kept, wanted.left)
    net = kept.to_base(Quantity(nano=round(cutting.net), dimension=cutting.sheet.dimension)).nano
    gone = piece.nano - rest
    if gone < min(net, asked):
        raise RefusedError(
            phrase(
                "No more than %(gone)s goes of offcut %(number)s; '%(line)s' measures %(net)s.",
                gone=kept.counted(gone),
                number=piece.number,
                line=cutting.need.line,
                net=kept.counted(net),
            ),
            fix="Measure what is left again.",
        )
    drawn = min(asked, gone)
    return drawn, OffcutCut(piece=piece, wasted=gone - drawn, left=left)


def _rest_of_odd(rest: int, sheet: Material, kept: Material) -> int:
    """Keep what is left of an odd shape, if it is as much as the least piece worth keeping."""
    return rest if rest >= kept.to_base(_least(sheet, kept).area).nano else 0
