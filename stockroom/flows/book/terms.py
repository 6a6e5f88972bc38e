"""What deliveries are costed by, from the book."""

from collections.abc import Mapping
from datetime import date
from typing import cast

from stockroom.stock.landing import LandingTerms
from stockroom.stock.tax import Rate, TaxRules, from_net, per_cent, tax_rules
from stockroom.store import catalogue, ledger
from stockroom.store.book import Session

TAX_RATE = "tax-rate:"  # beginning of a note


def tax_rates(notes: Mapping[str, str]) -> tuple[Rate, ...]:
    """Read the dated tax rates among the notes."""
    found = []
    for name, text in sorted(notes.items()):
        if name.startswith(TAX_RATE):
            day, _, item = name.removeprefix(TAX_RATE).partition(":")
            found.append(Rate(per_cent=per_cent(text), valid_from=date.fromisoformat(day), item=item))
    return tuple(found)


def terms_of(session: Session) -> LandingTerms:
    """Gather the tax rules, the offers and the suppliers' terms."""
    materials = {m.code: m for m in catalogue.read_materials(session)}
    return LandingTerms(
        shop=catalogue.read_shop(session),
        materials=materials,
        rules=rules(session),
        offers=catalogue.read_offers(session, {code: m.dimension for code, m in materials.items()}),
        suppliers={s.code: s for s in catalogue.read_suppliers(session)},
    )


def credit_tax(session: Session, material: str, credit: int, of: tuple[str, int | None], day: date) -> int:
    """Give the tax that comes back with a supplier's credit, where it was part of the cost; `of` is what was bought."""
    known, (supplier, delivery) = terms_of(session), of
    if known.rules.registered:
        return 0
    documents = ledger.read_documents(session, numbers=[delivery], with_moves=False) if delivery else []
    lines = [
        line for document in documents for line in cast("list[Mapping[str, str]]", document.content.get("lines", []))
    ]
    stated = next((line.get("tax_rate", "") for line in lines if line["material"] == material), "")
    stated = stated or (known.suppliers or {})[supplier].tax_rate
    return from_net(credit, per_cent(stated) if stated else known.rules.rate(material, day)).tax


def rules(session: Session) -> TaxRules:
    """Gather the tax rules of what the shop buys."""
    own = {m.code: m.tax_rate for m in catalogue.read_materials(session)}
    dated = tax_rates(catalogue.read_notes(session, TAX_RATE))
    return tax_rules(catalogue.read_shop(session), own, dated)
