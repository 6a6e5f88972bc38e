"""Settings, materials, suppliers and offers, jobs, recipes and the shop's days: rows to nouns and back."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, time, timedelta
from fractions import Fraction
from typing import Any

import sqlalchemy as sa

from stockroom.errors import RefusedError, UnknownError, nearest
from stockroom.phrases import phrase
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.machines import Service
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.quantities import Dimension, Quantity, Unit, bridge, exchange, quantity, unit
from stockroom.stock.recipes import Job, Per, Recipe, RecipeLine, Sizing
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.shop import SETTINGS, Shop, setting_texts, weekdays, with_settings, write_weekdays
from stockroom.stock.suppliers import Offer, PriceBreak, Supplier
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.list_changes import CLOSED_THROUGH, drop, renew
from stockroom.store.tables import day_text, maybe_day


def read_shop(session: Session) -> Shop:
    """Read the shop's settings; what was never set has its default."""
    kept = session.execute(sa.select(tables.setting).where(tables.setting.c.name.in_(SETTINGS)))
    return with_settings(Shop(), {row.name: row.value for row in kept})


def save_shop(session: Session, shop: Shop) -> None:
    """Keep every setting; the costing method can't change once a period is closed by it.

    Raises
    ------
    RefusedError
        If that method would change.
    """
    kept = read_shop(session).costing
    if shop.costing != kept and read_note(session, CLOSED_THROUGH):
        raise RefusedError(
            phrase("Stock is costed by '%(kept)s', and a period is closed by it.", kept=kept),
            fix="A change of method restates closed figures: talk to your accountant, and start a new book for it.",
        )
    renew(session, "setting", [{"name": n, "value": v} for n, v in setting_texts(shop).items()])


def read_note(session: Session, name: str) -> str:
    """Read a note the program keeps beside the settings, such as the day a period was closed."""
    return session.execute(sa.select(tables.setting.c.value).where(tables.setting.c.name == name)).scalar() or ""


def read_notes(session: Session, beginning: str) -> dict[str, str]:
    """Read every note whose name begins with a word."""
    asked = sa.select(tables.setting).where(tables.setting.c.name.startswith(beginning, autoescape=True))
    return {row.name: row.value for row in session.execute(asked)}


def notes_named(session: Session, names: Iterable[str]) -> dict[str, str]:
    """Read some notes and settings by their whole names; those never kept are left out."""
    asked = sa.select(tables.setting).where(tables.setting.c.name.in_(list(names)))
    return {row.name: row.value for row in session.execute(asked)}


def save_note(session: Session, name: str, value: str) -> None:
    """Keep a note beside the settings."""
    renew(session, "setting", [{"name": name, "value": value}])


def drop_note(session: Session, name: str) -> None:
    """Forget a note that no document says."""
    session.execute(sa.delete(tables.setting).where(tables.setting.c.name == name))


def read_materials(session: Session, codes: Iterable[str] | None = None) -> list[Material]:
    """Read materials by code, or all of them, in order of code."""
    asked = sa.select(tables.material).order_by(tables.material.c.code)
    if codes is not None:
        asked = asked.where(tables.material.c.code.in_(list(codes)))
    return [material_of(row) for row in session.execute(asked)]


def dimensions(session: Session) -> dict[str, Dimension]:
    """Say what each material is measured in."""
    return {code: unit.dimension for code, unit in read_units(session).items()}


def read_units(session: Session, codes: Iterable[str] | None = None) -> dict[str, Unit]:
    """Read only what materials are shown in, which says what they are measured in, too."""
    asked = sa.select(tables.material.c.code, tables.material.c.unit).order_by(tables.material.c.code)
    if codes is not None:
        asked = asked.where(tables.material.c.code.in_(list(codes)))
    return {row.code: unit(row.unit) for row in session.execute(asked)}


def save_materials(session: Session, materials: Sequence[Material]) -> None:
    """Add materials, or renew those whose code is known."""
    renew(session, "material", [material_row(m) for m in materials])


def read_jobs(session: Session) -> list[Job]:
    """Read the price list."""
    rows = session.execute(sa.select(tables.job).order_by(tables.job.c.code))
    return [Job(**row._mapping) for row in rows]  # noqa: SLF001 -- sqlalchemy's public name for it


def read_job_names(session: Session) -> dict[str, str]:
    """Read only what jobs are called, by code."""
    return {row.code: row.name for row in session.execute(sa.select(tables.job.c.code, tables.job.c.name))}


def save_jobs(session: Session, jobs: Sequence[Job]) -> None:
    """Add jobs, or renew those whose code is known."""
    names = [column.name for column in tables.job.columns]
    renew(session, "job", [{name: getattr(job, name) for name in names} for job in jobs])


