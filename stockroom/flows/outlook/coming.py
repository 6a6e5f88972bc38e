"""Events of the weeks ahead, and what each is expected to bring, in figures and words."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.outlook.events_ahead import EventSize
from stockroom.flows.outlook.futures import events_to_come, jobs_expected
from stockroom.flows.outlook.run_outs import ORDER_WEEKS
from stockroom.phrases import phrase, plural
from stockroom.show.formats import Formats
from stockroom.stock.calendar import Event
from stockroom.store.book import Book, Session

_EVER = 520  # weeks: further ahead than anything is entered


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingEvent:
    """An event ahead."""

    event: Event
    more: float  # jobs, beside those that come without it
    alike: int  # past ones of its name it is learnt from
    known: bool  # whether anything is known of what it brings
    words: str
    pieces: float | None = None  # sold of the event's material, beside the usual sales


def coming_events(
    book: Book, moment: datetime, *, site: str | None = None, weeks: int = ORDER_WEEKS
) -> list[ComingEvent]:
    """List the events ahead as of a moment, the next first, with what each is expected to bring."""
    with book.reading() as session:
        known = book_snapshot(session, moment, site=site)
    found = events_to_come(known, weeks)
    told = [size for size in found if not size.nothing and size.pieces is None]
    expected = jobs_expected(known, weeks, [size.event for size in told]) if told else []
    more = {size.event: float((expected[0] - each).sum()) for size, each in zip(told, expected[1:], strict=True)}
    return [
        ComingEvent(
            event=size.event,
            more=more.get(size.event, 0.0),
            alike=size.alike,
            known=not size.nothing,
            words=brings(size, known),
            pieces=size.pieces,
        )
        for size in found
    ]


def brings(size: EventSize, known: BookSnapshot) -> str:
    """Say what an event is taken to bring, and how that is known."""
    names = {job.code: job.name for job in known.jobs}
    event, job = size.event, names.get(size.event.job, size.event.job)
    if event.jobs is not None:
        return plural("%(num)s more: %(job)s", "%(num)s more: %(job)s", event.jobs, job=job)
    if size.pieces is not None:
        return _sells(size, {m.code: m.name for m in known.materials}.get(event.material, event.material))
    if size.jobs is not None:
        return plural(
            "About %(jobs)s more: %(job)s, by the last one of its name",
            "About %(jobs)s more: %(job)s, by the last %(num)s of its name",
            size.alike, jobs=round(size.jobs), job=job,
        )  # fmt: skip
    if size.share is not None:
        share = round(100 * size.share)
        whole = phrase("%(share)s%% of the usual work and sales", share=share)
        mine = phrase("%(share)s%% of the usual: %(job)s", share=share, job=job)
        return mine if job else whole
    if size.occasion:
        return plural("What the last one of its name brought", "What the last %(num)s of its name brought", size.alike)
    return phrase(
        "Nothing that is known: say how many jobs or pieces, or per cent of the usual, or enter past ones of its name"
    )


def _sells(size: EventSize, material: str) -> str:
    """Say how many pieces an event is taken to sell."""
    if size.event.pieces is not None:
        return plural(
            "%(num)s more sold: %(material)s", "%(num)s more sold: %(material)s", size.event.pieces, material=material
        )
    return plural(
        "About %(pieces)s more sold: %(material)s, by the last one of its name",
        "About %(pieces)s more sold: %(material)s, by the last %(num)s of its name",
        size.alike, pieces=round(size.pieces or 0), material=material,
    )  # fmt: skip


def named_ahead(known: BookSnapshot, weeks: int) -> list[tuple[Event, str]]:
    """Name the events of the weeks ahead, the next first, each with what it is taken to bring, in words."""
    return [(size.event, brings(size, known)) for size in events_to_come(known, weeks)]


def unknown_ahead(session: Session, events: Collection[Event], now: datetime) -> tuple[str, ...]:
    """Name those of some events that are ahead and bring nothing that the forecast knows of."""
    if not any(event.end >= now.date() and not event.sized for event in events):
        return ()
    found = events_to_come(book_snapshot(session, now), _EVER)
    return tuple(
        phrase(
            "Nothing is known yet of what '%(name)s' brings, so the forecast stays as it is: say how many jobs or "
            "pieces, or per cent of the usual, or enter past ones of its name.",
            name=size.event.name,
        )
        for size in found if size.nothing and size.event in events
    )  # fmt: skip


def coming_line(each: ComingEvent, formats: Formats) -> str:
    """Write an event ahead as a line."""
    jobs = round(each.more)
    more = f" ({jobs:+} job{'' if abs(jobs) == 1 else 's'})" if jobs else ""
    return f"{event_line(each.event, each.words, formats)}{more}"


def event_line(event: Event, words: str, formats: Formats) -> str:
    """Write an event and what is said of it as a line."""
    until = f" – {formats.day(event.last)}" if event.last else ""
    return f"{formats.day(event.day)}{until}  {event.name}: {words}"


def coming_facts(each: ComingEvent) -> dict[str, object]:
    """Give an event ahead for programs."""
    event = each.event

    def day(said: date | None) -> str | None:
        return said.isoformat() if said else None

    return {
        "name": event.name,
        "day": day(event.day),
        "last": day(event.end),
        "job": event.job,
        "material": event.material,
        "pieces": None if each.pieces is None else round(each.pieces, 3),
        "more": round(each.more, 3),
        "alike": each.alike,
        "known": each.known,
        "words": str(each.words),
    }
