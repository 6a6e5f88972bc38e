from pathlib import Path

import pytest

from stockroom.errors import BadFileError
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from stockroom.intake.sources import kind_of_file
from tests.nasty.small_shop import write

EVENTS = "name,day\nfair,2026-05-01\n"


def _load(*paths: str | Path) -> Loaded:
    return read_files(paths, BookFacts(), locale="en_IE", digits=2)


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("past-jobs.csv", "past-jobs"),
        ("Past Jobs.xlsx", "past-jobs"),
        ("past_jobs.csv", "past-jobs"),
        ("past-jobs-2025.csv", "past-jobs"),
        ("counts 2026-02.csv", "counts"),
        ("shop_2.csv", "shop"),
    ],
)
def test_a_file_is_recognised_by_its_name(name: str, stem: str) -> None:
    found = kind_of_file(Path(name))
    assert found is not None
    assert found.stem == stem


@pytest.mark.parametrize("name", ["shop-old.csv", "2025.csv", "my materials.csv", "recipe.csv", ".csv"])
def test_another_name_says_nothing(name: str) -> None:
    assert kind_of_file(Path(name)) is None


def test_a_folder_gives_what_is_named_and_notes_the_rest(tmp_path: Path) -> None:
    write(tmp_path, {"events": EVENTS, "event-list": "x\n", "readme.md": "x", "~$events.xlsx": "x", ".~lock.csv": "x"})
    (tmp_path / "closures.csv").mkdir()
    loaded = _load(tmp_path)
    assert loaded.events
    assert loaded.notes == ("event-list.csv: not named after a kind of file and passed over. Did you mean 'events'?",)


def test_a_file_named_twice_is_read_once(tmp_path: Path) -> None:
    write(tmp_path, {"events": EVENTS, "materials": "code,name,family,unit\nA,x,laces,pair\n"})
    write(tmp_path, {"sales": "when,material,amount\n2026-01-01,A,1\n"})
    loaded = _load(tmp_path, tmp_path / "sales.csv", f"sales={tmp_path / 'sales.csv'}")
    assert len(loaded.sales) == loaded.rows["sales"] == 1


def test_files_of_one_name_in_different_folders_are_different_files(tmp_path: Path) -> None:
    rows = "when,material,amount\n2026-01-01,A,1\n"
    write(tmp_path / "a", {"materials": "code,name,family,unit\nA,x,laces,pair\n", "sales": rows, "events": EVENTS})
    write(tmp_path / "b", {"sales": rows, "events": EVENTS.replace("fair", "fete")})
    loaded = _load(tmp_path / "a", tmp_path / "b")
    assert len(loaded.events) == 2
    assert len(loaded.sales) == 1


def test_the_kind_can_be_said(tmp_path: Path) -> None:
    write(tmp_path, {"list": EVENTS})
    assert _load(f"events={tmp_path / 'list.csv'}").events


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ("list.csv", "say materials=list.csv"),
        ("event=list.csv", "Did you mean 'events'?"),
        ("nowhere.csv", "doesn't say what it holds"),
        ("events.csv", "There is no such file"),
        ("events=", "There is no such file"),
        ("layout.toml=list.csv", "can't be opened"),
        ("events=a\0b.csv", "a\ufffdb.csv: There is no such file"),
        ("empty", "No file of the folder is named after what it holds"),
    ],
)
def test_what_cannot_be_found_is_said(stated: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    write(tmp_path, {"list": EVENTS})
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadFileError) as refused:
        _load(stated)
    (problem,) = refused.value.problems
    assert words in str(problem)


def test_files_that_do_not_exist_are_all_named(tmp_path: Path) -> None:
    with pytest.raises(BadFileError) as refused:
        _load(tmp_path / "events.csv", tmp_path / "jobs.csv", tmp_path / "hello.txt")
    assert {problem.file for problem in refused.value.problems} == {"events.csv", "jobs.csv", "hello.txt"}


def test_progress_is_told_now_and_then(tmp_path: Path) -> None:
    write(tmp_path, {"closures": "first\n" + "".join(f"20{y:02}-01-{d:02}\n" for y in range(50) for d in range(1, 29))})
    told: list[tuple[str, int, int | None]] = []
    read_files([tmp_path], BookFacts(), locale="en_IE", digits=2, progress=lambda *word: told.append(word))
    assert told == [("closures.csv", 500, 1402), ("closures.csv", 1000, 1402)]
