"""Write a rehearsal into a folder: a chart, and its figures for a program."""

import json
from pathlib import Path

from stockroom.flows.rehearse import Rehearsal
from stockroom.flows.replay_words import rehearsal_facts, rehearsal_picture
from stockroom.show.formats import Formats


def write_rehearsal(played: Rehearsal, folder: Path, formats: Formats) -> list[Path]:
    """Write `rehearsal.png` and `rehearsal.json`; gives the files written."""
    from stockroom.show.charts_past import rehearsal_chart  # noqa: PLC0415 -- charts are slow to import

    folder.mkdir(parents=True, exist_ok=True)
    chart, figures = folder / "rehearsal.png", folder / "rehearsal.json"
    chart.write_bytes(rehearsal_chart(rehearsal_picture(played), formats))
    said = json.dumps(rehearsal_facts(played, formats), ensure_ascii=False, indent=2)
    figures.write_text(said + "\n", encoding="utf-8")
    return [chart, figures]
