from stockroom.errors import Problem
from stockroom.show.problems import problem_facts, problem_lines


def _unknown(row: int, code: str) -> Problem:
    return Problem(what=f"No material has the code '{code}'", fix="Load it too.", file="sales.csv", row=row,
                   column="material", value=code)  # fmt: skip


def test_many_rows_alike_are_said_three_times_then_counted() -> None:
    lines = problem_lines([_unknown(row, f"X{row}") for row in range(2, 302)])
    assert lines[0].startswith("sales.csv, row 2, column 'material': No material has the code 'X2'")
    assert len(lines) == 4
    assert lines[3] == "  … and 297 more rows like these (to row 301)."


def test_few_faults_and_different_ones_are_all_said() -> None:
    four = [_unknown(row, "X") for row in range(2, 6)]
    other = Problem(what="The day is missing", file="sales.csv", row=9, column="when")
    assert problem_lines([*four, other]) == [str(problem) for problem in [*four, other]]


def test_a_program_gets_every_row() -> None:
    facts = problem_facts([_unknown(row, "X") for row in range(2, 302)])
    assert [fact["row"] for fact in facts] == list(range(2, 302))
