import pytest

from stockroom.errors import AmbiguousError, UnknownError
from stockroom.stock.finding import find

NAMES = {"TIP-S": "Heel tip small", "TIP-L": "Heel tip large", "CEM": "Contact cement", "CEMT": "Cement thinner"}


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("CEM", "CEM"),
        (" cem ", "CEM"),
        ("tip-l", "TIP-L"),
        ("small", "TIP-S"),
        ("tip large", "TIP-L"),
        ("contact cement", "CEM"),
    ],
)
def test_a_few_letters_find_the_one_thing_they_fit(typed: str, code: str) -> None:
    assert find("material", typed, NAMES) == code


def test_letters_that_fit_two_things_list_them() -> None:
    with pytest.raises(AmbiguousError) as caught:
        find("material", "tip", NAMES)
    assert caught.value.what == "'tip' fits more than one material."
    assert caught.value.fix == "Say which: TIP-L (Heel tip large); TIP-S (Heel tip small)."


def test_a_long_list_is_cut_and_says_so() -> None:
    many = {f"N{n:02d}": f"Nail {n}" for n in range(11)}
    with pytest.raises(AmbiguousError) as caught:
        find("material", "nail", many)
    assert caught.value.fix.endswith("N07 (Nail 7); and 3 more.")


def test_a_slip_of_the_finger_is_met_with_the_nearest_never_taken() -> None:
    with pytest.raises(UnknownError) as caught:
        find("material", "contct cemant", NAMES)
    assert caught.value.what == "No material fits 'contct cemant'."
    assert caught.value.fix == "Did you mean 'Contact cement'?"


def test_nothing_typed_names_what_there_is() -> None:
    with pytest.raises(UnknownError) as caught:
        find("job", "  ", {"HEELS": "Heel tips"})
    assert (caught.value.what, caught.value.fix) == (
        "No job was named.",
        "Give its code or a part of its name. There is: HEELS.",
    )


def test_an_empty_book_says_there_is_none() -> None:
    with pytest.raises(UnknownError) as caught:
        find("supplier", "north", {})
    assert caught.value.fix == "There is none yet."
