"""Days and moments as the tables keep them: ISO texts that sort as they stand."""

from datetime import date, datetime


def moment_text(moment: datetime) -> str:
    """Write a moment to the second; the diary is kept in the shop's own time, so zones are refused."""
    if moment.tzinfo is not None:
        raise ValueError(f"{moment} has a time zone; the book keeps the shop's own time")
    return moment.isoformat(timespec="seconds")


def day_text(day: date | None) -> str:
    """Write a day; nothing for none."""
    return "" if day is None else day.isoformat()


def read_moment(text: str) -> datetime:
    """Read a moment."""
    return datetime.fromisoformat(text)


def maybe_moment(text: str) -> datetime | None:
    """Read a moment that may be missing."""
    return datetime.fromisoformat(text) if text else None


def maybe_day(text: str) -> date | None:
    """Read a day that may be missing."""
    return date.fromisoformat(text[:10]) if text else None


def end_of(day: date) -> str:
    """Give a text that sorts after every moment of a day."""
    return f"{day.isoformat()}T23:59:59"
