"""What tables repeat of documents, held against them: tickets, orders and posted counts, fact by fact.

Documents say a ticket, an order or a count whole; how a ticket or an order stands follows from all of its documents,
which `check` looks at. Rows from before documents did so are known by a figure that the chain holds (`list_changes`).
What stands in no document: customers' names and the notes of tickets, so that they can be forgotten, and counts
that are not posted yet.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, cast

from stockroom.stock.moves import Document, DocumentKind, is_in_force
from stockroom.stock.orders import Order
from stockroom.stock.postings import count_facts, figure, order_facts, ticket_facts, untold_facts, with_facts
from stockroom.stock.recipes import Need
from stockroom.stock.tickets import Ticket, added_up
from stockroom.store import catalogue, counts, ledger, list_changes, orders, tickets
from stockroom.store.book import Session
from stockroom.store.counts import KeptLine

TICKETS = (DocumentKind.TAKE_IN, DocumentKind.FINISH, DocumentKind.REDO, DocumentKind.CANCEL)

Facts = Mapping[str, Any]
Older = Mapping[str, Mapping[str, str]]


def tickets_repeat(found: Iterable[Ticket], documents: Iterable[Document], older: Older) -> Iterator[str]:
    """Say which tickets are not as the last of their documents says them."""
    by_number = {document.id: document for document in documents}
    about = [document for document in documents if document.kind in TICKETS]
    said = {document.subject: document for document in about if "by_post" in document.content}
    told = {document.subject for document in about}
    changed, used = _changes(by_number), _uses(by_number)
    figures = dict(older.get("ticket", {}))
    for ticket in found:
        known, since = figures.pop(ticket.number, None), said.get(ticket.number)
        before = ticket
        for document, sides in reversed(changed.get(ticket.number, [])):
            if since is None or (document.id or 0) > (since.id or 0):
                before = with_facts(before, sides[0])
        yield from _disagreeing_changes(ticket, changed.get(ticket.number, []), since)
        facts = ticket_facts(before) if ticket.number in told else untold_facts(before)
        yield from _repeats(f"Ticket {ticket.number}", facts, since, known)
        if set(added_up(used.get(ticket.number, ()))) != set(ticket.drawn):
            yield f"Ticket {ticket.number} has used something else so far than its documents say."
    yield from (f"Ticket {number} is gone." for number in sorted(figures))


_Sides = tuple[Facts, Facts]  # what a ticket said before a document, and after it


def _changes(by_number: Mapping[int | None, Document]) -> dict[str, list[tuple[Document, _Sides]]]:
    """Give what changed each ticket, in the order of entry; a change undone changes it back."""
    found: dict[str, list[tuple[Document, _Sides]]] = defaultdict(list)
    for document in by_number.values():
        root, turned = document, False
        while root.reverses is not None and root.reverses in by_number:
            root, turned = by_number[root.reverses], not turned
        if root.kind is DocumentKind.TICKET_CHANGE:
            was, now = (cast("Facts", root.content.get(side, {})) for side in ("was", "now"))
            found[root.subject].append((document, (now, was) if turned else (was, now)))
    return found


def _uses(by_number: Mapping[int | None, Document]) -> dict[str, list[Need]]:
    """Give what each ticket has used so far; a reversal gives it back."""
    found: dict[str, list[Need]] = defaultdict(list)
    for document in by_number.values():
        root = document
        while root.reverses is not None and root.reverses in by_number:
            root = by_number[root.reverses]
        if root.kind is DocumentKind.USE:
            lines = [Need(line=m.recipe_line, material=m.material, nano=-m.nano) for m in document.moves if m.ticket]
            found[root.subject] += lines
    return found


def _disagreeing_changes(
    ticket: Ticket, changed: Sequence[tuple[Document, _Sides]], since: Document | None
) -> Iterator[str]:
    """Say where a ticket is not as the last document that changed a fact says."""
    last: dict[str, tuple[Document, object]] = {}
    for document, (_, now) in changed:
        if since is None or (document.id or 0) > (since.id or 0):
            last |= {fact: (document, value) for fact, value in now.items()}
    facts = ticket_facts(ticket)
    for fact, (document, value) in last.items():
        if facts[fact] != value:
            what = f"{_called(fact)} {_shown(facts[fact])}"
            yield f"Ticket {ticket.number} has {what}, where its document {document.id} says {_shown(value)}."


def orders_repeat(found: Iterable[Order], documents: Iterable[Document], older: Older) -> Iterator[str]:
    """Say which orders are not as placed, and which are closed on a day on which nothing was done about them."""
    about: dict[str, list[Document]] = defaultdict(list)
    for document in documents:
        about[document.subject].append(document)
    figures = dict(older.get("order", {}))
    for order in found:
        mine = about[order.number]
        placed = [d for d in mine if d.kind is DocumentKind.ORDER and "at_site" in d.content]
        known = figures.pop(order.number, None)
        yield from _repeats(f"Order {order.number}", order_facts(order), placed[0] if placed else None, known)
        if placed and order.placed != placed[0].happened:
            yield f"Order {order.number} is placed at another time than its document {placed[0].id} says."
        if order.closed is not None and order.closed not in {document.happened.date() for document in mine}:
            yield f"Order {order.number} is closed on {order.closed}, a day on which no document says so."
        if (order.closed is None) is (order.state not in orders.OPEN) and not _never_closed(order, mine):
            yield f"Order {order.number} is {order.state.label}, which its closing day does not fit."
    yield from (f"Order {number} is gone." for number in sorted(figures))


def _never_closed(order: Order, documents: Sequence[Document]) -> bool:
    """Say whether no document of an order says that it was closed: an older one may have come in closed."""
    return order.closed is None and all(document.kind is DocumentKind.ORDER for document in documents)


def counts_repeat(found: Iterable[KeptLine], documents: Sequence[Document], older: Older) -> Iterator[str]:
    """Say which posted counts are not as their documents say, which are gone, and which no document posted."""
    by_number = {document.id: document for document in documents}
    taken = {each.reverses: each.id or 0 for each in documents if each.reverses is not None}
    figures = dict(older.get("count", {}))
    posted: dict[int, list[Facts]] = defaultdict(list)
    for kept in found:
        facts = count_facts(kept.line)
        known = figures.pop(str(kept.id), None)
        if known is not None and known != figure(facts | {"sheet": kept.sheet}):
            yield f"The count {kept.id} of {kept.line.material} was changed."
        if kept.state == "settled" and known is None:
            posted[_root(kept.settled_by, by_number)].append(facts | {"sheet": kept.sheet})
    yield from (f"The count {number}, which was posted, is gone." for number in sorted(figures))
    for document in documents:
        if document.kind is DocumentKind.COUNT and "lines" in document.content and is_in_force(document.id or 0, taken):
            yield from _counted(document, posted.pop(document.id or 0, []))
    for number, lines in posted.items():
        yield f"Counts of {lines[0]['material']} are posted by document {number}, which does not say them."


def _counted(document: Document, lines: Sequence[Facts]) -> Iterator[str]:
    content: Mapping[str, Any] = document.content
    said = [{**line, "sheet": document.subject} for line in content["lines"]]
    said_figures, there = sorted(map(figure, said)), sorted(map(figure, lines))
    if said_figures != there:
        missing = len(said) - len(lines)
        what = f"{missing} are gone" if missing > 0 else "some were changed"
        yield f"The counts posted by document {document.id} are not as it says: {what}."


def _root(number: int | None, by_number: Mapping[int | None, Document]) -> int:
    """Follow reversals back to the document that posted a count first."""
    document = by_number.get(number)
    while document is not None and document.reverses is not None:
        document = by_number.get(document.reverses)
    return (document.id or 0) if document is not None else 0


def _repeats(name: str, facts: Mapping[str, object], document: Document | None, known: str | None) -> Iterator[str]:
    """Hold a row against the document that says it whole, or against the figure kept of it."""
    if document is None:
        if known is None:
            yield f"{name} is there, but no document tells of it."
        elif known != figure(facts):
            yield f"{name} is not as it was when the book took it over."
        return
    for fact, value in facts.items():
        said = document.content.get(fact)
        if (said or None) != (value or None) and said != value:
            yield f"{name} has {_called(fact)} {_shown(value)}, where its document {document.id} says {_shown(said)}."


def _called(fact: str) -> str:
    return fact.removeprefix("at_").replace("_", " ")


def _shown(value: object) -> str:
    return "nothing" if value in (None, "", {}, []) else f"'{value}'"


def figures_of_older(session: Session) -> Mapping[str, Mapping[str, str]]:
    """Give a figure of every ticket, order and posted count: how a book of an older version joins in."""
    dimensions = catalogue.dimensions(session)
    told = {d.subject for d in ledger.read_documents(session, kinds=TICKETS, with_moves=False)}
    every = tickets.read_tickets(session)
    return {
        "ticket": {t.number: figure(ticket_facts(t) if t.number in told else untold_facts(t)) for t in every},
        "order": {order.number: figure(order_facts(order)) for order in orders.read_orders(session, dimensions)},
        "count": {
            str(kept.id): figure(count_facts(kept.line) | {"sheet": kept.sheet})
            for kept in counts.read_lines(session, dimensions, state="settled")
        },
    }


def join_in(session: Session) -> None:
    """Say all that stands in the tables of a book whose documents did not say it yet, and where its ledger ends."""
    if ledger.kept_end(session) is None:
        ledger.keep_end(session, *ledger.head(session))
    older = {} if list_changes.said_any(session) else figures_of_older(session)  # what came since, its documents say
    list_changes.take_over(session, older)
