import json
from datetime import datetime
from pathlib import Path

from stockroom.flows.bench.parcels import price_list
from stockroom.flows.bench.tickets import booked
from stockroom.flows.book.check import check
from stockroom.flows.counts.settle import take_count
from stockroom.flows.loading.load import LoadReport, load_files
from stockroom.flows.posting.undo import undo
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.tickets import TicketState
from stockroom.store import ledger, tickets
from stockroom.store.book import Book
from tests import build

NOW = datetime(2026, 3, 1, 18, 0)
HEAD = {
    "past-jobs": "ticket,taken in,finished,job,size,price",
    "deliveries": "reference,supplier,received,material,amount,unit,cost",
    "sales": "when,material,amount,unit,price,receipt",
    "waste": "when,material,amount,unit,reason,lot",
    "counts": "counted at,material,amount,unit,sheet",
}


def _load(book: Book, folder: Path, **files: str) -> LoadReport:
    paths = []
    for name, rows in files.items():
        stem = name.replace("_", "-")
        paths.append(folder / f"{stem}.csv")
        paths[-1].write_text(f"{HEAD[stem]}\n{rows}\n", "utf-8")
    return load_files(book, paths, NOW)


def _documents(book: Book, kind: DocumentKind) -> list[Document]:
    with book.reading() as session:
        return ledger.read_documents(session, kinds=[kind])


def test_a_receipt_and_a_lot_reach_the_documents(open_shop: Book, tmp_path: Path) -> None:
    _load(open_shop, tmp_path, sales="2026-02-01 10:00,POLISH,1,piece,6.50,R-17",
          waste="2026-02-02 10:00,CEMENT,40,ml,skinned over,L-9")  # fmt: skip
    assert _documents(open_shop, DocumentKind.SALE)[0].content["receipt"] == "R-17"
    assert [move.lot for move in _documents(open_shop, DocumentKind.WASTE)[0].moves] == ["L-9"]


def test_a_blank_price_is_the_price_lists_or_the_tags_as_the_columns_say(open_shop: Book, tmp_path: Path) -> None:
    _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,,HEELS,,7.00",
          sales="2026-02-01 10:00,LACE-BLACK,2,pair,,\n2026-02-01 11:00,LACE-BLACK,2,pair,0,")  # fmt: skip
    assert [document.content.get("price") for document in _documents(open_shop, DocumentKind.SALE)] == [700, 0]
    rows = ("501,2026-02-01 10:00,2026-02-03,HEELS,,", "502,2026-02-01 10:00,2026-02-03,HEELS,,",
            "503,2026-02-01 10:00,2026-02-03,HEELS,,0")  # fmt: skip
    _load(open_shop, tmp_path, past_jobs="\n".join(rows))
    price_list = next(job.price for job in build.jobs() if job.code == "HEELS")
    prices = [document.content.get("price") for document in _documents(open_shop, DocumentKind.FINISH)]
    assert prices == [700, price_list, 0], "what was said at the counter holds, and a present stays one"


def test_a_finish_that_was_undone_is_not_brought_back_by_the_file(open_shop: Book, tmp_path: Path) -> None:
    row = "501,2026-02-01 10:00,2026-02-02 10:00,HEELS,,12.00"
    _load(open_shop, tmp_path, past_jobs=row)
    done = _documents(open_shop, DocumentKind.FINISH)[0]
    undo(open_shop, done.id or 0, build.stamp("2026-02-03"))
    report = _load(open_shop, tmp_path, past_jobs=row)
    ticket = booked(open_shop)[0]
    assert (ticket.number, ticket.state, ticket.finish_document) == ("501", TicketState.BOOKED, None)
    assert report.documents == 0
    why = f"Ticket 501 stays open: document {done.id} was entered before and undone."
    assert report.notes == (f"{why} To have it back: stockroom undo {(done.id or 0) + 1}",)
    assert check(open_shop).faults == ()


def test_a_ticket_said_otherwise_is_named_and_left(open_shop: Book, tmp_path: Path) -> None:
    _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,2026-02-02 10:00,HEELS,,12.00")
    report = _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,2026-02-04 10:00,HEELS,,14.00")
    assert report.notes == ("Ticket 501 is in the book with another price, finished; nothing of it was changed.",)
    with open_shop.reading() as session:
        assert tickets.the_ticket(session, "501").price == 1200