def read_recipes(session: Session, job: str | None = None) -> list[Recipe]:
    """Read recipe versions, oldest first; of one job or all."""
    asked = sa.select(tables.recipe).order_by(tables.recipe.c.valid_from, tables.recipe.c.id)
    lines = sa.select(tables.recipe_line).order_by(tables.recipe_line.c.recipe, tables.recipe_line.c.position)
    if job is not None:
        asked = asked.where(tables.recipe.c.job == job)
        wanted = sa.select(tables.recipe.c.id).where(tables.recipe.c.job == job)
        lines = lines.where(tables.recipe_line.c.recipe.in_(wanted))
    by_recipe: dict[int, list[RecipeLine]] = {}
    for row in session.execute(lines):
        by_recipe.setdefault(row.recipe, []).append(_recipe_line(row))
    return [_recipe(row, by_recipe.get(row.id, [])) for row in session.execute(asked)]


def add_recipes(session: Session, recipes: Sequence[Recipe], *, back: bool = False) -> int:
    """Add recipe versions that say something new; a version is never edited. Gives how many were added.

    One that was said before and replaced since, from the same day, is new only where it is to come `back`: a file
    loaded twice changes nothing.
    """
    kept = read_recipes(session)
    if back:
        kept = list({(r.job, r.valid_from): r for r in kept}.values())
    known = {(r.job, r.valid_from, r.lines, r.reference) for r in kept}
    fresh = [r for r in recipes if (r.job, r.valid_from, r.lines, r.reference) not in known]
    last = session.execute(sa.select(sa.func.max(tables.recipe.c.id))).scalar() or 0
    rows = [_recipe_row(number, r) for number, r in enumerate(fresh, start=last + 1)]
    lines = [
        _recipe_line_row(row["id"], n, line)
        for row, r in zip(rows, fresh, strict=True)
        for n, line in enumerate(r.lines)
    ]
    renew(session, "recipe", rows)
    renew(session, "recipe_line", lines)
    return len(fresh)


def drop_recipe(session: Session, recipe: Recipe) -> None:
    """Take the last entered of a job's versions that say the same from the same day out, with its lines."""
    asked = sa.select(tables.recipe.c.id).where(
        tables.recipe.c.job == recipe.job, tables.recipe.c.valid_from == day_text(recipe.valid_from)
    )
    number = max(session.execute(asked).scalars())
    drop(session, "recipe_line", [(number, position) for position in range(len(recipe.lines))])
    drop(session, "recipe", [(number,)])


def check_recipes(session: Session) -> None:
    """Refuse what leaves a recipe naming a material or group that isn't there.

    Raises
    ------
    RefusedError
        If one does.
    """
    known = sa.union(sa.select(tables.material.c.code), sa.select(tables.material.c.group_code))
    asked = sa.select(tables.recipe_line.c.material, tables.recipe.c.job).join(
        tables.recipe, tables.recipe.c.id == tables.recipe_line.c.recipe
    )
    for code, job in session.execute(
        asked.where(tables.recipe_line.c.material != "", tables.recipe_line.c.material.not_in(known)).limit(1)
    ):
        raise RefusedError(
            phrase("The recipe of %(job)s names %(code)s, which would be gone.", job=job, code=code),
            fix="Let the recipe name another material first.",
        )


def read_closures(session: Session) -> list[Closure]:
    """Read the closures of the shop and its suppliers."""
    rows = session.execute(sa.select(tables.closure).order_by(tables.closure.c.first))
    return [closure_of(row) for row in rows.mappings()]


def closure_of(row: Mapping[Any, Any]) -> Closure:
    """Read a closure from its row, or from what a document says of one."""
    first, last = (date.fromisoformat(row[name]) for name in ("first", "last"))
    who, reason = (row.get(name) or "" for name in ("who", "reason"))
    return Closure(first=first, last=last, who=who, reason=reason, yearly=bool(row.get("yearly")))


def save_closures(session: Session, closures: Sequence[Closure]) -> None:
    """Add closures."""
    rows = [
        {
            "who": c.who,
            "first": day_text(c.first),
            "last": day_text(c.last),
            "reason": c.reason,
            "yearly": c.yearly,
        }
        for c in closures
    ]
    renew(session, "closure", rows)


def read_events(session: Session) -> list[Event]:
    """Read the days a season hangs on."""
    rows = session.execute(sa.select(tables.event).order_by(tables.event.c.day))
    return [event_of(row) for row in rows.mappings()]


def event_of(row: Mapping[Any, Any]) -> Event:
    """Read an event from its row, or from what a document says of one."""
    said = {name: row.get(name) or "" for name in ("name", "job", "usual", "material")}
    day, last = date.fromisoformat(row["day"]), maybe_day(row.get("last") or "")
    return Event(**said, day=day, last=last, jobs=row.get("jobs"), pieces=row.get("pieces"))


