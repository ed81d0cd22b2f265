"""The verb `profile`: what a profile measures, and its drawings; or the whole library at a glance."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from preview.errors import PreviewError

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from preview.profiles import Blank, Cut, Profile

SQUARE_INCH = 25.4**2
ROUNDING = 0.005
"""mm that would not show."""
MOST_WEBS = 5


class DrawingFormat(StrEnum):
    """The drawing formats that can be asked for."""

    svg = "svg"
    png = "png"
    dxf = "dxf"
    pdf = "pdf"


class ShopUnit(StrEnum):
    """The units that figures can be given in."""

    inches = "in"
    mm = "mm"


class Paper(StrEnum):
    """The papers that a template can be laid out for."""

    letter = "letter"
    a4 = "a4"


def profile_command(
    file: Annotated[
        str | None,
        typer.Argument(metavar="FILE", help="A profile file (.toml), or a name from the library.", show_default=False),
    ] = None,
    all_: Annotated[
        bool, typer.Option("--all", help="List the library; with --out, draw it on one sheet to one scale.")
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FOLDER", help="Where to write drawings; nothing is written without it."),
    ] = None,
    unit: Annotated[
        ShopUnit, typer.Option("--unit", "-u", help="The unit that figures are given in.")
    ] = ShopUnit.inches,
    format_: Annotated[
        list[DrawingFormat] | None,
        typer.Option(
            "--format", "-f", help="A drawing to write; say it again for more. All by default.", show_default=False
        ),
    ] = None,
    paper: Annotated[Paper, typer.Option("--paper", help="The paper that a template (pdf) is for.")] = Paper.letter,
) -> None:
    """Tell what a profile measures and, with --out, draw it: dimensioned, at full size, and as a paper template."""
    formats = tuple(dict.fromkeys(format_ or ()))
    if format_ and out is None:
        raise PreviewError(
            "--format", " ".join(formats), "there is no folder to write to", "add one, such as --out drawings"
        )
    if all_ and file is not None:
        raise PreviewError(
            "--all", None, f'it is the whole library, and "{file}" is one profile', "leave one of them out"
        )
    if all_:
        _whole_library(out, unit, formats)
    elif file is None:
        raise PreviewError(
            "FILE", None, "no profile is named", "name a profile file or one of the library, or say --all"
        )
    else:
        _one_profile(file, out, unit, formats, paper)


def _one_profile(file: str, out: Path | None, unit: ShopUnit, formats: Sequence[DrawingFormat], paper: Paper) -> None:
    from preview.cli.show import output
    from preview.exports import (
        file_names,
        profile_dxf,
        profile_pdf,
        profile_sheet_png,
        profile_sheet_svg,
        profile_svg,
    )
    from preview.scene import Files, load_cuts, load_drawn, load_profile, load_spring_notes

    path, files = _path(file), Files()
    found, drawn = load_profile(path, files), load_drawn(path, files)
    made: dict[str, tuple[DrawingFormat, Callable[[], bytes]]] = {
        "-drawing.svg": (DrawingFormat.svg, lambda: profile_sheet_svg(found, unit.value)),
        "-drawing.png": (DrawingFormat.png, lambda: profile_sheet_png(found, unit.value)),
        "-full-size.svg": (DrawingFormat.svg, lambda: profile_svg(found, drawn.samples if drawn else None)),
        "-full-size.dxf": (DrawingFormat.dxf, lambda: profile_dxf(found)),
        "-template.pdf": (DrawingFormat.pdf, lambda: profile_pdf(found, paper.value, unit.value)),
    }
    wanted = [
        (file_names([found.name], suffix)[0], draw)
        for suffix, (kind, draw) in made.items()
        if kind in (formats or list(DrawingFormat))
    ]
    written = _write(out, wanted, found.name)
    console = output()
    _tell(console, found, unit)
    if drawn is not None:
        _tell_drawn(console, drawn.notes, drawn.deviation)
    _tell_notes(console, load_spring_notes(path, files))
    cut = load_cuts(path, files)
    if cut is not None:
        _tell_cuts(console, found.name, *cut, unit)
    _tell_webs(console, found, unit)
    _say_written(console, written)


def _whole_library(out: Path | None, unit: ShopUnit, formats: Sequence[DrawingFormat]) -> None:
    from preview.cli.show import output
    from preview.exports import contact_sheet_png, contact_sheet_svg
    from preview.profiles import measure
    from preview.scene import load_profile
    from preview.shipped import folder

    sheets = {
        DrawingFormat.svg: lambda shown: contact_sheet_svg(shown, unit.value),
        DrawingFormat.png: lambda shown: contact_sheet_png(shown, unit.value),
    }
    wrong = [kind for kind in formats if kind not in sheets]
    if wrong:
        raise PreviewError(
            "--format", wrong[0], "the library is drawn as svg and png", "leave it out, or name one profile"
        )
    files = sorted(folder("profiles").glob("*.toml"))
    library = {path.stem: load_profile(path) for path in files}
    tallest_first = sorted(library.values(), key=lambda one: -measure(one).h_max + measure(one).h_min)
    wanted = [
        (f"profiles.{kind}", lambda draw=draw: draw(tallest_first))
        for kind, draw in sheets.items()
        if kind in (formats or sheets)
    ]
    written = _write(out, wanted, "the library")
    console = output()
    table = _table("name", "height", "projection", "area", left=("name",))
    for name, one in library.items():
        size = measure(one)
        high, wide = size.h_max - size.h_min, size.d_max - size.d_min
        table.add_row(name, _length(high, unit), _length(wide, unit), _area(size.area, unit))
    console.print(table)
    console.print(f"\n{len(library)} profiles")
    _say_written(console, written)


def _path(file: str) -> Path:
    """A profile's file by its path, or else by its name in the library."""
    from preview.scene import library_path

    path = Path(file)
    if path.suffix == ".toml" or len(path.parts) != 1 or path.exists():
        return path
    try:
        return library_path(file)
    except PreviewError as error:
        raise error.at("FILE") if error.problems[0].file is None else error from None


