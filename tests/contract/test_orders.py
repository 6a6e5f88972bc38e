"""Every form of purchase order, those not yet written included."""

import csv
import re
from dataclasses import replace
from datetime import date, datetime
from email import message_from_bytes
from email.policy import default
from io import BytesIO, StringIO
from types import MappingProxyType
from urllib.parse import parse_qs, urlsplit

import pytest
from openpyxl import load_workbook

from stockroom.errors import UnknownError
from stockroom.show.formats import Formats
from stockroom.show.order_form import OrderFacts, OrderFormat
from stockroom.show.orders import by_name, order_format, order_formats
from stockroom.show.orders.eml import mail_link
from stockroom.stock.materials import Material
from stockroom.stock.orders import Order, OrderLine
from stockroom.stock.quantities import UNITS, quantity
from stockroom.stock.suppliers import Supplier

CEMENT = Material(
    code="CEM-01",
    name="Contact cement, all purpose",
    family="cement",
    unit=UNITS["l"],
    hazards=("H225", "H999"),
    flammable=True,
)
HEELS = Material(code="HEEL", name="-Rubber top piece, 45 mm", family="top pieces", unit=UNITS["pair"])
ORDER = Order(
    number="P-14",
    supplier="NORTH",
    placed=datetime(2026, 11, 25, 10, 0),
    expected=date(2026, 11, 30),
    carriage=895,
    note="Please ring before delivering.",
    lines=(
        OrderLine(
            material="CEM-01",
            supplier_code="=NG-4410",
            packs=2,
            pack=quantity("5 l"),
            cost=12500,
            pack_name="tin of 5 l",
        ),
        OrderLine(material="HEEL", supplier_code="NG-0045", packs=3, pack=quantity("10 pair"), cost=4510),
    ),
)
FACTS = OrderFacts(
    shop="The Last Bench",
    supplier=Supplier(code="NORTH", name="Northgate Findings", lead_days=3),
    materials=MappingProxyType({"CEM-01": CEMENT, "HEEL": HEELS}),
    formats=Formats(),
)
NAMES = sorted(order_formats())


def texts(name: str, order: Order = ORDER, facts: OrderFacts = FACTS) -> list[str]:
    """Give every word of a rendered order, whatever the form."""
    each = order_format(name)
    content = each.render(order, facts)
    if each.suffix == ".xlsx":
        book = load_workbook(BytesIO(content))
        return [
            str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row if cell is not None
        ]
    if each.suffix == ".eml":
        message = message_from_bytes(content, policy=default)
        body = message.get_body()
        return [str(message["Subject"]), body.get_content() if body else ""]
    text = content.decode("utf-8-sig")
    return [cell for row in csv.reader(StringIO(text, newline="")) for cell in row] if each.suffix == ".csv" else [text]


def test_the_usual_forms_are_found() -> None:
    assert {"text", "csv", "xlsx"} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
class TestEveryForm:
    def test_names_itself_and_its_file(self, name: str) -> None:
        assert re.fullmatch(r"\.[a-z0-9]+", order_format(name).suffix)
        assert re.fullmatch(r"[a-z][a-z0-9-]*", name)

    def test_gives_number_codes_packs_and_figures(self, name: str) -> None:
        written = " ".join(texts(name))
        for part in ("P-14", "NG-4410", "NG-0045", "tin of 5 l", "10 pairs", "Contact cement, all purpose"):
            assert part in written
        for figure in ("125", "45.1", "8.95", "179.05"):
            assert figure in written

    def test_carries_the_cautions_of_solvent_goods(self, name: str) -> None:
        written = re.sub(r"\s+", " ", " ".join(texts(name)))
        assert "flammable: check local rules and your insurer" in written
        assert "H225 highly flammable liquid and vapour; H999" in written

    def test_same_order_same_words(self, name: str) -> None:
        assert texts(name) == texts(name)

    def test_order_with_bare_facts_renders(self, name: str) -> None:
        bare = replace(ORDER, expected=None, note="", carriage=0, lines=ORDER.lines[1:])
        assert "P-14" in " ".join(texts(name, bare))

    def test_currency_without_decimals_renders(self, name: str) -> None:
        facts = replace(FACTS, formats=Formats(currency="JPY", digits=0))
        assert "17905" in " ".join(texts(name, ORDER, facts)).replace(",", "")

    def test_material_missing_from_the_facts_is_a_programming_mistake(self, name: str) -> None:
        with pytest.raises(ValueError, match=r"order P-14: facts lack the materials \['CEM-01', 'HEEL'\]"):
            order_format(name).render(ORDER, replace(FACTS, materials={}))


def test_two_forms_of_one_name_are_refused() -> None:
    each = OrderFormat(name="text", suffix=".txt", render=lambda _order, _facts: b"")
    with pytest.raises(ValueError, match="two forms of order are called 'text'"):
        by_name([each, each])