def save_events(session: Session, events: Sequence[Event]) -> None:
    """Add days a season hangs on."""
    same = ("name", "job", "jobs", "usual", "material", "pieces")
    days = [{"day": day_text(e.day), "last": day_text(e.last)} for e in events]
    renew(session, "event", [{n: getattr(e, n) for n in same} | d for e, d in zip(events, days, strict=True)])


def read_services(session: Session) -> list[Service]:
    """Read what is to be done to machines, by code."""
    rows = session.execute(sa.select(tables.service).order_by(tables.service.c.code))
    return [Service(**row._mapping) for row in rows]  # noqa: SLF001 -- sqlalchemy's public name for it


def save_services(session: Session, services: Sequence[Service]) -> None:
    """Add services, or renew those whose code is known."""
    renew(session, "service", [asdict(each) for each in services])


def the_material(materials: Iterable[Material], code: str) -> Material:
    """Find a material by its exact code.

    Raises
    ------
    UnknownError
        If none has the code.
    """
    by_code = {m.code: m for m in materials}
    if code not in by_code:
        raise UnknownError(
            phrase("No material has the code '%(code)s'.", code=code),
            fix=nearest(code, by_code) or "See: stockroom shelf",
        )
    return by_code[code]


_WRITTEN = {
    "unit",
    "purpose",
    "group_code",
    "size_from",
    "size_to",
    "bridge",
    "replaces_at",
    "hazards",
    "extra",
}  # as a text or so
_ALIKE = [column.name for column in tables.material.columns if column.name not in _WRITTEN]  # in row and noun


def material_row(m: Material) -> dict[str, Any]:
    """Write a material as its row: plain values, fit for JSON."""
    return {name: getattr(m, name) for name in _ALIKE} | {
        "unit": m.unit.name,
        "purpose": str(m.purpose),
        "group_code": m.group,
        "size_from": str(m.size_from or ""),
        "size_to": str(m.size_to or ""),
        "bridge": str(m.bridge or ""),
        "replaces_at": str(m.replaces_at or ""),
        "hazards": " ".join(m.hazards),
        "extra": dict(m.extra),
    }


def material_of(row: Any) -> Material:  # noqa: ANN401 -- a database row
    """Read a material from its row."""
    return Material(
        **{name: getattr(row, name) for name in _ALIKE},
        unit=unit(row.unit),
        purpose=Purpose(row.purpose),
        group=row.group_code,
        size_from=shoe_size(row.size_from) if row.size_from else None,
        size_to=shoe_size(row.size_to) if row.size_to else None,
        bridge=bridge(row.bridge) if row.bridge else None,
        replaces_at=exchange(row.replaces_at) if row.replaces_at else None,
        hazards=tuple(row.hazards.split()),
        extra=dict(row.extra),
    )


def _recipe_row(number: int, r: Recipe) -> dict[str, Any]:
    return {
        "id": number,
        "job": r.job,
        "valid_from": day_text(r.valid_from),
        "reference": " = ".join(str(size) for size in r.reference),
        "source": r.source,
    }


def _recipe_line_row(recipe: int, position: int, line: RecipeLine) -> dict[str, Any]:
    same = {name: getattr(line, name) for name in ("name", "material", "choice", "option", "coats")}
    return same | {
        "recipe": recipe,
        "position": position,
        "nano": line.amount.nano,
        "dimension": str(line.amount.dimension),
        "per": str(line.per),
        "sizing": str(line.sizing),
        "waste": str(line.waste),
        "chance": str(line.chance),
        "machine": line.machine,
        "minutes": "" if line.minutes is None else str(line.minutes),
        "life_hours": "" if line.life_hours is None else str(line.life_hours),
        "growth": "" if line.growth is None else str(line.growth),
    }


def _recipe(row: Any, lines: Sequence[RecipeLine]) -> Recipe:  # noqa: ANN401 -- a database row
    return Recipe(
        job=row.job,
        valid_from=date.fromisoformat(row.valid_from),
        reference=tuple(shoe_size(text) for text in row.reference.split(" = ") if text),
        source=row.source,
        lines=tuple(lines),
    )


def _recipe_line(row: Any) -> RecipeLine:  # noqa: ANN401 -- a database row
    return RecipeLine(
        name=row.name,
        material=row.material,
        amount=Quantity(nano=row.nano, dimension=Dimension(row.dimension)),
        per=Per(row.per),
        sizing=Sizing(row.sizing),
        choice=row.choice,
        option=row.option,
        waste=Fraction(row.waste),
        coats=row.coats,
        chance=Fraction(row.chance),
        machine=row.machine,
        minutes=Fraction(row.minutes) if row.minutes else None,
        life_hours=Fraction(row.life_hours) if row.life_hours else None,
        growth=Fraction(row.growth) if row.growth else None,
    )