def test_an_older_file_that_says_less_is_no_news(open_shop: Book, tmp_path: Path) -> None:
    _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,2026-02-02 10:00,HEELS,,12.00")
    assert _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,,HEELS,,").notes == ()


def test_a_delivery_said_otherwise_is_named_and_left(open_shop: Book, tmp_path: Path) -> None:
    row = "DN-1,NORTH,2026-02-01 09:00,THREAD,500,m,{}"
    first = _load(open_shop, tmp_path, deliveries=row.format("19.00"))
    assert _load(open_shop, tmp_path, deliveries=row.format("19.00")).notes == first.notes
    report = _load(open_shop, tmp_path, deliveries=row.format("21.00"))
    assert (
        report.notes[-1]
        == "Delivery DN-1 is already in the book with other details (document 3); nothing of it was changed."
    )


def test_a_count_said_otherwise_is_named_and_left(open_shop: Book, tmp_path: Path) -> None:
    row = "2026-02-01 18:00,FILLER,{},g,W5"
    _load(open_shop, tmp_path, counts=row.format(2000))
    assert _load(open_shop, tmp_path, counts=row.format(2000)).notes == ()
    report = _load(open_shop, tmp_path, counts=row.format(1800))
    assert report.notes == (
        "Count sheet W5 is already in the book with other details (FILLER); nothing of it was changed.",
    )


def test_many_that_differ_are_counted_not_listed(open_shop: Book, tmp_path: Path) -> None:
    def rows(price: int) -> str:
        return "\n".join(f"{n},2026-02-01 10:00,2026-02-02 10:00,HEELS,,{price}" for n in range(500, 560))

    _load(open_shop, tmp_path, past_jobs=rows(12))
    notes = _load(open_shop, tmp_path, past_jobs=rows(13)).notes
    assert len(notes) == 21
    assert notes[-1] == "… and 40 more of this kind."


def test_notes_are_fit_for_a_program(open_shop: Book, tmp_path: Path) -> None:
    take_count(open_shop, Count(key="W6", lines=(CountLine(
        material="FILLER", amount=build.amount("2 kg"), counted=build.at("2026-02-01")),)), build.stamp("2026-02-01"))  # fmt: skip
    report = _load(open_shop, tmp_path, counts="2026-02-08 18:00,FILLER,1900,g,W7")
    assert json.dumps(report.notes) == "[]"


def test_files_say_what_was_used_so_far_brought_back_and_posted(open_shop: Book, tmp_path: Path) -> None:
    _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,,HEELS,,7.00")
    (tmp_path / "postage.csv").write_text("code,name,cost,packaging\nBIG,Big box,8.25,TIP=1 pair\n", "utf-8")
    (tmp_path / "uses.csv").write_text(
        "when,ticket,material,amount,unit,line\n2026-02-02 16:00,501,TIP,1,pair,\n2026-02-02 16:00,501,THREAD,2,m,\n",
        "utf-8",
    )
    (tmp_path / "sales.csv").write_text(
        "when,material,amount,unit,price,receipt,returned,post cost\n2026-02-02,LACE-BLACK,4,pair,14.00,R-1,,4.20\n"
        "2026-02-03,LACE-BLACK,1,pair,3.50,R-1,into stock,\n2026-02-03,LACE-BLACK,1,pair,3.50,R-1,wasted,\n",
        "utf-8",
    )
    files = [tmp_path / f"{stem}.csv" for stem in ("postage", "uses", "sales")]
    first = load_files(open_shop, files, NOW)
    assert (first.documents, load_files(open_shop, files, NOW).documents) == (5, 0)
    (ticket,) = [t for t in booked(open_shop) if t.number == "501"]
    assert [(need.line, need.nano) for need in ticket.drawn] == [
        ("tips", build.nano("1 pair")),
        ("extra THREAD", build.nano("2 m")),
    ]
    _load(open_shop, tmp_path, past_jobs="501,2026-02-01 10:00,2026-02-04,HEELS,,7.00")
    (finish,) = _documents(open_shop, DocumentKind.FINISH)
    assert {move.recipe_line for move in finish.moves} == {"glue"}
    with open_shop.reading() as session:
        assert ledger.balances(session)["LACE-BLACK"] == build.nano("17 pair")  # four sold, two back, one of them waste
    assert [kind.cost for kind in price_list(open_shop)] == [825]
    assert check(open_shop).faults == ()
