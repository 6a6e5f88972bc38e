"""Materials that do each other's work, and goods that come by themselves."""

from collections.abc import Iterable
from fractions import Fraction

from stockroom.errors import UsageError
from stockroom.intake.tables import Context, ReadRow, RowsSeen
from stockroom.phrases import phrase
from stockroom.stock.agreements import StandingOrder, Substitute


def read_substitutes(lines: Iterable[ReadRow], context: Context) -> list[Substitute]:
    """Read substitutes; a pair is one however it is turned."""
    found, seen = [], RowsSeen(context, "The pair")
    for line in lines:
        if line["material"] and line["material"] == line["substitute"]:
            error = UsageError("A material is no substitute for itself.", fix="Name another one.")
            context.blame(line, error, column="substitute", value=line["substitute"])
            continue
        if line.bad:
            continue
        pair = Substitute(
            material=line["material"],
            other=line["substitute"],
            does=Fraction(1 if line["does"] is None else line["does"]),
            one_way=bool(line["one way"]),
        )
        if not seen.again(line, frozenset({pair.material, pair.other}), pair):
            found.append(pair)
    return found


def read_standing(lines: Iterable[ReadRow], context: Context) -> list[StandingOrder]:
    """Read standing orders: of something that the supplier offers."""
    found, seen = [], RowsSeen(context, "The standing order")
    for line in lines:
        if line["first"] and line["last"] and line["last"] < line["first"]:
            error = UsageError("The last day comes before the first.", fix="Swap them.")
            context.blame(line, error, column="last comes", value=line["last"])
            continue
        if line.bad:
            continue
        order = StandingOrder(
            supplier=line["supplier"],
            material=line["material"],
            supplier_code=line["supplier code"],
            packs=line["packs"],
            weeks=line["weeks"],
            first=line["first"],
            last=line["last"],
        )
        if not _offered(line, order, context):
            continue
        if not seen.again(line, (order.supplier, order.material, order.supplier_code, order.first), order):
            found.append(order)
    return found


def _offered(line: ReadRow, order: StandingOrder, context: Context) -> bool:
    """Refuse what the supplier doesn't offer, or has in several packs of which none is named."""
    if "offers" in context.book.doubtful:
        return True
    mine = {
        (o.supplier_code, o.pack.nano)
        for o in context.book.offers
        if (o.supplier, o.material) == (order.supplier, order.material) and order.supplier_code in ("", o.supplier_code)
    }
    if len(mine) == 1:
        return True
    if mine:
        codes = ", ".join(sorted(code for code, _ in mine))
        error = UsageError("The supplier has several packs of it.", fix=phrase("Say which: %(codes)s.", codes=codes))
    else:
        error = UsageError("The supplier does not offer it.", fix="Load the offer first.")
    context.blame(line, error, column="material", value=order.material)
    return False