def test_unknown_form_is_named_with_the_nearest() -> None:
    with pytest.raises(UnknownError) as caught:
        order_format("txet")
    assert (caught.value.what, caught.value.fix) == (
        "No form of order is called 'txet'.",
        "Did you mean 'text'?",
    )


class TestText:
    def test_reads_as_a_letter(self) -> None:
        assert texts("text")[0].split("\n\n")[:4] == [
            (
                "Order P-14\nTo: Northgate Findings\nFrom: The Last Bench\n"
                "Date: Wed 25 Nov 2026\nExpected by: Mon 30 Nov 2026"
            ),
            "1. =NG-4410  Contact cement, all purpose\n   2 x tin of 5 l at €62.50: €125.00",
            "2. NG-0045  -Rubber top piece, 45 mm\n   3 x 10 pairs at about €15.03: €45.10",
            "Goods: €170.10\nCarriage: €8.95\nTotal before tax: €179.05",
        ]

    def test_keeps_within_what_mail_leaves_unbroken(self) -> None:
        assert max(len(line) for line in texts("text")[0].splitlines()) <= 72


class TestCsv:
    def rows(self) -> list[list[str]]:
        text = order_format("csv").render(ORDER, FACTS).decode("utf-8-sig")
        return list(csv.reader(StringIO(text, newline=""), strict=True))

    def test_lines_end_as_rfc_4180_says_and_fields_with_commas_are_quoted(self) -> None:
        """RFC 4180, section 2, rules 1, 6 and 7 (from memory)."""
        content = order_format("csv").render(ORDER, FACTS)
        assert content.count(b"\r\n") == content.count(b"\n") == 5
        assert b'"Contact cement, all purpose"' in content

    def test_text_that_could_be_a_formula_is_guarded_and_figures_are_not(self) -> None:
        """CWE-1236 and OWASP ASVS 5.1.2: text beginning with = + - @ TAB or CR."""
        rows = self.rows()
        assert rows[1][2] == "'=NG-4410"
        assert rows[2][3] == "'-Rubber top piece, 45 mm"
        assert rows[2][8:10] == ["15.0333", "45.10"]

    @pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r", " ="])
    def test_every_risky_beginning_is_guarded(self, first: str) -> None:
        materials = {**FACTS.materials, "HEEL": replace(HEELS, name=f"{first}1+1")}
        name = texts("csv", ORDER, replace(FACTS, materials=materials))[12 * 2 + 3]
        assert name.startswith("'")
        assert "\r" not in name
        assert "\t" not in name

    def test_lines_carriage_and_total_are_told_apart(self) -> None:
        assert [row[1] for row in self.rows()] == ["line", "1", "2", "carriage", "total"]


class TestXlsx:
    def test_codes_stay_text_and_costs_are_numbers(self) -> None:
        sheet = load_workbook(BytesIO(order_format("xlsx").render(ORDER, FACTS)))["Order"]
        top = next(row for row in range(1, 20) if sheet.cell(row, 1).value == "Your code")
        code, cost = sheet.cell(top + 1, 1), sheet.cell(top + 1, 8)
        assert (code.value, code.data_type) == ("=NG-4410", "s")
        assert (cost.value, cost.data_type, cost.number_format) == (125, "n", "#,##0.00")
        assert sheet.cell(top + 2, 7).value == 15.0333
        assert sheet.freeze_panes == f"A{top + 1}"


class TestEmail:
    """RFC 5322 and RFC 6068, read back by Python's own parsers."""

    MAIL = replace(FACTS, supplier=replace(FACTS.supplier, email="orders@north.example"))

    def test_is_addressed_and_carries_the_spreadsheet(self) -> None:
        message = message_from_bytes(order_format("eml").render(ORDER, self.MAIL), policy=default)
        assert (message["To"], message["Subject"]) == ("orders@north.example", "Order P-14, The Last Bench")
        (attached,) = message.iter_attachments()
        assert attached.get_filename() == "order-P-14.xlsx"
        assert load_workbook(BytesIO(attached.get_content()))["Order"]["B1"].value == "P-14"

    @pytest.mark.parametrize(
        "email", ["a@b.example\r\nBcc: c@d.example", "a@b.example\nX: y", "ä ö", "@", "a@b.example\0"]
    )
    def test_no_address_adds_a_heading_of_its_own(self, email: str) -> None:
        facts = replace(FACTS, supplier=replace(FACTS.supplier, email=email), shop="Shop\r\nCc: e@f.example")
        message = message_from_bytes(order_format("eml").render(ORDER, facts), policy=default)
        assert not {"Bcc", "Cc", "X"} & set(message.keys())

    def test_the_link_says_what_the_text_says(self) -> None:
        link = urlsplit(mail_link(ORDER, self.MAIL))
        said = parse_qs(link.query)
        assert (link.scheme, link.path, said["subject"]) == (
            "mailto",
            "orders@north.example",
            ["Order P-14, The Last Bench"],
        )
        assert said["body"][0].replace("\r\n", "\n") == texts("text")[0]
        assert "\n" not in said["body"][0].replace("\r\n", "")
