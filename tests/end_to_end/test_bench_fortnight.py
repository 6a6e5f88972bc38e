"""A fortnight at a bench of invented data, typed at the command line and tapped on the pages, held to the last unit.

Jobs change, are worked over two days, done without a recipe, sent by post, given up half-way; customers bring things
back. Shelf, cost layers, margins and work in progress must be what an independent account says.
"""

import csv
import json
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, Protocol

import pytest

from stockroom.flows import records
from stockroom.flows.accounts.period import make_accounts
from stockroom.margins.accounts import Accounts
from stockroom.margins.period import Period
from stockroom.store.book import Book, open_book
from stockroom.web.app import make_app
from stockroom.web.server import LOOPBACK, make_site
from stockroom.web.site import NAME
from tests.end_to_end.bench_model import BenchModel
from tests.end_to_end.shop import Indoors
from tests.unit.web.conftest import Asleep, Visitor

FIRST, MIDDLE, LAST = date(2026, 3, 2), date(2026, 3, 7), date(2026, 3, 14)

A_PAIR = (("HIDE", "10"), ("RAND", "1.6"), ("GLUE", "30"), ("BRAD", "24"), ("BLOCKS", "1"), ("BAND", "0.02"))
PAIRS = {"BLOCKS", "SOCK", "CORD"}  # the book keeps their two pieces

FILES = {
    "shop": "setting,value\nname,Lowfield Cobbling (invented)\ncurrency,GBP\nlocale,en_GB\nstart,2026-03-02\n"
    "tax_rate,20\nopen_weekdays,Mon Tue Wed Thu Fri Sat\n",
    "materials": "code,name,family,unit,purpose,sell price,usual cost,usual cost for\n"
    "HIDE,Prime sole leather,soling sheet,dm2,bench,,0.90,\n"
    "RAND,Welting strip,other,m,bench,,0.50,\n"
    "GLUE,Sole glue,cement,ml,bench,,2.00,100\n"
    "BRAD,Brass brads,fixings,piece,bench,,4.20,1000\n"
    "BLOCKS,Heel blocks,heel blocks,pair,bench,,5.50,\n"
    "SOCK,Insocks,other,pair,both,3.60,1.20,\n"
    "CORD,Waxed cord laces,laces,pair,both,4.00,1.20,\n"
    "CREAM,Shoe cream,care,piece,counter,7.00,2.50,\n"
    "CARTON,Parcel carton,packaging,piece,bench,,1.50,\nBAND,Scouring band,abrasives,piece,bench,,3.00,\n",
    "jobs": "code,name,family,price,bench minutes,sized\nPREMIUM,Premium resole,soles,95.00,80,yes\n"
    "TIPS,Heel tips,heels,12.00,10,\nDARN,Darn a lining,,14.00,20,\n",
    "recipes": "job,valid from,reference size,line,choice,option,material,amount,unit,per,grows with size,waste %,coats,"
    "machine,machine minutes,life in hours\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,band,,,BAND,1,piece,pair,fixed,,,finisher,6,5\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,sole,,,HIDE,8,dm2,pair,area,25,\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,rand,,,RAND,1.6,m,pair,fixed,,\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,gluing,,,GLUE,15,ml,pair,fixed,,2\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,brads,,,BRAD,24,piece,pair,fixed,,\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,new heel,heel,new,BLOCKS,1,pair,pair,fixed,,\n"
    "PREMIUM,2026-01-01,EU 43 = UK 9,old heel,heel,kept,,,,pair,fixed,,\n"
    "TIPS,2026-01-01,,tip glue,,,GLUE,5,ml,pair,fixed,,\n"
    "TIPS,2026-01-01,,tip brads,,,BRAD,10,piece,pair,fixed,,\n",
    "opening": "material,amount,day,value\nHIDE,60,2026-03-02,54.01\nRAND,30,2026-03-02,15.00\nGLUE,500,2026-03-02,\n"
    "BRAD,1500,2026-03-02,\nBLOCKS,6,2026-03-02,33.00\nSOCK,10,2026-03-02,12.00\nCORD,5,2026-03-02,6.01\n"
    "CREAM,8,2026-03-02,20.00\nCARTON,9,2026-03-02,13.50\nBAND,3,2026-03-02,9.00\n",
    "services": "code,machine,what is done,every hours\nDUST,finisher,Empty the dust bag,1\n",
    "suppliers": "code,name,lead days\nTAN,Tanner and Tail (invented),3\n",
}


