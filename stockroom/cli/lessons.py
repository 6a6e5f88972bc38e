"""What jobs actually use by the counts: proposals listed, accepted, declined, or put off."""

from datetime import datetime
from typing import TYPE_CHECKING

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.errors import UsageError

if TYPE_CHECKING:
    from stockroom.flows.learning.proposals import Offered, Remark


@click.command()
@click.option("--all", "every", is_flag=True, help="Also what the counts confirm, or can't tell yet.")
@click.option("--accept", metavar="JOB:LINE", help="Change the recipe from today to what the counts say.")
@click.option("--keep", metavar="JOB:LINE", help="Keep the recipe; it comes up again when counts say something else.")
@click.option("--later", metavar="JOB:LINE", help="Ask again after three more counts.")
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day or moment [now].")
@desk.view
def usage(
    counter: Counter, *, every: bool, accept: str | None, keep: str | None, later: str | None, on: str | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Show what jobs actually use, going by the counts, and answer their proposals."""
    moment = desk.moment(on) if on else desk.now()
    given = {word: each for word, each in (("accept", accept), ("keep", keep), ("later", later)) if each}
    if len(given) > 1:
        raise UsageError("Only one answer at a time.", fix="Answer one proposal after the other.")
    for word, named in given.items():
        _answer(counter, word, _named(named), moment, as_json=as_json)
    if not given:
        desk.looked()
        _list(counter, moment, every=every, as_json=as_json)


def _answer(counter: Counter, word: str, line: tuple[str, str], moment: datetime, *, as_json: bool) -> None:
    from stockroom.flows.learning import proposals as flows

    facts: dict[str, object] = {"job": line[0], "line": line[1]}
    if word == "accept":
        done = flows.accept(counter.book, *line, moment)
        facts |= {"before": str(done.before), "after": str(done.after), "valid_from": done.valid_from}
        after, before = (counter.formats.amount(each.nano, done.unit) for each in (done.after, done.before))
        words = f"{done.job}, {done.line}: {after} instead of {before}, from {done.valid_from} on."
    elif word == "keep":
        flows.keep_recipe(counter.book, *line, moment)
        facts |= {"answer": "kept"}
        words = f"{line[0]}, {line[1]}: kept as it is."
    else:
        flows.ask_later(counter.book, *line, moment)
        facts |= {"answer": "later"}
        words = f"{line[0]}, {line[1]}: asked again after {flows.AGAIN_LATER} more counts."
    desk.tell(facts, words, as_json=as_json)


def _list(counter: Counter, moment: datetime, *, every: bool, as_json: bool) -> None:
    from stockroom.flows.learning.proposals import survey

    found = survey(counter.book, moment)
    shown, beside = [o for o in found.offered if every or o.wanted], found.remarks
    facts = {"proposals": [_facts(o) for o in shown], "remarks": [_remark(each) for each in beside]}
    words = [_words(o) for o in shown] or ["The counts propose no change."]
    words += ["", "Apart from the recipes:"] if beside else []
    desk.tell(facts, "\n".join([*words, *(each.words for each in beside)]), as_json=as_json)


def _named(text: str) -> tuple[str, str]:
    job, colon, line = text.partition(":")
    if not colon:
        raise UsageError(f"'{text}' names no recipe line.", fix="Write it like FULL:'cork filler'.")
    return job.strip(), line.strip()


def _words(o: "Offered") -> str:
    answer = f" ({o.answer})" if o.answer else ""
    how = f"\n  --accept '{o.key.job}:{o.key.line}'" if o.wanted else ""
    return f"{o.words}{answer}{how}"


def _facts(o: "Offered") -> dict[str, object]:
    p = o.proposal
    return {
        "job": o.key.job,
        "line": o.key.line,
        "materials": list(o.materials),
        "recipe": p.recipe,
        "estimate": p.use.estimate,
        "low": p.use.low,
        "high": p.use.high,
        "uses": p.uses,
        "counts": o.counts,
        "verdict": str(p.verdict),
        "extra_minor_units_per_job": p.extra,
        "extra_minor_units_a_year": o.yearly,
        "ask_after_counts": p.ask_after,
        "cannot_be_told_from": list(p.blurred_with),
        "answer": o.answer,
        "words": o.words,
    }


def _remark(each: "Remark") -> dict[str, object]:
    return {"material": each.material, "one_off": each.one_off, "minor_units": each.minor, "words": each.words}
