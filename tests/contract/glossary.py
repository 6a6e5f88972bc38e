"""One word for one thing: the concepts a person meets, what each is called, and what it is called nowhere any more.

The table of them stands in DEVELOPERS.md. Run to write it anew: python -m tests.contract.glossary
"""

import re
from dataclasses import dataclass
from pathlib import Path

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"
BEGINS, ENDS = "<!-- glossary: begins -->", "<!-- glossary: ends -->"


@dataclass(frozen=True, slots=True, kw_only=True)
class Concept:
    """A thing that people read of; `never` is what it was called before, as a pattern for texts."""

    english: str
    german: str
    code: str = ""  # what the code, the book and programs call it, where they do otherwise
    column: str = ""  # in the files a shop fills in
    command: str = ""
    never: str = ""


CONCEPTS = (
    Concept(english="Document", german="Beleg", command="documents", never=r"\bpapers?\b"),
    Concept(
        english="Undo", german="Stornieren", code="reversal", command="undo",
        never=r"\btake\w* (it |(this|that|the) (\w+ )?)?back\b|\btaken back\b|\breversals?\b|in force again",
    ),
    Concept(english="Ticket", german="Auftrag", column="ticket", command="tickets", never=r"\bpast jobs\b"),
    Concept(english="Open (ticket, order)", german="Offen", code="booked, placed", never=r"\bbooked\b"),
    Concept(
        english="Guarantee work", german="Gewährleistungsarbeit", code="redo", column="redo of",
        command="guarantee", never=r"\bre-?done\b|\bredo\b(?! of)|\bdo (it|again) again\b",
    ),
    Concept(english="Used so far", german="Bisher verbraucht", code="drawn", command="use"),
    Concept(english="Customer's return", german="Rückgabe eines Kunden", column="returned", command="customer-return"),
    Concept(english="Receipt", german="Quittung", column="receipt", command="receipt"),
    Concept(english="Offcut", german="Reststück", code="piece", command="offcuts", never=r"\bremnants?\b|\bleftovers?\b"),
    Concept(english="Lent out", german="Verliehen", code="loan", command="lent", never=r"\bloans?\b|\bborrow\w*"),
    Concept(english="Carriage", german="Versandkosten"),
    Concept(english="Postage", german="Porto", column="post cost", command="postage"),
    Concept(english="Materials needed, used", german="Materialbedarf, Verbrauchtes Material", never=r"^it (draws|drew)$"),
    Concept(english="On hand", german="Bestand", command="shelf", never=r"^there$"),
    Concept(english="Reserved", german="Reserviert", code="set aside", never=r"\bset aside\b"),
    Concept(english="Available", german="Verfügbar", code="free", never=r"^free$"),
    Concept(english="On order", german="Bestellt"),
    Concept(english="Outstanding", german="Ausstehend", never=r"^still to come|all has come|rest will not come"),
    Concept(english="Location", german="Lagerplatz", code="place", column="location", never=r"\bshelf places?\b|^place$"),
    Concept(english="Item (counted)", german="Position", code="bin", never=r"\bbins?\b"),
    Concept(english="Stock running out", german="Wird knapp", command="run-outs", never=r"^run-outs$|^what runs out"),
    Concept(
        english="Risk of running short", german="Fehlmengenrisiko", code="chance", command="--service-level",
        never=r"\bchances? of running short\b|\bchance wished\b|\bin the outlook$",
    ),
    Concept(english="Suggested orders", german="Bestellvorschläge", command="reorder", never=r"\border desk\b|^to order\b"),
    Concept(
        english="Order-up-to rule", german="Auffüllen auf Sollbestand", code="own level", never=r"\btextbook\b"
    ),
    Concept(
        english="Close the order", german="Bestellung schließen (Rest kommt nicht mehr)", code="order end", command="close-order",
        never=r"\bend(s|ed)? (the|an) order\b|^order end$",
    ),
    Concept(english="Substitute", german="Ersatz", column="substitute"),
    Concept(english="Standing order", german="Dauerauftrag", code="standing"),
    Concept(english="May go back (goods)", german="Rückgabe möglich", code="going back", command="may-go-back"),
    Concept(english="On approval", german="in Kommission", column="on approval"),
    Concept(english="The year ahead", german="Jahresvorschau", command="year-ahead"),
    Concept(english="Stock or delays", german="Bestand oder Verspätungen", code="caution", command="stock-or-delays"),
    Concept(english="Receive", german="Wareneingang buchen", code="delivery", command="receive"),
    Concept(english="Batch", german="Charge", code="lot", column="batch", never=r"\blots?\b"),
    Concept(english="Expiry date", german="Haltbar bis", column="expiry date", never=r"\buse by\b|past its date"),
    Concept(english="Amount paid", german="Kassiert", never=r"\bmoney taken\b"),
    Concept(english="Shelf price", german="Verkaufspreis", column="sell price", never=r"\btag's price\b|on (its|the) tag\b"),
    Concept(
        english="Before tax", german="netto", never=r"\bwithout tax\b|\bex(cl(uding)?)?\.? (tax|vat)\b|\bnet of tax\b"
    ),
    Concept(english="Conversion", german="Umrechnung", code="bridge", column="conversion", never=r"\bbridges?\b"),
    Concept(english="Count sheet", german="Zählliste", column="sheet", command="count-sheet"),
    Concept(
        english="Post the count", german="Zählung verbuchen", code="settle", command="post-count",
        never=r"\bbring the book\b|\bsettl(e|es|ed|ing)\b",
    ),
    Concept(english="Count difference", german="Zähldifferenz", command="differences", never=r"^differs$"),
    Concept(english="Count adjustment", german="Zählausgleich (automatisch)", code="count kept", never=r"\bcount kept\b"),
    Concept(english="Counting method", german="Zählhilfe", code="aid", column="counting method", never=r"\baids?\b"),
    Concept(english="ABC class", german="ABC-Klasse", code="grade", never=r"\b(its|their) class\b"),
    Concept(english="Stock record accuracy", german="Bestandsgenauigkeit", command="count-report", never=r"\bhow true\b"),
    Concept(
        english="Actual usage", german="Verbrauch laut Zählung", code="lessons", command="usage",
        never=r"\bcounts taught\b|\blearnt\b|\blessons?\b|\breally use",
    ),
    Concept(english="Hazards", german="Gefahrstoffe", column="hazards", never=r"\bcautions?\b"),
    Concept(english="Delayed (job)", german="Verspätet", code="held up", never=r"\bheld[- ]up\b|\bholds? up\b"),
    Concept(
        english="Back-test", german="Rückrechnung", code="backtest", command="back-test",
        never=r"\brehears\w*|\breplay\w*|\bplayed again\b",
    ),
    Concept(
        english="Minimum margin", german="Mindestmarge", code="margin floor", command="margin-alerts",
        never=r"\bthe floor\b|\bmargin floor\b",
    ),
    Concept(
        english="Margin changes", german="Änderung der Marge", command="margin-changes", never=r"\bwhat moved\b"
    ),
    Concept(
        english="Cost correction", german="Kostenberichtigung", code="true-up", never=r"\btrue-?ups?\b"
    ),
    Concept(english="Activity log", german="Protokoll", code="deed", command="log", never=r"^what was done|\bdeeds?\b"),
    Concept(english="Correct", german="Berichtigen", never=r"\bmend\w*\b"),
    Concept(english="The same key twice", german="Kennzeichen", code="key", command="--once", never=r"\bown mark\b|\bmark of\b"),
)  # fmt: skip


def named_otherwise(text: str) -> list[str]:
    """Give the concepts that a text calls by a name they don't have; the facts put into it are not its words."""
    words = re.sub(r"%\(\w+\)s", "…", text)
    return [each.english for each in CONCEPTS if each.never and re.search(each.never, words, re.IGNORECASE)]


def table() -> str:
    """Write the concepts as a table."""
    head = "| On screen | German | In code and JSON | Column | Command |\n|---|---|---|---|---|\n"
    rows = (
        f"| {each.english} | {each.german} | {each.code} | {each.column} | {f'`{each.command}`' if each.command else ''} |"
        for each in CONCEPTS
    )
    return head + "\n".join(re.sub(r"\|  \|", "| |", re.sub(r"\|  \|", "| |", row)) for row in rows) + "\n"


def written() -> str:
    """Give DEVELOPERS.md with the table as it is now."""
    text = DEVELOPERS.read_text("utf-8")
    before, _, rest = text.partition(BEGINS)
    return f"{before}{BEGINS}\n{table()}{ENDS}{rest.partition(ENDS)[2]}"


if __name__ == "__main__":
    DEVELOPERS.write_text(written(), "utf-8")
