"""The [job] of a scene: what the title block of its sheet says, and what is and is not included."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from preview.errors import PreviewError
from preview.scene.kinds import LONGEST_TEXT, Kind, choice, entries, line, text
from preview.scene.model import JobDetails, PaperName
from preview.scene.table import Table
from preview.scene.written import what, written

KEYS = (
    "client",
    "place",
    "number",
    "drawn_by",
    "revision",
    "date",
    "species",
    "notes",
    "includes",
    "excludes",
    "brand",
    "paper",
)
PAPERS: tuple[PaperName, ...] = ("letter", "tabloid", "a4", "a3")
LONG, SHORT = 200, 60
"""The most letters of a line of the title block, and of a number, a name or a date in it."""
MOST_ENTRIES = 40
"""Entries of one list."""


def read_job(top: Table, scene: Path) -> JobDetails:
    """The scene's [job] table; a mistake in it is noted, and read as left out. scene: the file, to find the brand from.

    The brand file is not looked at here: a scene is checked and approved without it.
    """
    table = top.alone("job")
    if table is None:
        return JobDetails()
    table.only(KEYS, "in a job")
    return JobDetails(
        client=table.take("client", line(LONG), ""),
        place=table.take("place", line(LONG), ""),
        number=table.take("number", line(SHORT), ""),
        drawn_by=table.take("drawn_by", line(SHORT), ""),
        revision=table.take("revision", line(SHORT), ""),
        date=table.take("date", _day, ""),
        species=table.take("species", line(LONG), ""),
        notes=table.take("notes", _lines("notes"), ()),
        includes=table.take("includes", _lines("includes"), ()),
        excludes=table.take("excludes", _lines("excludes"), ()),
        brand=table.take("brand", lambda value: scene.parent / _file(value), None),
        paper=table.take("paper", choice(PAPERS, "the sheet is printed on letter, tabloid, a4 or a3"), None),
    )


def _file(value: object) -> str:
    if not isinstance(value, str):
        problem = f"a brand stands in a file of its own, and this is {what(value)}"
        raise PreviewError("", written(value), problem, 'write the name of the file: brand = "shop.toml"')
    return text(value)


def _lines(key: str) -> Kind[tuple[str, ...]]:
    """A list of texts; mistakes in it are placed by the key and their number."""
    each = entries(line(LONGEST_TEXT), f"{key}, entry")

    def read(value: object) -> tuple[str, ...]:
        if isinstance(value, list) and len(value) > MOST_ENTRIES:
            problem = f"it has {len(value):,} entries, and {MOST_ENTRIES} is the most"
            raise PreviewError("", written(value), problem, "put what belongs together into one entry")
        return each(value)

    return read


def _day(value: object) -> str:
    """A date of the file, or text as somebody wants it printed."""
    if isinstance(value, str):
        return line(SHORT)(value)
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    shown = written(value)
    if isinstance(value, datetime):
        problem = "a job has a date without the time of day"
        raise PreviewError("", shown, problem, f"write date = {value.date().isoformat()}")
    problem = f"it must be a date, or text, not {'a time of day' if what(value) == 'a date or a time' else what(value)}"
    raise PreviewError("", shown, problem, 'write date = 2026-11-29, or date = "29 November 2026"')