def _write(out: Path | None, wanted: Sequence[tuple[str, Callable[[], bytes]]], what: str) -> list[Path]:
    """Draw and write what is wanted, all or nothing; the paths, or none where there is no folder to write to."""
    if out is None:
        return []
    from preview.cli.show import Progress
    from preview.exports import write_files

    files: list[tuple[Path, bytes]] = []
    with Progress() as progress:
        for done, (name, draw) in enumerate(wanted):
            progress.step(f"drawing {what}", done, len(wanted))
            files.append((out / name, draw()))
    write_files(files)
    return [path for path, _ in files]


def _table(*columns: str, left: Sequence[str] = ()) -> Table:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="")
    for name in columns:
        table.add_column(name, justify="left" if name in left else "right", no_wrap=True)
    return table


def _tell(console: Console, profile: Profile, unit: ShopUnit) -> None:
    """The name, the section's properties, and every edge from the foot up."""
    from rich.text import Text

    from preview.exports import edge_facts
    from preview.profiles import measure

    size = measure(profile)
    high, wide = size.h_max - size.h_min, size.d_max - size.d_min
    console.print(Text(profile.name, style="bold"))
    console.print()
    properties = _table("", "", left=("",))
    properties.show_header = False
    # Both units here, the one asked for first: a drawing or a supplier may want the other.
    out, up = size.centroid
    for name, value in (
        ("height", high),
        ("projection", wide),
        ("perimeter", size.perimeter),
        ("centroid, out from the wall", out - size.d_min),
        ("centroid, up from the foot", up - size.h_min),
    ):
        properties.add_row(name, _length(value, unit), _length(value, _other(unit)))
    properties.add_row("area", _area(size.area, unit), _area(size.area, _other(unit)))
    console.print(properties)
    console.print()
    edges = _table("edge", "kind", "rise", "in or out", "radius", "sweep", "length", left=("kind",))
    for number, edge in enumerate(edge_facts(profile), 1):
        edges.add_row(
            str(number),
            edge.kind,
            _moved(edge.rise, "down ", "", unit),
            _moved(edge.out, "in ", "out ", unit),
            _length(edge.radius, unit) if edge.radius is not None else "",
            f"{math.degrees(edge.sweep):.4g}°" if edge.sweep is not None else "",
            _length(edge.length, unit),
        )
    console.print(edges)
    console.print("\nInches are to the nearest 1/32; + or - mm is what that leaves out.")


