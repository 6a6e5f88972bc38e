"""Documents into moves: the only way anything gets into the ledger."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Self

from stockroom.errors import AmbiguousError, RefusedError, UsageError, check_text
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.bounds import check_day, check_money
from stockroom.stock.counts import CountLine
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, split
from stockroom.stock.moves import WRITE_OFFS, Document, DocumentKind, Move, MoveKind
from stockroom.stock.offcuts import Offcut, OffcutCut, OffcutWanted, PieceSize, piece_lot
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import Need
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket

if TYPE_CHECKING:
    from stockroom.stock.orders import Delivery, DeliveryLine, Order

_MONEY = ("price", "credit", "carriage", "duties", "tax", "carriage_tax", "post_cost")
LONGEST_KEY = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """What every document carries: when it happened, when it was entered, by whom, and the key that makes it single."""

    key: str
    happened: datetime
    entered: datetime
    who: str = ""
    site: str = "main"
    note: str = ""
    stated: str = ""  # when it happened, as it was typed: the same key with another time is another entry
    asked: str = ""  # a hash of what is asked under the key
    sure: bool = False  # said a second time: what looks like a slip is meant

    def __post_init__(self) -> None:
        for text in (self.key, self.who, self.site, self.note):
            check_text(text)
        if len(self.key) > LONGEST_KEY:
            raise UsageError(
                phrase("The key has more than %(most)s letters.", most=LONGEST_KEY), fix="Give a shorter one."
            )
        check_day(self.happened, lambda: phrase("What happened"))

    def asking(self, what: str, **facts: object) -> Self:
        """Say what is asked under the key, so that another entry under the same key can be told from it.

        Where one entry is made by way of another, what was asked first stands.
        """
        if self.asked:
            return self
        said = _facts(facts | {"what": what, "site": self.site, "note": self.note, "stated": self.stated})
        return replace(self, asked=sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:16])

    def document(self, kind: DocumentKind, subject: str, moves: Iterable[Move] = (), **content: object) -> Document:
        """Make a document under this stamp; empty facts are left out of its content."""
        check_text(subject)
        for name in _MONEY:
            if isinstance(sum_ := content.get(name), int):
                check_money(sum_, lambda name=name: as_phrase(name))  # type: ignore[misc]
        return Document(
            kind=kind,
            key=self.key,
            subject=subject,
            happened=self.happened,
            entered=self.entered,
            site=self.site,
            who=self.who,
            note=self.note,
            moves=tuple(moves),
            content={name: value for name, value in content.items() if value not in (None, "", {}, [])},
            asked=self.asked,
        )


def _facts(value: object) -> Any:  # noqa: ANN401 -- fit for JSON
    """Write out what was asked; a fact left out and an empty one are the same."""
    if is_dataclass(value):
        value = {each.name: getattr(value, each.name) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(name): _facts(fact) for name, fact in value.items() if fact not in (None, "", {}, [], ())}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_facts(each) for each in value]
    return str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Actual:
    """What really was used where it differs from the recipe: another amount, another material, or both."""

    amounts: Mapping[str, Quantity] = field(default_factory=dict)  # by recipe line, or by material's code
    instead: Mapping[str, str] = field(default_factory=dict)  # recipe line or material -> the material taken
    offcuts: Mapping[str, OffcutWanted] = field(default_factory=dict)  # recipe line -> the offcut it is cut from


def ticket_facts(ticket: Ticket) -> dict[str, Any]:
    """Write all that a ticket says but how it stands, and what may have to be forgotten: the customer and the note."""
    return {
        "job": ticket.job,
        "taken_in": ticket.taken_in.isoformat(timespec="seconds"),
        "shoes": ticket.shoes,
        "size": str(ticket.size or ""),
        "chosen": dict(ticket.chosen),
        "promised": str(ticket.promised or ""),
        "price": ticket.price,
        "redo_of": ticket.redo_of,
        "by_post": ticket.by_post,
        "post_cost": ticket.post_cost,
        "at_site": ticket.site,
        "added": _as_said(ticket.added),
        "left_out": list(ticket.left_out),
    }


def with_facts(ticket: Ticket, facts: Mapping[str, Any]) -> Ticket:
    """Give a ticket that says some facts as a document says them."""
    said = ticket_facts(ticket) | dict(facts)
    return replace(
        ticket,
        shoes=said["shoes"],
        size=shoe_size(said["size"]) if said["size"] else None,
        chosen=said["chosen"],
        promised=date.fromisoformat(said["promised"]) if said["promised"] else None,
        price=said["price"],
        by_post=said["by_post"],
        post_cost=said["post_cost"],
        added=tuple(Need(line=line, material=material, nano=nano) for line, material, nano in said["added"]),
        left_out=tuple(said["left_out"]),
    )


def untold_facts(ticket: Ticket) -> dict[str, Any]:
    """Write all that a ticket says and how it stands, where no document tells of it: it is older than the book."""
    finished = ticket.finished.isoformat(timespec="seconds") if ticket.finished else ""
    return ticket_facts(ticket) | {"state": str(ticket.state), "finished": finished}


def order_facts(order: "Order") -> dict[str, Any]:
    """Write all that an order says but how it stands, and what has come of it."""
    lines = [
        {
            "material": line.material, "code": line.supplier_code, "packs": line.packs, "cost": line.cost,
            "pack": line.pack.nano, "pack_name": line.pack_name,
        }
        for line in order.lines
    ]  # fmt: skip
    return {
        "supplier": order.supplier,
        "carriage": order.carriage,
        "expected": str(order.expected or ""),
        "at_site": order.site,
        "note": order.note,
        "lines": lines,
    }


def count_facts(line: CountLine) -> dict[str, object]:
    """Write all that a counted item says; nothing said is left out."""
    facts: dict[str, object] = {
        "material": line.material,
        "at_site": line.site,
        "counted": line.counted.isoformat(timespec="seconds"),
        "nano": line.amount.nano,
        "error": None if line.error is None else line.error.nano,
        "aid": line.aid,
        "who": line.who,
        "reason": str(line.reason),
        "note": line.note,
    }
    return {name: value for name, value in facts.items() if value not in (None, "")}


def figure(facts: Mapping[str, object]) -> str:
    """Give a hash that tells whether facts are still the same; a fact left out and an empty one are the same."""
    said = {name: value for name, value in facts.items() if value not in (None, "", {}, [])}
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:12]


Cuts = Mapping[str, OffcutCut]  # by recipe line
NO_CUTS: Cuts = {}


def finish(
    ticket: Ticket, used: Sequence[Need], stamp: Stamp, *, changed: Sequence[str] = (), cuts: Cuts = NO_CUTS
) -> Document:
    """Draw a finished job's materials; a re-do under guarantee is drawn as such, and brings no income."""
    redo = bool(ticket.redo_of)
    return stamp.document(
        DocumentKind.REDO if redo else DocumentKind.FINISH,
        ticket.number,
        _drawn(ticket, used, stamp, cuts),
        **(ticket_facts(ticket) | {"price": 0 if redo else ticket.price}),
        changed=list(changed),
        drawn=_as_said(ticket.drawn),
        cut=_cut_said(cuts.values()),
    )


