"""Phrases: English as any text, and what they were made of for whoever says them otherwise."""

import json
import pickle
from copy import deepcopy

from stockroom.errors import UsageError
from stockroom.phrases import Phrase, as_phrase, joined, phrase, plural, trimmed


def test_a_phrase_is_its_english_text() -> None:
    said = phrase("Order %(number)s is %(state)s.", number="O-1", state="closed")
    assert said == "Order O-1 is closed."
    assert f"{said} {len(said)}" == "Order O-1 is closed. 20"
    assert json.dumps([said]) == '["Order O-1 is closed."]'
    assert hash(said) == hash("Order O-1 is closed.")


def test_a_phrase_remembers_what_it_was_made_of() -> None:
    said = phrase("%(what)s of %(of)s", what="two", of=phrase("'%(name)s'", name="x"))
    assert said == "two of 'x'"
    assert (said.pattern, dict(said.facts)) == ("%(what)s of %(of)s", {"what": "two", "of": "'x'"})


def test_one_is_said_otherwise_than_none_or_many() -> None:
    told = [plural("%(num)s day, %(why)s", "%(num)s days, %(why)s", num, why="late") for num in (0, 1, 2)]
    assert told == ["0 days, late", "1 day, late", "2 days, late"]
    assert [each.number for each in told] == [0, 1, 2]


def test_a_text_without_facts_may_hold_a_per_cent_sign() -> None:
    assert as_phrase("More than 100 % is left.") == phrase("More than 100 % is left.") == "More than 100 % is left."
    assert phrase("90 %% of %(all)s", all=7) == "90 % of 7"


def test_texts_put_together_leave_out_the_empty_ones() -> None:
    said = joined(["Runs out.", "", phrase("Order %(n)s.", n=3)])
    assert said == "Runs out. Order 3."
    assert joined(["a", "b"], " 100 % ") == "a 100 % b"
    assert joined(["", ""]) == ""


def test_a_phrase_travels_between_processes_whole() -> None:
    said = plural("%(num)s bin of %(place)s", "%(num)s bins of %(place)s", 2, place=phrase("Rack %(n)s", n=1))
    for copy in (pickle.loads(pickle.dumps(said)), deepcopy(said)):  # noqa: S301 -- our own
        assert (copy, copy.pattern, copy.many, copy.number) == (said, said.pattern, said.many, 2)
        place = copy.facts["place"]
        assert isinstance(place, Phrase)
        assert place.pattern == "Rack %(n)s"


def test_a_sentence_that_goes_on_loses_its_stop() -> None:
    said = trimmed(phrase("No unit is called '%(name)s'.", name="ell"))
    assert said == "No unit is called 'ell'"
    assert (said.pattern, pickle.loads(pickle.dumps(said)).trim) == ("No unit is called '%(name)s'.", ".")  # noqa: S301
    assert trimmed("Plain...") == "Plain"


def test_what_an_error_says_can_be_said_in_another_language_too() -> None:
    wrong = UsageError(phrase("'%(text)s' is not a day.", text="x"), fix="Write it like 2026-03-31.")
    assert (wrong.what.facts, wrong.fix.pattern) == ({"text": "x"}, "Write it like 2026-03-31.")
    assert wrong.words == "'x' is not a day. Write it like 2026-03-31."
    assert UsageError("Only that.").words == "Only that."