def _tell_notes(console: Console, notes: Sequence[str]) -> None:
    from rich.text import Text

    for note in notes:
        console.print(Text(f"note: {note}"))


def _tell_drawn(console: Console, notes: Sequence[str], deviation: float) -> None:
    """What was found, chosen or put right in a drawing, and how far the profile lies from it."""
    from rich.text import Text

    console.print("\nfrom a drawing or from points")
    for note in notes:
        console.print(Text(f"  {note}"))
    console.print(f"  largest distance from it: {deviation:.4f} mm")


def _tell_cuts(console: Console, name: str, blank: Blank, cuts: Sequence[Cut], unit: ShopUnit) -> None:
    """What a shop must know of each cut before it is made."""
    from preview.profiles import cut_profile, report_cuts

    table = _table(
        "cut", "cutter", "works from", "depth", "reach", "inside curve", "turned", "", left=("cutter", "works from", "")
    )
    reports = report_cuts(cut_profile(name, blank, cuts), blank, cuts)
    for number, told in enumerate(reports, 1):
        remarks = [] if told.cuts_wood else ["takes no wood"]
        remarks += ["undercuts: its own face does not reach all of it"] if told.undercuts else []
        table.add_row(
            str(number),
            told.word,
            told.place.face + (f" {told.place.by}" if told.place.center is None else ""),
            _length(told.depth, unit),
            _length(told.reach, unit),
            "" if told.lining is None else _length(told.lining, unit),
            _length(told.turned, unit),
            ", ".join(remarks),
        )
    console.print(f"\ncut from a blank {_length(blank.width, unit)} wide, {_length(blank.thickness, unit)} thick\n")
    console.print(table)
    console.print(
        "\nReach is how far the cutter is plunged below its face. Inside curve and turned are the least wall radii of "
        "a curve\nthat lines the inside, for that cutter run round it and for a piece turned on a lathe; an inside "
        "curve is told\nwhere the cutter's diameter is given. Short pieces want a jig; follow the machine's manual."
    )


def _tell_webs(console: Console, profile: Profile, unit: ShopUnit) -> None:
    """Where the wood is left thin."""
    from preview.profiles import LEAST_WEB, thin_webs

    webs = thin_webs(profile)
    for web in webs[:MOST_WEBS]:
        out, up = web.at
        console.print(
            f"\nthin wood: {_length(web.thickness, unit)} at {_length(out, unit)} out, {_length(up, unit)} up "
            f"(under {_length(LEAST_WEB, unit)} breaks easily: common practice)"
        )


def _say_written(console: Console, written: Sequence[Path]) -> None:
    from rich.text import Text

    if written:
        console.print("\nwrote")
        for path in written:
            console.print(Text(f"  {path}"))


def _other(unit: ShopUnit) -> ShopUnit:
    return ShopUnit.mm if unit is ShopUnit.inches else ShopUnit.inches


def _moved(length: float, less: str, more: str, unit: ShopUnit) -> str:
    """A rise, or a way in or out; nothing where there is none."""
    if abs(length) < ROUNDING:
        return ""
    return (less if length < 0 else more) + _length(abs(length), unit)


def _length(mm: float, unit: ShopUnit) -> str:
    """A length to the nearest 1/32 in, and what that leaves out; or in mm to 0.01."""
    from preview.units import inches

    if unit is ShopUnit.mm:
        return f"{mm + 1e-9:.2f} mm"  # 9.525 as a sum of others is a hair less, and would read 9.52
    shown = inches(mm, 32)
    return shown.text if abs(shown.remainder) < ROUNDING else f"{shown.text} {shown.remainder:+.2f} mm"


def _area(square_mm: float, unit: ShopUnit) -> str:
    return f"{square_mm:,.1f} mm²" if unit is ShopUnit.mm else f"{square_mm / SQUARE_INCH:.4f} sq in"
