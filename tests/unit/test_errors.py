from stockroom.errors import BadFileError, Problem, StockroomError, nearest, shorten


def test_a_problem_says_where_what_and_how_to_mend_it() -> None:
    problem = Problem(
        what="Not a day",
        fix="Write it like 2026-01-31.",
        file="jobs.csv",
        sheet="January",
        row=7,
        column="finished",
        value="31/1",
    )
    assert str(problem) == (
        "jobs.csv, sheet January, row 7, column 'finished': Not a day (found: '31/1'). Write it like 2026-01-31."
    )


def test_a_problem_leaves_out_what_it_does_not_know() -> None:
    assert str(Problem(what="Empty file", file="jobs.csv")) == "jobs.csv: Empty file."


def test_a_refused_file_counts_its_problems() -> None:
    one, two = BadFileError([Problem(what="a")]), BadFileError([Problem(what="a"), Problem(what="b")])
    assert (str(one), str(two)) == ("1 problem found; nothing was loaded.", "2 problems found; nothing was loaded.")
    assert two.fix == "Correct the rows listed and load the file again."


def test_a_long_or_dangerous_value_is_cut_and_shown_not_obeyed() -> None:
    assert (
        shorten("a\x1b[2Jb\u202ec\n")
        == "a\N{REPLACEMENT CHARACTER}[2Jb\N{REPLACEMENT CHARACTER}c\N{REPLACEMENT CHARACTER}"
    )
    assert shorten("x" * 61) == "x" * 59 + "…"
    assert shorten("x" * 60) == "x" * 60


def test_the_nearest_word_is_suggested_in_its_own_case_or_none() -> None:
    assert nearest("cemnt", ["CEMENT", "THREAD"]) == "Did you mean 'CEMENT'?"
    assert nearest("xyz", ["CEMENT"]) == ""


def test_every_error_a_person_meets_ends_with_its_own_code() -> None:
    def family(kind: type[StockroomError]) -> list[type[StockroomError]]:
        return [kind, *(deeper for sub in kind.__subclasses__() for deeper in family(sub))]

    assert all(0 < kind.exit_code < 100 for kind in family(StockroomError))
