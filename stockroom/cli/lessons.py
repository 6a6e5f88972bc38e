"""What counts teach: listed, accepted, or kept as they are."""

from typing import TYPE_CHECKING

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter
from stockroom.errors import UsageError

if TYPE_CHECKING:
    from stockroom.flows.proposals import Offered


@click.command()
@click.option("--all", "every", is_flag=True, help="Also what the counts confirm, or can't tell yet.")
@click.option("--accept", metavar="JOB:LINE", help="Change the recipe from today to what the counts say.")
@click.option("--keep", metavar="JOB:LINE", help="Keep the recipe; it comes up again after new counts.")
@click.option("--on", "on", help="As of a day or moment [now].")
@desk.view
def lessons(
    counter: Counter, *, every: bool, accept: str | None, keep: str | None, on: str | None, as_json: bool
) -> None:
    """Show what counts say jobs really use, and answer their proposals."""
    from stockroom.flows import proposals as flows

    moment = desk.moment(on) if on else desk.now()
    if accept:
        done = flows.accept(counter.book, *_named(accept), moment)
        words = f"{done.job}, {done.line}: {done.after} instead of {done.before}, from {done.valid_from} on."
        facts = {"job": done.job, "line": done.line, "before": str(done.before), "after": str(done.after)}
        desk.tell(facts, words, as_json=as_json)
    elif keep:
        job, line = _named(keep)
        flows.keep_recipe(counter.book, job, line, moment)
        desk.tell({"job": job, "line": line, "answer": "kept"}, f"{job}, {line}: kept.", as_json=as_json)
    else:
        found = flows.offered(counter.book, moment)
        shown = [o for o in found if every or (o.proposal.verdict.value == "propose" and not o.answer)]
        none = "The counts propose no change."
        desk.tell([_facts(o) for o in shown], "\n".join(_words(o) for o in shown) or none, as_json=as_json)


def _named(text: str) -> tuple[str, str]:
    job, colon, line = text.partition(":")
    if not colon:
        raise UsageError(f"'{text}' names no recipe line.", fix="Write it like FULL:'cork filler'.")
    return job.strip(), line.strip()


def _words(o: "Offered") -> str:
    answer = f" ({o.answer})" if o.answer else ""
    return f"{o.words}{answer}\n  --accept '{o.key.job}:{o.key.line}'"


def _facts(o: "Offered") -> dict[str, object]:
    p = o.proposal
    return {
        "job": o.key.job,
        "line": o.key.line,
        "material": p.material,
        "recipe": p.recipe,
        "estimate": p.use.estimate,
        "low": p.use.low,
        "high": p.use.high,
        "uses": p.uses,
        "verdict": str(p.verdict),
        "extra_minor_units_per_job": p.extra,
        "ask_after_counts": p.ask_after,
        "cannot_be_told_from": list(p.blurred_with),
        "answer": o.answer,
        "words": o.words,
    }