def used_so_far(
    ticket: Ticket, used: Sequence[Need], stamp: Stamp, *, changed: Sequence[str] = (), cuts: Cuts = NO_CUTS
) -> Document:
    """Draw what a job has used while it is under way."""
    facts = {"changed": list(changed), "cut": _cut_said(cuts.values())}
    return stamp.document(DocumentKind.USE, ticket.number, _drawn(ticket, used, stamp, cuts), job=ticket.job, **facts)


def cancelled(
    ticket: Ticket, stamp: Stamp, *, back: Sequence[str], batches: Mapping[tuple[str, str], str] | None = None
) -> Document:
    """Cancel a ticket; of what it has used, the lines named go back on the shelf, and the rest is waste.

    What was cut from an offcut goes back to its batch, given by line and material.
    """
    moves = []
    for drawn in _drawn(ticket, ticket.drawn, stamp):
        move = drawn._replace(lot=(batches or {}).get((drawn.recipe_line, drawn.material), ""))
        moves.append(move._replace(nano=-move.nano))
        if move.recipe_line not in back:
            moves.append(move._replace(kind=MoveKind.WASTE, ticket="", recipe_line=""))
    wasted = any(move.kind is MoveKind.WASTE for move in moves)
    reason = f"ticket {ticket.number} was cancelled" if wasted else ""
    facts = ticket_facts(ticket) | {"reason": reason, "drawn": _as_said(ticket.drawn)}
    return stamp.document(DocumentKind.CANCEL, ticket.number, moves, **facts)


def was_drawn_before(document: Document, ticket: Ticket) -> bool:
    """Say whether a ticket has used just what it had when a document finished or cancelled it."""
    return document.content.get("drawn", []) == _as_said(ticket.drawn)


def _as_said(drawn: Sequence[Need]) -> list[list[str | int]]:
    return [[need.line, need.material, need.nano] for need in drawn]


