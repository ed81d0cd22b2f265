"""From a drawing's file to a profile: read, to scale, as lines and arcs, one outline, stood on its foot."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from preview.drawings.biarcs import MOST_FITTED, to_edges, too_fine
from preview.drawings.dxf import read_dxf
from preview.drawings.loops import Stroke, one_outline
from preview.drawings.placing import placed
from preview.drawings.points import read_points
from preview.drawings.sheet import MOST_EDGES, Frame, Item, Sheet, in_mm, scale_of, too_much, whole
from preview.drawings.svg import read_svg
from preview.drawings.wanted import Drawn, Wanted, refuse_out_of_range
from preview.errors import PreviewError, nearest
from preview.profiles import Arc, Line, make_profile
from preview.units import Unit

READERS: Mapping[str, Callable[[bytes], Sheet]] = MappingProxyType({".dxf": read_dxf, ".svg": read_svg})


def read_drawing(
    path: Path,
    wanted: Wanted = Wanted(),  # noqa: B008 (a frozen value)
    name: str = "",
    read: Callable[[Path], bytes] = whole,
) -> Drawn:
    """The profile that a DXF or SVG drawing or a CSV file of points shows, by the suffix of its name.

    `name` is the profile's; without it the file's. `read` gives the bytes of the file, and raises what `whole` does.
    Raises PreviewError, with the file in each problem and the key of `wanted` as its place where one has to be given
    or changed, for everything that is wrong.
    """
    try:
        refuse_out_of_range(wanted)
        suffix = path.suffix.lower()
        if suffix not in READERS and suffix != ".csv" and not path.is_dir():
            raise PreviewError(
                "", None, "the name of a drawing ends in .dxf, .svg or .csv", "save the drawing as one of these"
            )
        data = read(path)
        if suffix == ".csv":
            return read_points(data, wanted, name or path.stem)
        return _drawn(READERS[suffix](data), wanted, name or path.stem)
    except PreviewError as error:
        raise error.in_file(str(path)) from error.__cause__


def _drawn(sheet: Sheet, wanted: Wanted, name: str) -> Drawn:
    frame = Frame(scale_of(sheet, wanted.units), sheet.y_down)
    unit: Unit = "in" if round(frame.unit_mm, 9) in (25.4, 304.8) else "mm"
    strokes: list[Stroke] = []
    deviation, count = 0.0, 0
    for item in in_mm(_on_layer(sheet, wanted.layer), frame.unit_mm):
        fitted = to_edges(item.shape, wanted.tolerance)
        strokes += [Stroke(edge, item.layer) for edge in fitted.edges]
        deviation = max(deviation, fitted.deviation)
        count += 0 if isinstance(item.shape, Line | Arc) else len(fitted.edges)
        if count > MOST_FITTED:
            raise too_fine()
        if len(strokes) > MOST_EDGES:
            raise too_much()
    edges, notes = one_outline(strokes, wanted.heal, frame, unit)
    turned, found = placed(edges, wanted, unit)
    profile = make_profile(name, turned, unit=unit)
    if deviation > 0.0:
        notes.append(f"drawn curves became lines and arcs; they stray by {deviation:.2g} mm at most")
    return Drawn(profile, (*sheet.skipped, *notes, *found), deviation)


def _on_layer(sheet: Sheet, layer: str | None) -> list[Item]:
    if layer is None:
        return list(sheet.items)
    found = [item for item in sheet.items if item.layer == layer]
    if not found:
        layers = sorted({item.layer for item in sheet.items if item.layer})
        meant = nearest(layer.casefold(), {each.casefold(): None for each in layers})
        by_case = {each.casefold(): each for each in layers}
        listed = ", ".join(f'"{each[:60]}"' for each in layers[:12]) + (" ..." if len(layers) > 12 else "")
        if meant:
            fix = f'did you mean "{by_case[meant]}"?'
        else:
            fix = f"its layers are {listed}" if layers else "the drawing has no layers; leave layer out"
        raise PreviewError("layer", f'"{layer}"', "nothing is drawn on a layer of that name", fix)
    return found