class Door(Protocol):
    """How things are entered: typed or tapped."""

    def at(self, when: str) -> None: ...

    def take_in(self, job: str, **facts: str) -> str: ...

    def change(self, ticket: str, **facts: str) -> None: ...

    def use(self, ticket: str, *lines: str, pairs: str = "") -> None: ...

    def finish(self, ticket: str, **facts: str) -> int: ...

    def finish_job(self, job: str, **facts: str) -> str: ...

    def begin(self, ticket: str) -> None: ...

    def pause(self, ticket: str) -> None: ...

    def cancel(self, ticket: str, *back: str) -> None: ...

    def sell(self, *lines: tuple[str, str], **facts: str) -> int: ...

    def bring_back(self, material: str, many: str, sale: int, *, wasted: bool = False) -> None: ...

    def sent(self, parcel: str, cost: str = "") -> None: ...

    def undo(self, document: int) -> None: ...


@dataclass
class Typed:
    """At the command line."""

    desk: Indoors
    when: str = ""

    def at(self, when: str) -> None:
        self.when = when

    def do(self, *words: str) -> Any:
        done = self.desk(*words, "--json", now=self.when)
        assert done.code == 0, done.err
        return done.facts

    def take_in(self, job: str, **facts: str) -> str:
        return str(self.do("take-in", job, *_options(facts))["ticket"])

    def change(self, ticket: str, **facts: str) -> None:
        assert self.do("change-ticket", ticket, *_options(facts))["changed"]

    def use(self, ticket: str, *lines: str, pairs: str = "") -> None:
        self.do("use", ticket, *lines, *(["--pairs", pairs] if pairs else []))

    def finish(self, ticket: str, **facts: str) -> int:
        return int(self.do("finish", ticket, *_options(facts))["document"])

    def finish_job(self, job: str, **facts: str) -> str:
        return str(self.do("finish", job, *_options(facts))["ticket"])

    def begin(self, ticket: str) -> None:
        self.do("begin", ticket)

    def pause(self, ticket: str) -> None:
        self.do("pause", ticket)

    def cancel(self, ticket: str, *back: str) -> None:
        self.do("cancel", ticket, "--wasted", *(word for line in back for word in ("--back", line)))

    def sell(self, *lines: tuple[str, str], **facts: str) -> int:
        return int(self.do("sell", *(f"{code}={many}" for code, many in lines), *_options(facts))["document"])

    def bring_back(self, material: str, many: str, sale: int, *, wasted: bool = False) -> None:
        self.do("customer-return", material, many, "--sale", str(sale), *(["--wasted"] if wasted else []))

    def sent(self, parcel: str, cost: str = "") -> None:
        self.do("sent", *parcel.split(), *(["--post-cost", cost] if cost else []))

    def undo(self, document: int) -> None:
        self.do("undo", str(document))


_CLI = {"heel": "--with", "extra": "--add", "leave": "--leave-out"}


def _options(facts: dict[str, str]) -> list[str]:
    words = []
    for name, text in facts.items():
        option = _CLI.get(name, "--" + name.replace("_", "-"))
        words += [option, f"heel={text}" if name == "heel" else text]
    return words


