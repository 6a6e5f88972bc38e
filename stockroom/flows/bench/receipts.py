"""A customer's receipt of a sale or a finished ticket, with the tax of its day."""

from stockroom.errors import RefusedError
from stockroom.flows.book.terms import TAX_RATE, tax_rates
from stockroom.flows.posting.price_corrections import in_force
from stockroom.flows.posting.undo import the_document
from stockroom.phrases import phrase
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.quantities import NANO, UNITS
from stockroom.stock.receipts import Receipt, ReceiptLine
from stockroom.stock.recipes import PAIR
from stockroom.stock.sales import parts_of
from stockroom.stock.tax import TaxRules, tax_rules
from stockroom.store import catalogue, tickets
from stockroom.store.book import Book, Session


def make_receipt(book: Book, number: int) -> Receipt:
    """Make the receipt of a document.

    Raises
    ------
    RefusedError
        If it is no sale or finished ticket, was undone, or has no price.
    """
    document = the_document(book, number)
    with book.reading() as session:
        if document.kind not in (DocumentKind.SALE, DocumentKind.FINISH):
            raise RefusedError(
                phrase("Document %(number)s is no sale and no finished ticket.", number=number),
                fix="Give the document of a sale or a finish: stockroom documents",
            )
        if not in_force(session, number):
            raise RefusedError(
                phrase("Document %(number)s was undone.", number=number), fix="Give the document that holds."
            )
        shop, lines = catalogue.read_shop(session), _lines(session, document)
    unpriced = next((line.what for line in lines if line.tax is None), None)
    if unpriced is not None:
        raise RefusedError(
            phrase("Nobody said what '%(what)s' cost.", what=unpriced), fix="Undo it and enter it with --price."
        )
    discount = document.content.get("discount", 0)
    return Receipt(
        number=number,
        shop=shop,
        happened=document.happened,
        about=document.subject if document.kind is DocumentKind.FINISH else "",
        lines=tuple(lines),
        discount=discount if isinstance(discount, int) else 0,
    )


def _lines(session: Session, document: Document) -> list[ReceiptLine]:
    rules, day = _rules(session), document.happened.date()
    if document.kind is DocumentKind.FINISH:
        ticket = tickets.the_ticket(session, document.subject)
        name = catalogue.read_job_names(session).get(ticket.job, ticket.job)
        price = document.content.get("price", ticket.price)
        taxed = rules.sale(price, ticket.job, day) if isinstance(price, int) else None
        usual = ticket.shoes == PAIR  # a pair goes without saying
        much = (None, None) if usual else (ticket.shoes * NANO, UNITS["pair"])
        return [ReceiptLine(what=name, nano=much[0], unit=much[1], tax=taxed)]
    known = {m.code: m for m in catalogue.read_materials(session)}
    return [
        ReceiptLine(
            what=known[part.material].name,
            nano=part.nano,
            unit=known[part.material].unit,
            tax=None if part.price is None else rules.sale(part.price, part.material, day),
        )
        for part in parts_of(document)
        if part.price or not _packing(document)
    ]


def _packing(document: Document) -> bool:
    """Say whether lines without a price are what a parcel is packed in."""
    return bool(document.content.get("by_post"))


def _rules(session: Session) -> TaxRules:
    own = {m.code: m.tax_rate for m in catalogue.read_materials(session)}
    own |= {job.code: job.tax_rate for job in catalogue.read_jobs(session)}
    dated = tax_rates(catalogue.read_notes(session, TAX_RATE))
    return tax_rules(catalogue.read_shop(session), own, dated)
