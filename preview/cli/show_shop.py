"""What a person reads of the shop and the site: surveys, joint forecasts, saw settings, raked profiles."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from preview.exports import Report
from preview.joinery import Piece
from preview.runs import IN_PLAN, survey_rows, survey_sentences
from preview.shop import EndSettings, end_settings, spring_of
from preview.units import Unit

MOST_ROWS = 40


def surveys(console: Console, told: Report) -> None:
    """Each measured run: what it misses by, what was done about it, and every change."""
    scene = told.built.scene
    for placed in scene.runs:
        if placed.survey is None:
            continue
        console.print(Text(f"survey of {placed.run.name}", style="bold"))
        for sentence in survey_sentences(placed.survey, scene.units):
            console.print(Text(f"  {sentence}"))
        rows = survey_rows(placed.survey, scene.units)
        if rows:
            headings = ("step", "what", "measured", "may be off", "taken as", "change", "times")
            table = _table(*headings, left=("step", "what"))
            for row in rows[:MOST_ROWS]:
                table.add_row(*row)
            console.print(table)
        console.print()


def forecasts(console: Console, told: Report) -> None:
    """How far each joint may open on site."""
    found = told.built.forecasts
    if not found:
        return
    unit = told.built.scene.units
    table = _table("joint may open", "at most", "likely", "mostly by", "grade", left=("joint may open", "mostly by"))
    for each in found[:MOST_ROWS]:
        most = max(each.openings, key=lambda o: max(o.heel, o.toe), default=None)
        table.add_row(
            Text(each.joint),
            _opening(each.worst, unit),
            _opening(each.likely, unit),
            most.source if most else "",
            Text(each.grade or "none", style="" if each.grade else "yellow"),
        )
    console.print(table)
    if len(found) > MOST_ROWS:
        console.print(f"and {len(found) - MOST_ROWS} joints more; --json or report.json has them all")
    console.print(Text(f"at most: all errors at once. likely: as chance mixes them. grade: {found[0].source}"))
    console.print()


def compound_settings(console: Console, told: Report) -> None:
    """The saw's settings for sprung members, whose cuts nobody guesses."""
    profiles = {id(piece.profile): piece.profile for piece in told.built.pieces}
    sprung = {key for key, profile in profiles.items() if spring_of(profile) is not None}
    ends = _ends(piece for piece in told.built.pieces if id(piece.profile) in sprung)
    rows = [(piece, found) for piece, found in ends if any(s.posture == "in position" for s in found.setups)]
    if not rows:
        return
    headings = ("sprung piece, end", "corner", "in position: miter", "flat on its back: miter", "bevel")
    table = _table(*headings, left=("sprung piece, end",))
    for piece, found in rows[:MOST_ROWS]:
        held = next(setup.setting for setup in found.setups if setup.posture == "in position")
        flat = next((setup.setting for setup in found.setups if setup.posture == "flat"), None)
        corner = "" if found.corner is None else f"{_degrees(found.corner)} {'inside' if found.inside else 'outside'}"
        table.add_row(
            Text(f"{piece.name}, {found.at}"),
            corner,
            _degrees(held.miter),
            "" if flat is None else _degrees(flat.miter),
            "" if flat is None else _degrees(flat.bevel),
        )
    console.print(table)
    if len(rows) > MOST_ROWS:
        console.print(f"and {len(rows) - MOST_ROWS} ends more; report.json has them all")
    console.print("how to lay each piece, which way to swing and tilt, what to keep: molding check SCENE --saw")
    console.print()


def saw_in_words(console: Console, told: Report) -> None:
    """How to set the saw for every end that one straight cut makes: ends that are cut alike once, in sentences."""
    alike: dict[tuple[str, ...], list[str]] = {}
    square: list[str] = []
    cautions: dict[str, list[str]] = {}
    ends = list(_ends(told.built.pieces))
    for piece, found in ends:
        end = f"{piece.name}, {_which(piece, found)}"
        if any(setup.setting.swing or setup.setting.tilt for setup in found.setups):
            alike.setdefault(found.words, []).append(end)
        else:
            square.append(end)
        for caution in found.cautions:
            names = cautions.setdefault(caution, [])
            if piece.name not in names:
                names.append(piece.name)
    if square:
        console.print(Text("cut square", style="bold"))
        console.print(Text(f"  {'; '.join(square)}"))
    for words, cut_alike in alike.items():
        console.print(Text("; ".join(cut_alike), style="bold"))
        for line in words:
            console.print(Text(f"  {line}"))
    console.print()
    every = len({piece.name for piece, _ in ends})
    for caution, names in cautions.items():
        console.print(Text(caution if len(names) == every else f"{', '.join(names)}: {caution}"))
    console.print()


def raked(console: Console, told: Report) -> None:
    """The profiles that climbing pieces need."""
    for each in told.raked:
        where = f"; full size in {each.files[0].rpartition('/')[0]}/" if each.files else ""
        console.print(Text(f"note: {each.profile.name}: a profile of its own for {', '.join(each.pieces)}{where}"))


def _which(piece: Piece, found: EndSettings) -> str:
    """An end by its side, to someone who faces the wall; on a leg of a casing there is no left and right."""
    if piece.stand == IN_PLAN:
        return f"{found.at} end"
    return f"where it {found.end}s along the run"


def _ends(pieces: Iterable[Piece]) -> Iterator[tuple[Piece, EndSettings]]:
    for piece in pieces:
        for end in ("begin", "end"):
            found = end_settings(piece, end)
            if found is not None:
                yield piece, found


def _opening(value: float, unit: Unit) -> str:
    if unit in ("in", "ft"):
        return f'{value / 25.4:.3f}"'
    return f"{value:.2f} mm"


def _degrees(radians: float) -> str:
    return f"{math.degrees(abs(radians)):.2f}°"


def _table(*columns: str, left: tuple[str, ...]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="")
    for name in columns:
        table.add_column(name, justify="left" if name in left else "right", overflow="fold")
    return table
