"""Check the whole book: the chain, every balance and layer, and everything that stands beside the papers."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import date

from stockroom.errors import BookError, StockroomError
from stockroom.flows.agreements import Papers, counts_hold, orders_agree, periods_hold, tickets_agree
from stockroom.stock import layers
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document
from stockroom.stock.recipe_box import by_job
from stockroom.stock.recipes import catalogue as arranged
from stockroom.store import catalogue, counts, deeds, ledger, orders, suppliers, tickets
from stockroom.store.audit import Audit, audit, no_such_figures
from stockroom.store.book import Book, Session, open_book
from stockroom.store.soundness import unsound

_UNREADABLE = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, StockroomError)


def check(book: Book, *, figures: Sequence[str] = ()) -> Audit:
    """Follow the chain of documents, add everything up again, and hold it against everything beside it.

    Parameters
    ----------
    book : Book
        The book.
    figures : sequence of str
        Check figures printed earlier (or their beginnings) that must be in the chain.
    """
    with book.reading() as session:
        found = audit(session)
        faults = [*unsound(session), *found.faults, *no_such_figures(session, figures)]
        faults += [fault for name, look in _LOOKS for fault in _tried(name, look, session)]
    return replace(found, faults=tuple(dict.fromkeys(faults)))


def damage(place: str) -> str:
    """Say what is wrong with a book in which something could not be read; nothing if the book is not to blame."""
    try:
        with closing(open_book(place)) as book:
            return next(iter(check(book).faults), "")
    except BookError as wrong:
        return wrong.what


def _tried(name: str, look: Callable[[Session], Iterable[str]], session: Session) -> list[str]:
    """Look at one part of the book; what can't even be read is a fault, not the end of the check."""
    try:
        return list(look(session))
    except _UNREADABLE as wrong:
        return [f"The {name} can't be read: {str(wrong).rstrip('.') or type(wrong).__name__}."]


def _settings(session: Session) -> Iterator[str]:
    catalogue.read_shop(session)
    closed = catalogue.read_note(session, catalogue.CLOSED_THROUGH)
    if closed:
        date.fromisoformat(closed)
    yield from ()


def _lists(session: Session) -> Iterator[str]:
    materials = catalogue.read_materials(session)
    suppliers.read_suppliers(session)
    suppliers.read_offers(session, {m.code: m.dimension for m in materials})
    catalogue.read_jobs(session)
    shelf = arranged(materials)
    for job, versions in by_job(catalogue.read_recipes(session)).items():
        for line in (line for recipe in versions for line in recipe.lines):
            variants = [shelf.materials[line.material]] if line.material in shelf.materials else []
            variants = variants or list(shelf.groups.get(line.material, ()))
            if not variants:
                yield f"The recipe of {job} names the material {line.material}, which is not there."
            if any(m.dimension is not line.amount.dimension and m.bridge is None for m in variants):
                yield f"The recipe of {job} uses {line.material} in a unit it is not kept in."


def _deeds(session: Session) -> Iterator[str]:
    gone = deeds.missing(session)
    if gone:
        yield f"Of the lines that say what was done, {gone} are missing."


def _papers(session: Session) -> Papers:
    return Papers(ledger.read_documents(session))


def _beside(session: Session) -> Iterator[str]:
    """Hold tickets, orders, counts, periods and layers against the papers, which are read once."""
    papers = _papers(session)
    shop = catalogue.read_shop(session)
    materials = {m.code: m for m in catalogue.read_materials(session)}
    dimensions = {code: m.dimension for code, m in materials.items()}
    closed = catalogue.read_note(session, catalogue.CLOSED_THROUGH)
    looks: tuple[tuple[str, Callable[[], Iterable[str]]], ...] = (
        ("tickets", lambda: tickets_agree(tickets.read_tickets(session), papers, shop.start)),
        ("orders", lambda: orders_agree(orders.read_orders(session, dimensions), papers)),
        ("counts", lambda: counts_hold(counts.anchors(session), papers)),
        ("periods", lambda: periods_hold(papers, date.fromisoformat(closed) if closed else None)),
        ("layers", lambda: _layers(papers.documents, materials, shop.costing)),
    )
    for name, look in looks:
        yield from _tried(name, lambda _session, look=look: look(), session)  # type: ignore[misc]


def _layers(documents: Sequence[Document], materials: dict[str, Material], method: str) -> Iterator[str]:
    """Say where the cost layers hold another amount than the moves add up to."""
    held: Counter[tuple[str, str]] = Counter()
    for standing in layers.closing(layers.replay(documents, materials, method=method)):
        held[standing.material, standing.site] += standing.nano
        if standing.layer != layers.SHORT and standing.nano < 0:
            yield f"Layer {standing.layer} of {standing.material} at {standing.site} holds less than nothing."
    moved: Counter[tuple[str, str]] = Counter()
    for move in (move for document in documents for move in document.moves):
        moved[move.material, move.site] += move.nano
    for material, site in sorted(key for key in held.keys() | moved.keys() if held[key] != moved[key]):
        yield f"The cost layers of {material} at {site} hold another amount than its moves."


_LOOKS: tuple[tuple[str, Callable[[Session], Iterable[str]]], ...] = (
    ("settings", _settings),
    ("lists", _lists),
    ("papers", _beside),
    ("deeds", _deeds),
)
