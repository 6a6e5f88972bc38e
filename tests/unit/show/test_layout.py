"""Columns on a terminal: alignment, width, wide letters, safe text."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.show.layout import COMFORTABLE, Head, TableLine, cells_wide, draw, plain_text, wrap

HEADS = (Head(text="Code"), Head(text="Name", flexible=True), Head(text="Price", right=True))


def lines(*rows: tuple[str, ...]) -> list[TableLine]:
    return [TableLine(cells=row) for row in rows]


def test_columns_align_and_figures_stand_to_the_right() -> None:
    assert draw(HEADS, lines(("A", "Nails", "1"), ("BB", "Cork", "12.50"))) == (
        "Code  Name   Price\n----  -----  -----\nA     Nails      1\nBB    Cork   12.50"
    )


def test_long_names_wrap_at_words_within_the_width() -> None:
    drawn = draw(HEADS, lines(("A", "Contact cement for rubber and leather", "1")), width=32)
    assert drawn.splitlines()[2:] == [
        "A     Contact cement for       1",
        "      rubber and leather",
    ]


def test_name_too_narrow_to_read_moves_under_its_row() -> None:
    drawn = draw(HEADS, lines(("A" * 20, "Contact cement for rubber", "1234567")), width=40)
    assert drawn.splitlines()[-1] == "    Contact cement for rubber"
    assert "Name" not in drawn


def test_a_first_column_too_narrow_to_read_names_its_row_above_it() -> None:
    heads = (Head(text="Job", flexible=True), Head(text="Done", right=True))
    drawn = draw(heads, lines(("Half soles and heel tops", "1" * 30)), width=36)
    assert drawn.splitlines()[-2:] == ["Half soles and heel tops", "1" * 30]


def test_empty_columns_are_left_out() -> None:
    assert "Name" not in draw(HEADS, lines(("A", "", "1")))


def test_no_width_means_as_wide_as_needed() -> None:
    name = "word " * 60
    assert name.strip() in draw(HEADS, lines(("A", name.strip(), "1")), width=None)


def test_wide_letters_take_two_columns_and_combining_marks_none() -> None:
    assert [cells_wide(text) for text in ("cork", "牛革", "e\N{COMBINING ACUTE ACCENT}")] == [4, 4, 1]


def test_wide_letters_keep_the_columns_straight() -> None:
    drawn = draw(HEADS, lines(("A", "牛革", "1"), ("B", "Nails", "2"))).splitlines()
    assert {cells_wide(line) for line in drawn} == {cells_wide(drawn[0])}


@pytest.mark.parametrize(
    ("text", "width", "lines"),
    [
        ("牛革 sole leather", 10, ["牛革 sole", "leather"]),
        ("牛革牛革牛革", 8, ["牛革牛革", "牛革"]),
        ("cafe\N{COMBINING ACUTE ACCENT} cork", 6, ["cafe\N{COMBINING ACUTE ACCENT}", "cork"]),
    ],
)
def test_wide_letters_wrap_where_they_must(text: str, width: int, lines: list[str]) -> None:
    assert wrap(text, width).splitlines() == lines


def test_control_marks_are_shown_and_not_obeyed() -> None:
    assert plain_text("a\x1b[2Jb\n\N{NO-BREAK SPACE}") == "a\ufffd[2Jb\ufffd\N{NO-BREAK SPACE}"


@pytest.mark.parametrize("text", ["", "one", "a sentence of several words that must be broken somewhere"])
def test_wrap_loses_no_word(text: str) -> None:
    assert wrap(text, 20).split() == text.split()


@given(
    st.lists(
        st.tuples(st.text(alphabet="ab ", max_size=8), st.text(alphabet="ab 牛é", max_size=60), st.just("12")),
        min_size=1,
        max_size=5,
    ),
    st.integers(COMFORTABLE + 24, 100),
)
def test_drawing_never_gets_wider_than_asked(rows: list[tuple[str, str, str]], width: int) -> None:
    drawn = draw(HEADS, lines(*rows), width=width)
    assert all(cells_wide(line) <= width for line in drawn.splitlines())
