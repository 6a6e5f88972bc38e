"""What goes by post: parcels to send, what was sent, and the price list of the post."""

from collections.abc import Sequence

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.flows.bench import parcels as flows
from stockroom.stock.postage import Postage


@click.command()
@desk.view
def parcels(counter: Counter, *, as_json: bool) -> None:
    """List the parcels to send.

    They are what was finished or sold by post in the last two weeks and not yet entered as sent.
    """
    found = flows.parcels(counter.book, desk.now())
    facts = [
        {
            "parcel": each.name,
            "ready": each.ready.isoformat(),
            "job": each.ticket.job if each.ticket else None,
            "post_cost": None if each.post_cost is None else desk.price(each.post_cost, counter.shop),
        }
        for each in found
    ]
    lines = [
        f"{each.name}: {each.ticket.job if each.ticket else each.sale.subject if each.sale else ''}, "
        f"ready {counter.formats.moment(each.ready)}"
        + (f", post {counter.formats.money(each.post_cost)}" if each.post_cost is not None else "")
        for each in found
    ]
    lines += ["Sent one: stockroom sent NAME"] if found else ["No parcel is waiting."]
    desk.tell(facts, "\n".join(lines), as_json=as_json)


@click.command()
@click.argument("parcel", nargs=-1, required=True)
@click.option("--post-cost", help="What the post costs you, where it wasn't said; or a name on your list of postage.")
@click.option("--pack", multiple=True, metavar="MATERIAL=AMOUNT", help="What it is packed in.")
@desk.anyway_option
@desk.entry
def sent(
    counter: Counter, entry: TypedEntry, *, parcel: tuple[str, ...], post_cost: str | None, pack: Sequence[str]
) -> None:  # fmt: skip
    """Enter that a parcel was sent.

    PARCEL is a ticket's number, such as 1042, or a sale by its document: sale 94
    """
    cost, packing = desk.postage_of(counter, post_cost)
    packed = (*packing, *desk.extras(pack))
    done = flows.send(counter.book, " ".join(parcel), entry.stamp, post_cost=cost, packaging=packed)
    again = "" if done.fresh else " That was entered already; nothing changed."
    facts = {"parcel": done.name, "document": done.document, "new": done.fresh}
    entry.tell(facts, f"Parcel {done.name} is sent (document {done.document}).{again}")


@click.command()
@click.argument("code", required=False)
@click.argument("cost", required=False)
@click.option("--name", default="", help="What it is called.")
@click.option("--pack", multiple=True, metavar="MATERIAL=AMOUNT", help="What it is packed in.")
@desk.view
def postage(
    counter: Counter, *, code: str | None, cost: str | None, name: str, pack: Sequence[str], as_json: bool
) -> None:  # fmt: skip
    """Show the price list of the post, or add a kind of parcel.

    Such as: stockroom postage SMALL 4.20 --pack BOX-S='1 piece'
    """
    if code and cost:
        packing = {each.material: each.amount for each in desk.extras(pack)}
        new = Postage(code=code, name=name, cost=desk.money(cost, counter.shop), packaging=packing)
        flows.keep_postage(counter.book, new, at=desk.now())
    else:
        desk.looked()
    found = flows.price_list(counter.book)
    facts = [
        {"code": each.code, "name": each.name, "cost": desk.price(each.cost, counter.shop),
         "packaging": {code: str(much) for code, much in each.packaging.items()}}
        for each in found
    ]  # fmt: skip
    lines = [
        f"{each.code}  {each.name}  {counter.formats.money(each.cost)}"
        + "".join(f", {much} {material}" for material, much in each.packaging.items())
        for each in found
    ]
    hint = "No postage is listed. Add one: stockroom postage SMALL 4.20 --pack BOX-S='1 piece'"
    desk.tell(facts, "\n".join(lines) or hint, as_json=as_json)