def sent(
    name: str, ticket: Ticket | None, packed: Sequence[Need], stamp: Stamp, *, post_cost: int | None = None
) -> Document:
    """Send a parcel: what it is packed in is drawn for its ticket, or goes with its sale."""
    if ticket is not None:
        moves = _drawn(ticket, packed, stamp)
    else:
        moves = [
            Move(material=n.material, nano=-n.nano, kind=MoveKind.SALE, happened=stamp.happened, site=stamp.site)
            for n in packed
        ]
    return stamp.document(DocumentKind.SENT, name, moves, post_cost=post_cost)


def _drawn(ticket: Ticket, used: Sequence[Need], stamp: Stamp, cuts: Cuts = NO_CUTS) -> list[Move]:
    """Draw what a ticket uses; of an offcut it is cut from, what no job takes and is not kept is waste."""
    moves = [
        Move(
            material=need.material,
            nano=-need.nano,
            kind=MoveKind.REDO_USE if ticket.redo_of else MoveKind.JOB_USE,
            happened=stamp.happened,
            site=stamp.site,
            recipe_line=need.line,
            ticket=ticket.number,
            lot=cuts[need.line].piece.lot if need.line in cuts else "",
        )
        for need in used
        if need.nano
    ]
    return moves + [_piece_move(cut.piece, -cut.wasted, MoveKind.WASTE, stamp) for cut in cuts.values() if cut.wasted]


def _piece_move(piece: Offcut, nano: int, kind: MoveKind, stamp: Stamp) -> Move:
    happened, site = stamp.happened, piece.site
    return Move(material=piece.material, nano=nano, kind=kind, happened=happened, site=site, lot=piece.lot)


def _cut_said(cuts: Iterable[OffcutCut]) -> list[list[object]]:
    """Write what was cut from which offcuts, and the sides of what is left of each."""
    return [[cut.piece.number, [cut.left.length, cut.left.width] if cut.left else []] for cut in cuts]


def replaced(used: Sequence[Need], actual: Actual, materials: Mapping[str, Material]) -> tuple[list[Need], list[str]]:
    """Put actual amounts and substitutes in place of the recipe's; says each change in a sentence.

    Raises
    ------
    RefusedError
        If a named line or material is not part of the job, or an amount is below zero.
    AmbiguousError
        If an amount names a material that several lines use.
    """
    _check_named(used, actual)
    done, said = [], []
    for need in used:
        change = _change(need, actual, materials)
        done.append(change)
        if change != need:
            said.append(f"{need.line}: {_said(change, materials)} instead of {_said(need, materials)}")
    return done, said


def sold(material: Material, amount: Quantity, stamp: Stamp, *, price: int | None = None) -> Document:
    """Sell over the counter."""
    move = _leaving(material, amount, MoveKind.SALE, stamp)
    sold_as = material.counted(material.to_base(amount).nano)
    return stamp.document(DocumentKind.SALE, material.code, [move], price=price, amount=sold_as)


def lost(kind: DocumentKind, material: Material, amount: Quantity, stamp: Stamp, *, reason: str = "") -> Document:
    """Write off waste or expired stock, or take something for the shop's own use."""
    return stamp.document(kind, material.code, [_leaving(material, amount, WRITE_OFFS[kind], stamp)], reason=reason)


def opened(lines: Sequence[tuple[Material, Quantity, int | None, str, date | None]], stamp: Stamp) -> Document:
    """Open the book with what is on the shelf: material, amount, value in minor units, lot, expiry."""
    moves = [
        Move(
            material=material.code,
            nano=material.to_base(amount).nano,
            kind=MoveKind.OPENING,
            happened=stamp.happened,
            site=stamp.site,
            value=None if value is None else value * MILLI,
            lot=lot,
            expiry=expiry,
        )
        for material, amount, value, lot, expiry in lines
    ]
    return stamp.document(DocumentKind.OPENING, "", moves)


