"""JSON for other programs: exact, and true to its published description."""

import json
from datetime import date
from typing import Any

import pytest

from stockroom.show.formats import Formats
from stockroom.show.tables.columns import REORDER, RUN_OUTS, SHELF
from stockroom.show.tables.schema import LISTS, reorder_json, run_out_json, schema_of, shelf_json
from tests.unit.show.samples import ORDERS, TODAY
from tests.unit.show.samples import RUN_OUTS as RUN_OUT_ROWS
from tests.unit.show.samples import SHELF as SHELF_ROWS


def written() -> dict[str, Any]:
    texts = {
        "shelf": shelf_json(SHELF_ROWS, as_of=TODAY),
        "run-outs": run_out_json(RUN_OUT_ROWS, as_of=TODAY),
        "reorder": reorder_json(ORDERS, Formats(), as_of=TODAY),
    }
    return {name: json.loads(text) for name, text in texts.items()}


@pytest.mark.parametrize("name", LISTS)
def test_document_keeps_to_its_published_schema(name: str) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    jsonschema.Draft202012Validator.check_schema(schema_of(name))
    jsonschema.validate(written()[name], schema_of(name), format_checker=jsonschema.FormatChecker())


@pytest.mark.parametrize("name", LISTS)
def test_empty_list_keeps_to_its_schema_too(name: str) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    empty = {
        "shelf": shelf_json([], as_of=TODAY),
        "run-outs": run_out_json([], as_of=TODAY),
        "reorder": reorder_json([], Formats(), as_of=TODAY),
    }
    jsonschema.validate(json.loads(empty[name]), schema_of(name))


def test_every_field_is_described() -> None:
    shelf, runs = (schema_of(name)["properties"]["rows"]["items"] for name in ("shelf", "run-outs"))
    lines = schema_of("reorder")["properties"]["suppliers"]["items"]["properties"]["lines"]["items"]
    for columns, described in ((SHELF, shelf), (RUN_OUTS, runs), (REORDER, lines)):
        assert [column.key for column in columns if column.key not in described["properties"]] == []
        assert all(field["description"] for field in described["properties"].values())


def test_amounts_and_money_are_exact_decimal_texts() -> None:
    row = written()["shelf"]["rows"][0]
    assert (row["on_hand"], row["free"], row["unit"], row["last_counted"]) == (
        "3.25",
        "3.13",
        "l",
        "2026-11-20T09:30:00",
    )
    supplier = written()["reorder"]["suppliers"][0]
    assert (supplier["goods"], supplier["total"], supplier["lines"][0]["cost"]) == ("107.50", "116.45", "62.50")


def test_currency_without_decimals_writes_none() -> None:
    document = json.loads(reorder_json(ORDERS, Formats(currency="JPY", digits=0), as_of=TODAY))
    assert document["currency"] == "JPY"
    assert document["suppliers"][0]["goods"] == "10750"


def test_day_beyond_the_outlook_is_null() -> None:
    row = written()["run-outs"]["rows"][1]
    assert (row["runs_out"], row["days_left"], row["chance_by_week"]) == (None, None, [0.03])


def test_day_is_the_one_asked_for() -> None:
    assert json.loads(shelf_json([], as_of=date(2026, 1, 2)))["as_of"] == "2026-01-02"


def test_unknown_list_is_a_programming_mistake() -> None:
    with pytest.raises(ValueError, match="no list is called 'stock'"):
        schema_of("stock")