@dataclass
class Tapped:
    """On the pages."""

    book: Book
    visitor: Visitor
    clock: list[datetime]
    extras: list[str] = field(default_factory=list)

    def at(self, when: str) -> None:
        self.clock[0] = datetime.fromisoformat(when)

    def newest(self, kind: str) -> Any:
        found = records.documents(self.book)
        numbers = [n for n, k in zip(found["id"], found["kind"], strict=True) if str(k) == kind]
        at = found["id"].index(numbers[-1])
        return numbers[-1], found["subject"][at]

    def take_in(self, job: str, **facts: str) -> str:
        self.visitor.does("/tickets/take-in", job=job, **_fields(facts))
        return str(self.newest("take in")[1])

    def change(self, ticket: str, **facts: str) -> None:
        leave = facts.pop("leave", "")
        price, more = facts.pop("price", ""), ""
        card = records.tickets(self.book)
        known = next(each for each in card if each.number == ticket)
        if price.startswith("+"):
            more = str((known.price or 0) / 100 + float(price))
        lines = self.lines(ticket)
        self.visitor.does(
            "/tickets/change",
            number=ticket,
            **{"promised": known.promised.isoformat() if known.promised else ""}
            | _fields(facts)
            | {"price": more or price, "line": lines, "kept": [line for line in lines if line != leave]}
            | {"by_post": "1" if known.by_post else ""},
        )

    def lines(self, ticket: str) -> list[str]:
        import re

        return re.findall(r'name="line" value="([^"]+)"><input', self.visitor.reads(f"/tickets/card?number={ticket}"))

    def use(self, ticket: str, *lines: str, pairs: str = "") -> None:
        self.visitor.does("/tickets/use", number=ticket, line=list(lines), pairs=pairs)

    def finish(self, ticket: str, **facts: str) -> int:
        if facts:
            self.change(ticket, **facts)
        self.visitor.does("/tickets/finish", number=ticket)
        return int(self.newest("finish")[0])

    def finish_job(self, job: str, **facts: str) -> str:
        self.visitor.does("/tickets/finish-job", job=job, **_fields(facts))
        return str(self.newest("finish")[1])

    def begin(self, ticket: str) -> None:
        self.visitor.does("/tickets/begin", number=ticket)

    def pause(self, ticket: str) -> None:
        self.visitor.does("/tickets/pause", number=ticket)

    def cancel(self, ticket: str, *back: str) -> None:
        self.visitor.does("/tickets/cancel", number=ticket, wasted="1", back=list(back))

    def sell(self, *lines: tuple[str, str], **facts: str) -> int:
        pack, _, many = facts.pop("pack", "").partition("=")
        packed = {"pack": pack, "pack_amount": many} if pack else {}
        sold = {f"sell:{code}": many for code, many in lines}
        self.visitor.does("/counter/sell-together", **sold, **packed, **facts)
        return int(self.newest("counter sale")[0])

    def bring_back(self, material: str, many: str, sale: int, *, wasted: bool = False) -> None:
        gone = {"wasted": "1"} if wasted else {}
        self.visitor.does("/counter/return", material=material, amount=many, sale=str(sale), **gone)

    def sent(self, parcel: str, cost: str = "") -> None:
        self.visitor.does("/parcels/sent", parcel=parcel, post_cost=cost)

    def undo(self, document: int) -> None:
        self.visitor.does("/documents/undo", document=str(document), then="/")


