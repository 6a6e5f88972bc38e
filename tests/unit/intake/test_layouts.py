from datetime import date
from pathlib import Path

import pytest

from stockroom.errors import BadFileError
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from stockroom.intake.sources import read_layout
from stockroom.stock.materials import Material
from stockroom.stock.quantities import UNITS, unit
from stockroom.stock.suppliers import Offer, Supplier
from tests.nasty.workbooks import workbook

LAYOUT = """
locale = "de_DE"
[columns]
"supplier code" = "Nr."
pack = "Inhalt"
unit = "Einheit"
price = "Preis"
[always]
supplier = "NORTH"
"valid from" = "2026-01-01"
[words.unit]
Paar = "pair"
[materials]
"77" = "LACE"
"""
OLD = Offer(
    supplier="NORTH", material="GLUE", supplier_code="k-5", pack=unit("l").of(5), price=1, valid_from=date(2025, 1, 1)
)
KNOWN = BookFacts(
    suppliers={"NORTH": Supplier(code="NORTH", name="x", lead_days=1)},
    materials={
        "LACE": Material(code="LACE", name="x", family="laces", unit=UNITS["pair"]),
        "GLUE": Material(code="GLUE", name="x", family="cement", unit=UNITS["ml"]),
    },
    offers=[OLD],
)


def _load(folder: Path, text: str, name: str = "list.csv") -> Loaded:
    (folder / "north.toml").write_text(LAYOUT, "utf-8")
    if text:
        (folder / name).write_text(text, "utf-8")
    return read_files([f"{folder / 'north.toml'}={folder / name}"], KNOWN, locale="en_IE", digits=2)


def test_a_supplier_s_list_becomes_offers(tmp_path: Path) -> None:
    text = "Preisliste;;;\nNr.;Inhalt;Einheit;Preis\n77;12;Paar;1.234,50\nK-5;5;l;48,00\n99;1;l;3,00\n"
    loaded = _load(tmp_path, text)
    laces, glue = loaded.offers
    assert (laces.material, laces.supplier_code, laces.pack, laces.price) == ("LACE", "77", unit("pair").of(12), 123450)
    assert (glue.material, glue.pack, glue.price) == ("GLUE", unit("l").of(5), 4800)
    assert loaded.notes == ("list.csv: rows left out, of codes you don't keep: 1.",)


def test_a_workbook_s_codes_may_be_numbers(tmp_path: Path) -> None:
    workbook(tmp_path / "list.xlsx", [("Nr.", "Inhalt", "Einheit", "Preis"), (77, 12, "Paar", 9.5)], title="Liste")
    (offer,) = _load(tmp_path, "", "list.xlsx").offers
    assert (offer.supplier_code, offer.price) == ("77", 950)


def test_faults_of_a_list_are_told_by_its_own_rows(tmp_path: Path) -> None:
    with pytest.raises(BadFileError) as refused:
        _load(tmp_path, "Nr.;Inhalt;Einheit;Preis\n77;zwölf;Paar;1.50\n")
    assert [(problem.row, problem.column) for problem in refused.value.problems] == [(2, "pack"), (2, "price")]


def test_a_list_without_the_layout_s_headers_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadFileError) as refused:
        _load(tmp_path, "Nr.;Inhalt;Preis\n77;1;2\n")
    assert "No row holds the headers of the layout 'north'" in str(refused.value.problems[0])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[columns", "isn't TOML"),
        ("", "maps no columns"),
        ('kind = "prices"\n', "No kind of file is called 'prices'"),
        ('[columns]\nprize = "x"\n', "Did you mean 'price'?"),
        ("[columns]\nprice = 3\n", "'columns' must be a table of names"),
        ('columns = "price"\n', "'columns' must be a table of names"),
        ('[words]\nunit = "St"\n', "'words' must be a table of names"),
        ('[column]\nprice = "x"\n', "Did you mean 'columns'?"),
        ('locale = "zz_ZZ"\n[columns]\nprice = "x"\n', "'zz_ZZ' is not a locale"),
        ("\ud800", "isn't TOML"),
        ("a=" + "[" * 5_000, "isn't TOML"),
    ],
)
def test_a_layout_at_fault_is_refused(text: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with pytest.raises(BadFileError) as refused:
        read_layout(path)
    assert words in str(refused.value.problems[0])


def test_a_layout_far_too_large_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("#" * (2**20 + 1))
    with pytest.raises(BadFileError) as refused:
        read_layout(path)
    assert "too large" in str(refused.value.problems[0])
