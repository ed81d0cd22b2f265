"""Measured points of a face, from a contour gauge or a scan: a CSV file of two columns becomes a profile."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from preview.drawings.curves import Affine, Floats, mapped
from preview.drawings.fit import Chain, fit_chain
from preview.drawings.joints import with_ends
from preview.drawings.sheet import FURTHEST, too_much
from preview.drawings.wanted import Drawn, Wanted
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, make_profile
from preview.units import Unit, counted, length, show

MOST_POINTS = 50_000
LEAST_POINTS = 8
MOST_LINE = 400
"""Characters of a line."""
CLOSE_TO_WALL = 0.5
"""A face that comes this near to the line it is measured from, mm, is hardly measured from its back."""
UNITS: dict[str, Unit] = {"mm": "mm", "cm": "cm", "m": "m", "in": "in", "inch": "in", "inches": "in", "ft": "ft"}
UNIT = re.compile(r"(?:^|[\s(\[_,/:])(mm|cm|m|in|inch|inches|ft)[\])\s.]*$", re.IGNORECASE)
UPWARD, OUTWARD = ("h", "y", "up", "height"), ("d", "x", "out", "projection", "depth")


def read_points(data: bytes, wanted: Wanted, name: str) -> Drawn:
    """The profile whose face was measured: lines and arcs fitted, and closed by a level top, the back and a level foot.

    The points stand in order along the face, either way: outward first, then up, in mm or as the header or
    `wanted.units` says. Outward is measured from the back, or from anywhere if `wanted.thickness` is given.
    Raises PreviewError, with the line, for what is no point, and for points in no order.
    """
    rows, unit = _table(data)
    if wanted.units is not None and unit is not None and wanted.units != unit:
        raise PreviewError(
            "units",
            None,
            f"the heading of the points says {unit}, and here units is {wanted.units}",
            "leave units out to take the heading's word, or correct the heading",
        )
    used = unit or wanted.units
    if used is None:
        raise PreviewError(
            "units",
            None,
            "the points do not say what their units are",
            'say it: units = "mm" or "in", say; or write the unit into the heading: d (mm), h (mm)',
        )
    points = _upright(rows * length(1, used), wanted, used)
    chain = fit_chain(points, wanted.fit)
    edges, moved = _against_the_wall(chain.edges, wanted, used)
    profile = make_profile(name, _closed(edges), unit=used)
    samples = points + np.array(moved)
    return Drawn(profile, _notes(chain, points, wanted, used, samples), chain.worst, samples)


def _table(data: bytes) -> tuple[Floats, Unit | None]:
    """The rows (n, 2) in the file's units, outward first, and the unit that the heading gives."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise PreviewError("", None, "the file is not text (UTF-8)", "save the points again as CSV") from error
    if "\0" in text[:10_000]:
        raise PreviewError("", None, "the file is not text", "save the points again as CSV")
    rows: list[tuple[float, float]] = []
    heading: list[str] = []
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > MOST_LINE:
            raise PreviewError(
                "", None, f"line {number} has {len(line):,} characters, which is no point", "write two numbers a line"
            )
        cells = _cells(line)
        if not cells or line.lstrip().startswith("#"):
            continue
        row = _row(cells)
        if row is None and not rows and not heading:
            heading = cells
            continue
        if row is None:
            raise PreviewError(
                "", None, f'line {number} is no point: "{line.strip()[:40]}"', "write two numbers: outward, then up"
            )
        rows.append(row)
        if len(rows) > MOST_POINTS:
            raise too_much(f"{MOST_POINTS:,} points")
    if len(rows) < LEAST_POINTS:
        raise PreviewError(
            "",
            None,
            f"the file has {len(rows)} points, and a face takes at least {LEAST_POINTS}",
            "measure more points along the face, from its foot to its top",
        )
    found = np.array(rows)
    names = [re.split(r"[\s(\[_,/:]", cell.strip().lower())[0] for cell in heading]
    if len(names) == 2 and names[0] in UPWARD and names[1] in OUTWARD:
        found = found[:, ::-1]
    return found, _heading_unit(heading)


def _cells(line: str) -> list[str]:
    """The cells of a line: by semicolons or tabs, where a comma is a decimal point, or by commas or blanks."""
    for mark in (";", "\t"):
        if mark in line:
            cells = [cell.strip() for cell in line.split(mark)]
            return [re.sub(r"(?<=\d),(?=\d)", ".", cell) for cell in cells if cell]
    if "," in line:
        return [cell.strip() for cell in line.split(",") if cell.strip()]
    numbers = line.split()
    return numbers if _row(numbers) else [line.strip()] if line.strip() else []


def _row(cells: Sequence[str]) -> tuple[float, float] | None:
    if len(cells) != 2:
        return None
    try:
        x, y = float(cells[0]), float(cells[1])
    except ValueError:
        return None
    return (x, y) if math.isfinite(x) and math.isfinite(y) else None


def _heading_unit(heading: Sequence[str]) -> Unit | None:
    found = {UNITS[match[1].lower()] for cell in heading if (match := UNIT.search(cell))}
    if len(found) > 1:
        raise PreviewError(
            "", None, f"the heading gives two units, {' and '.join(sorted(found))}", "give both columns in one unit"
        )
    return found.pop() if found else None