def delivered(
    delivery: "Delivery",
    materials: Mapping[str, Material],
    stamp: Stamp,
    weights: Sequence[int] | None = None,
    borne: tuple[Sequence[int], int] = ((), 0),
) -> Document:
    """Take in goods; carriage and duties are spread over the lines by cost, or by `weights` where given.

    `borne` is the tax on each line and on carriage that can't be taken back, in minor units.
    """
    taxes, carriage_tax = list(borne[0]) or [0] * len(delivery.lines), borne[1]
    costs = [line.cost for line in delivery.lines]
    landed = split((delivery.carriage + carriage_tax + delivery.duties) * MILLI, list(weights or costs))
    moves = [
        Move(
            material=line.material,
            nano=materials[line.material].to_base(line.amount).nano,
            kind=MoveKind.DELIVERY,
            happened=delivery.received,
            site=delivery.site,
            value=(line.cost + tax) * MILLI + extra,
            lot=line.lot,
            expiry=line.expiry or _keeps_until(materials[line.material], delivery.received.date()),
        )
        for line, extra, tax in zip(delivery.lines, landed, taxes, strict=True)
    ]
    return stamp.document(
        DocumentKind.DELIVERY,
        delivery.order,
        moves,
        supplier=delivery.supplier,
        reference=delivery.reference,
        ordered=delivery.ordered.isoformat() if delivery.ordered else "",
        carriage=delivery.carriage,
        carriage_tax_rate=delivery.carriage_tax_rate,
        carriage_tax=carriage_tax or None,
        duties=delivery.duties,
        lines=[_line_content(line, tax) for line, tax in zip(delivery.lines, taxes, strict=True)],
    )


def sent_back(
    material: Material,
    amount: Quantity,
    stamp: Stamp,
    *,
    supplier: str,
    credit: int,
    delivery: int | None = None,
    tax: int = 0,
) -> Document:
    """Return goods to a supplier for a credit in minor units; they leave the named delivery's layer first.

    `tax` comes back with the credit where it was part of the cost.
    """
    move = _leaving(material, amount, MoveKind.SUPPLIER_RETURN, stamp)._replace(value=-(credit + tax) * MILLI)
    facts: dict[str, Any] = {"supplier": supplier, "credit": credit, "delivery": delivery, "tax": tax or None}
    return stamp.document(DocumentKind.SUPPLIER_RETURN, material.code, [move], **facts)


def offcut(
    source: Material,
    kept: Material,
    areas: tuple[Quantity, Quantity],
    stamp: Stamp,
    *,
    drawn: int = 0,
    piece: tuple[int, PieceSize | None] | None = None,
) -> Document:
    """Keep an offcut: an area leaves the sheet's material and a stated area joins the offcut's.

    What jobs have `drawn` of it as waste (nano of the sheet) doesn't leave the sheet again; where that is all of it,
    the jobs have borne its cost. A `piece` has a number and mostly a size, and is a batch of its own.
    """
    taken, stated = areas
    leaving = _leaving(source, taken, MoveKind.OFFCUT, stamp)
    joining = _leaving(kept, stated, MoveKind.OFFCUT, stamp)._replace(nano=kept.to_base(stated).nano)
    number, size = piece or (None, None)
    joining = joining._replace(lot=piece_lot(number) if number else "")
    rest = leaving.nano + drawn
    moves = [leaving._replace(nano=rest), joining] if rest else [joining._replace(value=0)]
    facts = {"piece": number, "size": [size.length, size.width] if size else []}
    return stamp.document(DocumentKind.OFFCUT, source.code, moves, drawn=drawn or None, **facts)


def offcuts_lost(cuts: Sequence[OffcutCut], stamp: Stamp, *, reason: str = "") -> Document:
    """Write off what offcuts have lost: trimmed, spoilt or not found."""
    moves = [_piece_move(cut.piece, -cut.wasted, MoveKind.WASTE, stamp) for cut in cuts]
    return stamp.document(DocumentKind.WASTE, cuts[0].piece.material, moves, reason=reason, cut=_cut_said(cuts))


def part_kept(material: Material, amount: Quantity, stamp: Stamp, *, ticket: str = "") -> Document:
    """Keep a part taken off a job for another one: it joins the shelf at no cost."""
    leaving = _leaving(material, amount, MoveKind.PART_KEPT, stamp)
    joining = leaving._replace(nano=-leaving.nano, value=0)
    return stamp.document(DocumentKind.PART_KEPT, material.code, [joining], ticket=ticket)


def lent(material: Material, amount: Quantity, stamp: Stamp, *, ticket: str, due: date | None) -> Document:
    """Lend something out: it stays in the book, and costs nothing."""
    said = due.isoformat() if due else ""
    return stamp.document(DocumentKind.LENT, material.code, nano=amount.nano, ticket=ticket, due=said)


def lent_back(material: Material, loan: int, nano: int, stamp: Stamp) -> Document:
    """Give back what a document lent."""
    return stamp.document(DocumentKind.LENT_BACK, material.code, loan=loan, nano=nano)


def transferred(material: Material, amount: Quantity, stamp: Stamp, *, to_site: str) -> Document:
    """Move stock to another site."""
    leaving = _leaving(material, amount, MoveKind.TRANSFER, stamp)
    moves = [leaving, leaving._replace(nano=-leaving.nano, site=to_site)]
    return stamp.document(DocumentKind.TRANSFER, material.code, moves, to=to_site)