def read_suppliers(session: Session) -> list[Supplier]:
    """Read all suppliers."""
    return [_supplier(row) for row in session.execute(sa.select(tables.supplier).order_by(tables.supplier.c.code))]


def save_suppliers(session: Session, suppliers: Sequence[Supplier]) -> None:
    """Add suppliers, or renew those whose code is known."""
    renew(session, "supplier", [_supplier_row(s) for s in suppliers])


def read_offers(
    session: Session, dimensions: Mapping[str, Dimension], materials: Iterable[str] | None = None
) -> list[Offer]:
    """Read offers of some materials or all, old prices too; `dimensions` says what each is measured in."""
    asked = sa.select(tables.offer).order_by(tables.offer.c.valid_from, tables.offer.c.id)
    if materials is not None:
        asked = asked.where(tables.offer.c.material.in_(list(materials)))
    return [_offer(row, dimensions[row.material]) for row in session.execute(asked)]


def read_sources(session: Session) -> dict[str, set[str]]:
    """Read which suppliers offer each material."""
    found: dict[str, set[str]] = {}
    for material, supplier in session.execute(sa.select(tables.offer.c.material, tables.offer.c.supplier).distinct()):
        found.setdefault(material, set()).add(supplier)
    return found


def save_offers(session: Session, offers: Sequence[Offer]) -> None:
    """Add offers; the same offer from the same day is renewed, older ones stay."""
    renew(session, "offer", [_offer_row(o) for o in offers])


def returnable_since(session: Session, day: date) -> date | None:
    """Give the first day of whose goods some may still go back on a day, as offers say; None: of none."""
    o = tables.offer.c
    right = (o.return_weeks > 0) | (o.return_until >= day_text(day))
    rows = session.execute(sa.select(o.return_weeks, o.valid_from).where(right)).all()
    days = [day - timedelta(weeks=weeks) if weeks else date.fromisoformat(since) for weeks, since in rows]
    return min(days, default=None)


def _supplier_row(s: Supplier) -> dict[str, Any]:
    same = ("code", "name", "lead_days", "carriage", "carriage_free_over", "minimum_order", "tax_rate", "email", "note")
    return {name: getattr(s, name) for name in same} | {
        "order_weekdays": write_weekdays(s.order_weekdays),
        "cut_off": s.cut_off.isoformat("minutes") if s.cut_off else "",
        "minimum_weight": _exact(s.minimum_weight),
    }


def _supplier(row: Any) -> Supplier:  # noqa: ANN401 -- a database row
    same = ("code", "name", "lead_days", "carriage", "carriage_free_over", "minimum_order", "tax_rate", "email", "note")
    return Supplier(
        **{name: getattr(row, name) for name in same},
        order_weekdays=weekdays(row.order_weekdays),
        cut_off=time.fromisoformat(row.cut_off) if row.cut_off else None,
        minimum_weight=quantity(row.minimum_weight) if row.minimum_weight else None,
    )


def _exact(amount: Quantity | None) -> str:
    return "" if amount is None else str(amount)


_OFFER_AS_IT_IS = (
    "supplier",
    "material",
    "supplier_code",
    "pack_name",
    "price",
    "minimum_packs",
    "multiple",
    "tax_rate",
    "measured",
    "return_weeks",
    "return_cost",
    "on_approval",
)


def _offer_row(o: Offer) -> dict[str, Any]:
    return {name: getattr(o, name) for name in _OFFER_AS_IT_IS} | {
        "pack": o.pack.nano,
        "priced_per": _exact(o.priced_per),
        "pack_in_priced": _exact(o.pack_in_priced),
        "pack_weight": _exact(o.pack_weight),
        "breaks": " ".join(f"{b.packs}:{b.price}" for b in o.breaks),
        "valid_from": day_text(o.valid_from),
        "return_until": day_text(o.return_until) if o.return_until else "",
    }


def _offer(row: Any, dimension: Dimension) -> Offer:  # noqa: ANN401 -- a database row
    pairs = [text.split(":") for text in row.breaks.split()]
    return Offer(
        **{name: getattr(row, name) for name in _OFFER_AS_IT_IS},
        pack=Quantity(nano=row.pack, dimension=dimension),
        priced_per=quantity(row.priced_per) if row.priced_per else None,
        pack_in_priced=quantity(row.pack_in_priced) if row.pack_in_priced else None,
        pack_weight=quantity(row.pack_weight) if row.pack_weight else None,
        breaks=tuple(PriceBreak(packs=int(packs), price=int(price)) for packs, price in pairs),
        valid_from=date.fromisoformat(row.valid_from),
        return_until=date.fromisoformat(row.return_until) if row.return_until else None,
    )
