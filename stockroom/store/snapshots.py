"""What the accounts are read with, as plain values that a document can carry: a closed period keeps its own."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from types import SimpleNamespace
from typing import Any

from stockroom.stock.materials import Material
from stockroom.stock.recipes import Job
from stockroom.stock.shop import SETTINGS, Shop, setting_texts, with_settings
from stockroom.store import catalogue, counts, tables
from stockroom.store.book import Session
from stockroom.store.tables import come_later, end_of, read_moment

NOTES = ("account:", "tax-rate:")  # beginnings of the notes that accounts are read with


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """Names, rates and settings as they stood."""

    shop: Shop
    materials: Mapping[str, Material]
    jobs: Mapping[str, Job]
    supplier_names: Mapping[str, str]
    counted: Mapping[str, date]  # when each material was last counted
    notes: Mapping[str, str]
    supplier_rates: Mapping[str, str] = field(default_factory=dict)  # their tax rates, where they state one


def snapshot(session: Session, day: date) -> Snapshot:
    """Take what the book says now; counts up to the end of a day."""
    counted = counts.last_counted(session, at=read_moment(end_of(day)))
    known = catalogue.read_suppliers(session)
    return Snapshot(
        shop=catalogue.read_shop(session),
        materials={m.code: m for m in catalogue.read_materials(session)},
        jobs={job.code: job for job in catalogue.read_jobs(session)},
        supplier_names={s.code: s.name for s in known},
        supplier_rates={s.code: s.tax_rate for s in known if s.tax_rate},
        counted={code: moment.date() for code, moment in counted.items()},
        notes={name: text for mark in NOTES for name, text in catalogue.read_notes(session, mark).items()},
    )


def written(taken: Snapshot) -> dict[str, Any]:
    """Write a snapshot as plain values, fit for JSON."""
    return {
        "settings": setting_texts(taken.shop),
        "materials": [catalogue.material_row(m) for m in taken.materials.values()],
        "jobs": [asdict(job) for job in taken.jobs.values()],
        "suppliers": dict(taken.supplier_names),
        "supplier_rates": dict(taken.supplier_rates),
        "counted": {code: day.isoformat() for code, day in taken.counted.items()},
        "notes": dict(taken.notes),
    }


def read_back(said: Mapping[str, Any]) -> Snapshot:
    """Read what `written` wrote; settings and columns that came later have what held before."""
    texts = said["settings"]
    shop = with_settings(Shop(), {name: texts[name] for name in SETTINGS if name in texts})
    lacking = come_later(tables.material)
    materials = [catalogue.material_of(SimpleNamespace(**(lacking | row))) for row in said["materials"]]
    return Snapshot(
        shop=shop,
        materials={m.code: m for m in materials},
        jobs={row["code"]: Job(**row) for row in said["jobs"]},
        supplier_names=said["suppliers"],
        supplier_rates=said.get("supplier_rates", {}),
        counted={code: date.fromisoformat(day) for code, day in said["counted"].items()},
        notes=said["notes"],
    )