def reversed_(document: Document, stamp: Stamp) -> Document:
    """Take a whole document back: each move answered by its opposite at the time, and on the day, it happened."""
    if document.id is None:
        raise ValueError("only a document in the book can be taken back")
    moves = [
        move._replace(nano=-move.nano, value=None if move.value is None else -move.value) for move in document.moves
    ]
    undone = stamp.document(DocumentKind.REVERSAL, document.subject, moves, of=str(document.kind))
    return replace(
        undone, reverses=document.id, happened=document.happened, booked_on=document.booked_on, site=document.site
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """A counted bin that the book must agree with at its moment."""

    material: str
    site: str
    counted: datetime
    nano: int


def corrections(
    moves: Sequence[Move], fixed: Iterable[Fixed], book_at: Callable[[str, str, datetime], int]
) -> list[Move]:
    """Work out the count differences that make the book agree with every counted bin once `moves` are in.

    Notes
    -----
    Used both to settle a count (no moves, its bins fixed) and to keep settled counts true when something
    happened before them but is entered later: what was counted was there, whatever the documents say since.
    """
    made: list[Move] = []
    for point in sorted(fixed, key=lambda f: f.counted):
        due = [m for m in (*moves, *made) if (m.material, m.site) == (point.material, point.site)]
        effect = sum(m.nano for m in due if m.happened <= point.counted)
        missing = point.nano - book_at(point.material, point.site, point.counted) - effect
        if missing:
            kind, at = MoveKind.COUNT, point.counted
            made.append(Move(material=point.material, nano=missing, kind=kind, happened=at, site=point.site))
    return made


def _check_named(used: Sequence[Need], actual: Actual) -> None:
    known = {need.line for need in used} | {need.material for need in used}
    for name in (*actual.amounts, *actual.instead):
        if name not in known:
            uses = phrase("It uses: %(known)s.", known=", ".join(sorted(known)))
            raise RefusedError(phrase("The job does not use '%(name)s'.", name=name), fix=uses)
    for name, amount in actual.amounts.items():
        lines = [need.line for need in used if name in (need.line, need.material)]
        if len(lines) > 1:
            which = phrase("Say which: %(codes)s.", codes=", ".join(lines))
            raise AmbiguousError(phrase("Several lines of the job use '%(name)s'.", name=name), fix=which)
        if amount.nano < 0:
            below = phrase("%(amount)s of %(material)s is below zero.", amount=amount, material=name)
            raise RefusedError(below, fix="Give what was used, or 0 for nothing.")


def _said(need: Need, materials: Mapping[str, Material]) -> str:
    return f"{materials[need.material].counted(need.nano)} {need.material}"


def _change(need: Need, actual: Actual, materials: Mapping[str, Material]) -> Need:
    named = (need.line, need.material)
    code = next((actual.instead[n] for n in named if n in actual.instead), need.material)
    amount = next((actual.amounts[n] for n in named if n in actual.amounts), None)
    if amount is not None:
        return replace(need, material=code, nano=materials[code].to_base(amount).nano)
    if code == need.material:
        return need
    taken = Quantity(nano=need.nano, dimension=materials[need.material].dimension)
    return replace(need, material=code, nano=materials[code].to_base(taken).nano)


def _leaving(material: Material, amount: Quantity, kind: MoveKind, stamp: Stamp) -> Move:
    base = material.to_base(amount)
    if base.nano <= 0:
        nothing = phrase("%(amount)s of %(material)s is not above zero.", amount=amount, material=material.code)
        fix = "Give the amount without a sign." if base.nano else "Give the amount that left the shelf."
        raise RefusedError(nothing, fix=fix)
    return Move(material=material.code, nano=-base.nano, kind=kind, happened=stamp.happened, site=stamp.site)


def _keeps_until(material: Material, received: date) -> date | None:
    return received + timedelta(days=material.shelf_life_days) if material.shelf_life_days else None


def _line_content(line: "DeliveryLine", tax: int) -> dict[str, object]:
    facts: dict[str, object] = {
        "material": line.material,
        "nano": line.amount.nano,
        "cost": line.cost,
        "code": line.supplier_code,
        "packs": line.packs,
        "tax_rate": line.tax_rate,
        "tax": tax or None,  # in the cost of the goods: the shop can't take it back
        "back_until": line.back_until.isoformat() if line.back_until else "",
        "back_pack": line.back_pack,
        "on_approval": line.on_approval or None,
    }
    return {name: value for name, value in facts.items() if value not in (None, "")}
