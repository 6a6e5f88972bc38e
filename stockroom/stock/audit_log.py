"""What was done to the book: when, at which door, by whom, from where. Never what was typed."""

from dataclasses import dataclass
from datetime import datetime

from stockroom.errors import shorten

_LONGEST = 80
_BETWEEN = ", "
_AFTER_MOMENT = "  "


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One line: names of commands and numbers of documents only, so that no name or passcode can get in."""

    when: datetime
    door: str  # 'command line', 'pages'
    who: str  # the account or the role
    device: str  # the machine's name, or the address the page was sent from
    what: str
    outcome: str

    @property
    def said(self) -> tuple[str, ...]:
        """All but the moment, in order: short, in one line, and without the mark that parts them."""
        texts = (self.door, self.who, self.device, self.what, self.outcome)
        return tuple(shorten(text, _LONGEST).replace(",", ";") for text in texts)

    def __str__(self) -> str:
        return f"{self.when.isoformat(sep=' ', timespec='seconds')}{_AFTER_MOMENT}{_BETWEEN.join(self.said)}"


def read_line(line: str) -> LogLine | None:
    """Read a line as it was written; lines of the first version say nothing of the device. None: not a line of ours."""
    moment, _, rest = line.rstrip("\n").partition(_AFTER_MOMENT)
    said = rest.split(_BETWEEN)
    if len(said) == 4:  # noqa: PLR2004 -- door, who, what, outcome
        said.insert(2, "")
    try:
        door, who, device, what, outcome = said
        when = datetime.fromisoformat(moment)
    except ValueError:
        return None
    return LogLine(when=when, door=door, who=who, device=device, what=what, outcome=outcome)