def _upright(points: Floats, wanted: Wanted, unit: Unit) -> Floats:
    """The points in mm with d growing away from the back, from the foot up."""
    far = float(np.abs(points).max())
    if far > FURTHEST:
        raise PreviewError(
            "", None, f"a point lies {far / 1000:.4g} m away, and {FURTHEST / 1000:g} m is the most", "check the units"
        )
    points = points * np.array([-1.0 if wanted.back == "right" else 1.0, -1.0 if wanted.foot == "top" else 1.0])
    size = float(np.hypot(*np.ptp(points, axis=0)))
    steps = np.hypot(*np.diff(points, axis=0).T)
    if len(points) >= 20 and float(np.median(steps)) > 0.2 * size:
        raise PreviewError(
            "",
            None,
            "the points stand in no order: most lie far from the one before",
            "sort them along the face, from its foot to its top",
        )
    if len(points) >= 50 and float(steps.max()) > 0.25 * size:
        i = int(steps.argmax())
        raise PreviewError(
            "",
            None,
            f"the points jump by {show(float(steps[i]), unit)} after the {i + 1:,}th of them",
            "sort them along the face, and leave out strays",
        )
    few = max(1, len(points) // 200)
    rises = float(points[-few:, 1].mean() - points[:few, 1].mean())
    if abs(rises) < 0.05 * size:
        raise PreviewError(
            "",
            None,
            "the points begin and end at about one height, so which end is the foot is not told",
            "measure the face alone, from its foot to its top, without the foot and the back",
        )
    return points if rises > 0 else points[::-1]


def _against_the_wall(edges: Sequence[Edge], wanted: Wanted, unit: Unit) -> tuple[list[Edge], tuple[float, float]]:
    """The face moved to where its back is d = 0 and its lowest point, or its end, h = 0; and by how much."""
    boxes = [edge.bounds for edge in edges]
    near, far, low = min(box[0] for box in boxes), max(box[2] for box in boxes), min(box[1] for box in boxes)
    out = 0.0 if wanted.thickness is None else wanted.thickness - far
    ends_near = 2 * wanted.fit
    if near + out < CLOSE_TO_WALL and not _ends_on_wall(edges, out, ends_near):
        how = f"comes to {show(near + out, unit)} from" if near + out >= 0 else f"goes {show(-near - out, unit)} behind"
        if wanted.thickness is None:
            problem = f"the face {how} the line that the points are measured from, so that is not its back"
            fix = (
                "measure them from the back, or give the thickness, from the back to where the face stands out furthest"
            )
        else:
            problem = f"with a thickness of {show(wanted.thickness, unit)} the face {how} its back"
            least = wanted.thickness - near - out + CLOSE_TO_WALL
            fix = f"check it: the face alone takes more than {show(least, unit)}"
        raise PreviewError("thickness", None, problem, fix)
    by = Affine(e=out, f=-low)
    moved: list[Edge] = []
    for edge in edges:
        (found,) = mapped(edge, by)
        assert isinstance(found, Line | Arc)
        moved.append(found)
    for i, at_start in ((0, True), (-1, False)):  # an end on the wall, but for the noise
        edge = moved[i]
        end = edge.start if at_start else edge.end
        if abs(end[0]) < ends_near:
            on = (0.0, end[1])
            moved[i] = with_ends(edge, on, edge.end) if at_start else with_ends(edge, edge.start, on)
    return moved, (out, -low)


def _ends_on_wall(edges: Sequence[Edge], out: float, ends_near: float) -> bool:
    """Whether only the ends of a face come near the wall."""
    ends = [edges[0].start, edges[-1].end]
    inner = [edge.end for edge in edges[:-1]]
    inner += [(float(d), float(h)) for edge in edges for d, h in edge.point(np.array([0.5]))]
    near_end = any(abs(end[0] + out) < ends_near for end in ends)
    return near_end and all(at[0] + out > CLOSE_TO_WALL for at in inner)


def _closed(face: Sequence[Edge]) -> list[Edge]:
    """The face with a level top, the back and a level foot."""
    foot, top = face[0].start, face[-1].end
    corners = [top, (0.0, top[1]), (0.0, foot[1]), foot]
    return [*face, *(Line(a, b) for a, b in pairwise(corners))]


def _notes(chain: Chain, points: Floats, wanted: Wanted, unit: Unit, samples: Floats) -> tuple[str, ...]:
    arcs = sum(isinstance(edge, Arc) for edge in chain.edges)
    d, h = samples[chain.worst_at].tolist()
    joints = len(chain.edges) - 1
    measured = "" if wanted.thickness is not None else ", and the points as measured from the back"
    notes = [
        (
            f"fitted {len(points):,} points with {counted(len(chain.edges) - arcs, 'line')} and {counted(arcs, 'arc')}"
            + (
                f"; {chain.tangent} of their {counted(joints, 'joint')} {'is' if joints == 1 else 'are'} tangent"
                if joints
                else ""
            )
        ),
        (
            f"the points scatter by about {_hair(chain.noise)}; the furthest is {_hair(chain.worst)} off the profile, "
            f"{show(d, unit)} out and {show(h, unit)} up"
        ),
        f"the top and the foot were taken as level{measured}",
    ]
    if chain.worst > max(wanted.fit, 5 * chain.noise):
        notes.append(f"that is more than the fit of {wanted.fit:g} mm: look at the points there")
    return tuple(notes)


def _hair(length: float) -> str:
    """A small length, mm, in two digits; what no gauge can tell is nothing."""
    return f"{length:.2g} mm" if length >= 1e-4 else "0 mm"