def _fields(facts: dict[str, str]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, text in facts.items():
        if name == "extra":
            made["extra"], _, made["extra_amount"] = text.partition("=")
        elif name == "heel":
            made["choice:heel"] = text
        elif name == "leave":
            made["leave_out"] = text
        else:
            made[name] = text
    return made


def opening() -> BenchModel:
    """Give what lies on the shelf on the first morning; what has no value of its own is at its usual cost."""
    model = BenchModel()
    for code, amount, coins in (
        ("HIDE", "60", 5401), ("RAND", "30", 1500), ("GLUE", "500", 1000), ("BRAD", "1500", 630),
        ("BLOCKS", "6", 3300), ("SOCK", "10", 1200), ("CORD", "5", 601), ("CREAM", "8", 2000), ("CARTON", "9", 1350),
        ("BAND", "3", 900),
    ):  # fmt: skip
        model.comes(code, amount, coins)
    return model


@dataclass
class Told:
    """What the script did, in the model's words."""

    model: BenchModel
    done: dict[str, tuple[int, int]]  # finished ticket: price and post, in coins
    sold: dict[str, int]  # sale: paid in coins
    minutes: dict[str, int] = field(default_factory=dict)  # at the bench
    half_way: int = 0  # work in progress at the end of the first week


def first_week(door: Door, model: BenchModel, receive: Callable[[str], None]) -> Told:
    """Take in, work half-way, sell, be brought something back, and give two jobs up."""
    told = Told(model, {}, {})
    door.at("2026-03-02T10:00:00")
    premium = door.take_in("PREMIUM", size="EU 43", heel="kept", post_cost="8.25", promised="2026-03-10")
    door.use(premium, "sole", "rand")
    model.draws(premium, "HIDE", "10")  # 8 dm2 and a quarter for cutting, at the reference size
    model.draws(premium, "RAND", "1.6")
    door.begin(premium)
    door.at("2026-03-02T10:40:00")
    door.pause(premium)
    door.at("2026-03-02T12:00:00")
    sale = door.sell(("CORD", "2"), ("SOCK", "1"), discount="10%")
    model.draws("first sale", "CORD", "2")
    model.draws("first sale", "SOCK", "1")
    told.sold["first sale"] = 1044  # 8.00 and 3.60, less a tenth
    door.at("2026-03-03T09:00:00")
    receive("2026-03-03T09:00:00")
    model.comes("HIDE", "100", 12000, 434783)  # carriage of 5.00 is spread by cost, 12000 to 1800
    model.comes("CORD", "12", 1800, 65217)
    door.at("2026-03-03T10:00:00")
    pairs = door.take_in("PREMIUM", size="UK 9", shoes="4") if isinstance(door, Tapped) else door.take_in(
        "PREMIUM", size="UK 9", pairs="2"
    )  # fmt: skip
    tips = door.take_in("TIPS")
    door.at("2026-03-04T09:00:00")
    door.change(premium, extra="SOCK=1 pair", price="+6.00", promised="2026-03-12")
    door.use(pairs, pairs="1")
    for material, amount in A_PAIR:
        model.draws(pairs, material, amount)
    door.begin(premium)
    door.at("2026-03-04T09:20:00")
    door.begin(tips)  # while the glue of the other dries: from here on two share one pair of hands
    door.at("2026-03-04T09:40:00")
    door.pause(premium)
    door.pause(tips)
    told.minutes = {premium: 40 + 20 + 10, tips: 10, pairs: 2 * 80}  # the last by the price list
    door.at("2026-03-04T15:00:00")
    gone = door.take_in("PREMIUM", size="EU 43", heel="kept")
    door.use(gone, "sole", "rand")
    model.draws(gone, "HIDE", "10")
    model.draws(gone, "RAND", "1.6")
    door.at("2026-03-05T09:00:00")
    door.cancel(gone, "rand")
    model.gives_back(gone, "RAND", "1.6")
    model.gives_back(gone, "HIDE", "10")
    model.wastes("HIDE", "10")
    door.at("2026-03-05T11:00:00")
    door.bring_back("CORD", "1", sale)
    model.gives_back("first sale", "CORD", "1")
    told.sold["first back"] = -360
    door.at("2026-03-06T10:00:00")
    door.finish(premium)
    model.draws(premium, "GLUE", "30")
    model.draws(premium, "BRAD", "24")
    model.draws(premium, "SOCK", "1")
    model.draws(premium, "BAND", "0.02")  # six minutes of five hours
    told.done[premium] = (10100, 825)
    door.at("2026-03-06T16:00:00")
    door.sent(premium)
    told.half_way = model.cost(pairs)
    told.done[pairs] = (19000, 0)  # two pairs at 95.00; finished next week
    told.done[tips] = (1100, 0)
    return told


def second_week(door: Door, told: Told) -> None:
    """Finish what is left, without a recipe too, undo a finish, sell by post, and be brought something spoilt back."""
    model, (premium, pairs, tips) = told.model, list(told.done)
    assert premium
    door.at("2026-03-09T09:00:00")
    darned = door.finish_job("DARN", extra="RAND=0.5 m")
    model.draws(darned, "RAND", "0.5")
    told.done[darned] = (1400, 0)
    strap = door.finish_job("OTHER", price="25.00", note="Resew a strap", extra="BRAD=6 piece")
    model.draws(strap, "BRAD", "6")
    told.done[strap] = (2500, 0)
    door.at("2026-03-10T09:00:00")
    door.finish(pairs)
    for material, amount in A_PAIR:
        model.draws(pairs, material, amount)
    door.at("2026-03-11T09:00:00")
    document = door.finish(tips)
    door.undo(document)
    door.at("2026-03-11T11:00:00")
    door.finish(tips, leave="tip brads", price="11.00")
    model.draws(tips, "GLUE", "5")
    door.at("2026-03-12T10:00:00")
    posted = door.sell(("CREAM", "3"), post_cost="4.20", pack="CARTON=1 piece")
    model.draws("second sale", "CREAM", "3")
    model.draws("second sale", "CARTON", "1")
    told.sold["second sale"] = 2100
    door.at("2026-03-12T15:00:00")
    door.sent(f"sale {posted}")
    door.at("2026-03-13T10:00:00")
    door.bring_back("CREAM", "1", posted, wasted=True)
    model.gives_back("second sale", "CREAM", "1")
    model.wastes("CREAM", "1")
    told.sold["second back"] = -700


def agrees(book: Book, told: Told, accounts: Accounts) -> None:
    """Hold shelf, layers, margins and sales to the model, to the last unit."""
    model = told.model
    layers: dict[str, list[tuple[int, int]]] = {}
    for each in records.cost_layers(book, LAST):
        layers.setdefault(each.standing.material, []).append((each.standing.nano, each.standing.value))
    wanted = {code: [(nano * (2 if code in PAIRS else 1), value) for nano, value in found]
              for code, found in model.layers().items()}  # fmt: skip
    assert {code: sorted(found) for code, found in layers.items()} == {c: sorted(f) for c, f in wanted.items()}
    work = {line.ticket: line for line in accounts.work.lines}
    assert set(work) == set(told.done)
    for ticket, (price, post) in told.done.items():
        line = work[ticket]
        assert line.net + line.tax == price, ticket
        assert line.post == post * 1000, ticket
        assert line.materials == model.cost(ticket), ticket
        assert line.margin == line.net * 1000 - model.cost(ticket) - post * 1000
    assert {ticket: work[ticket].minutes for ticket in told.minutes} == told.minutes
    assert accounts.work.earlier == 0
    assert sum(sale.net + sale.tax for sale in accounts.sales) == sum(told.sold.values())
    assert sum(sale.post for sale in accounts.sales) == 420
    assert sum(each.value for each in accounts.write_offs) == -model.wasted
    assert accounts.in_progress == (0, 0)


def load(folder: Path, desk: Indoors) -> None:
    """Write the shop's files, and load them."""
    for stem, text in FILES.items():
        (folder / f"{stem}.csv").write_text(text, "utf-8")
        assert list(csv.reader(text.splitlines()))
    desk.says("load", str(folder))


def receiver(desk: Indoors) -> Callable[[str], None]:
    """Give what enters the delivery; its costs are read on what it says."""

    def receive(when: str) -> None:
        words = ("receive", "--from", "TAN", "HIDE=100 dm2:120.00", "CORD=12 pair:18.00", "--carriage", "5.00")
        said = desk(*words, "--json", now=when).facts
        costs = {line["material"]: (line["cost"], line["landed_cost"]) for line in said["lines"]}
        assert costs == {"HIDE": ("120.00", "124.35"), "CORD": ("18.00", "18.65")}

    return receive


@pytest.mark.parametrize("how", ["typed", "tapped"])
def test_a_fortnight_comes_out_as_an_independent_account_says(
    how: str, empty: Indoors, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("STOCKROOM_NOW", raising=False)
    desk = Indoors(empty.place, now="2026-03-02T09:30:00")
    (tmp_path / "files").mkdir()
    load(tmp_path / "files", desk)
    model, receive = opening(), receiver(desk)
    with closing(open_book(str(desk.place))) as book:
        clock = [datetime(2026, 3, 2, 9, 30)]
        door: Door = Typed(desk) if how == "typed" else Tapped(book, _visitor(book, clock), clock)
        told = first_week(door, model, receive)
        week = make_accounts(book, Period(first=FIRST, last=MIDDLE))
        assert week.in_progress == (0, told.half_way)
        moved = {(line.account, line.debit, line.credit) for line in week.journal if line.memo == "work in progress"}
        coins = (told.half_way + 500) // 1000
        assert moved == {("work in progress", coins, 0), ("materials used", 0, coins)}
        second_week(door, told)
        accounts = make_accounts(book, Period(first=FIRST, last=LAST))
        agrees(book, told, accounts)
        later = make_accounts(book, Period(first=date(2026, 3, 8), last=LAST))
        line = next(line for line in later.work.lines if line.ticket == list(told.done)[1])
        assert line.materials == model.cost(line.ticket)  # begun the week before, and borne by the week it is finished
        assert later.in_progress == (told.half_way, 0)
        desk.says("check")
        (service,) = desk("services", "--json", now="2026-03-14T12:00:00").facts
        assert (service["hours"], service["due"]) == (0.3, False), "three pairs of six minutes"
        shelf = json.loads(desk("shelf", "--json").out)["rows"]
        assert len(shelf) == len(model.on_hand())


def _visitor(book: Book, clock: list[datetime]) -> Visitor:
    from dataclasses import replace

    site = replace(make_site(book, LOOPBACK, Asleep()), now=lambda: clock[0])
    app = make_app(site)
    app.extensions[NAME] = site
    return Visitor(app.test_client())
