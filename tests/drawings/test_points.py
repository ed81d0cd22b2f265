"""Measured points: the profile that they were measured on comes back, with its arcs, and every doubt is said."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from drawing_files import written
from preview.drawings import Drawn, Wanted, read_drawing
from preview.drawings.segments import Sums, noise_of
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line, Profile, Shape, arc_through, distance_to, measure, sketch

Floats = NDArray[np.float64]

FACES = {
    "base": (30.0, [Shape("fillet", 50), Shape("ogee", 18, -18), Shape("fillet", 0, -3), Shape("fillet", 9)]),
    "chair rail": (15.0, [Shape("cove", 14, 14), Shape("bead", 20), Shape("fillet", 0, -4), Shape("cove", 10, -10)]),
    "cove": (12.0, [Shape("fillet", 12), Shape("cove", 40, 40), Shape("fillet", 10)]),
    "ovolo": (40.0, [Shape("fillet", 30), Shape("ovolo", 16, -16), Shape("fillet", 0, -4), Shape("bevel", 12, -6)]),
    "scotia": (30.0, [Shape("fillet", 12), Shape("scotia", 36, -12), Shape("fillet", 14)]),
    "torus": (40.0, [Shape("fillet", 15), Shape("torus", 24), Shape("fillet", 0, -8), Shape("fillet", 20)]),
}


def face_of(kind: str) -> tuple[Profile, list[Edge]]:
    """A profile and the edges of its face, from the foot up."""
    foot, shapes = FACES[kind]
    profile = sketch(kind, foot, shapes)
    first = next(i for i, edge in enumerate(profile.edges) if edge.start == (foot, 0.0))
    face = [edge for edge in profile.edges[first:] if edge.start[0] > 0.0 and edge.end[0] > 0.0]
    return profile, face


def sampled(edges: Iterable[Edge], most: float) -> Floats:
    """Points (n, 2) along edges, at most `most` mm apart, without the last end."""
    counts = [(edge, 1 + math.ceil(edge.length / most)) for edge in edges]
    return np.concatenate([edge.point(np.linspace(0, 1, count, endpoint=False)) for edge, count in counts])


def measured(face: list[Edge], count: int, noise: float, seed: int, kind: str = "normal") -> Floats:
    """Points along a face, each off by as much in both directions."""
    points = sampled(face, sum(edge.length for edge in face) / count)
    points = np.vstack([points, [face[-1].end]])
    random = np.random.default_rng(seed)
    off = random.normal(0, noise, points.shape) if kind == "normal" else random.uniform(-noise, noise, points.shape)
    return np.asarray(points + off)


def save(folder: Path, points: Floats, heading: str = "d (mm),h (mm)") -> Path:
    rows = "".join(f"{d!r},{h!r}\n" for d, h in points.tolist())
    return written(folder, "face.csv", f"{heading}\n{rows}" if heading else rows)


def read(folder: Path, points: Floats, wanted: Wanted = Wanted()) -> Drawn:  # noqa: B008
    return read_drawing(save(folder, points), wanted)


def radii(edges: list[Edge] | tuple[Edge, ...]) -> list[float]:
    return [edge.radius for edge in edges if isinstance(edge, Arc)]


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("kind", FACES)
def test_arcs_come_back_from_noisy_points(kind: str, seed: int, tmp_path: Path) -> None:
    """At 0.1 mm of noise every radius within 2 %, as many edges as there are, and joined end to end exactly."""
    profile, face = face_of(kind)
    for form in ("normal", "uniform"):
        found = read(tmp_path, measured(face, 4000, 0.1, seed, form))
        assert radii(found.profile.edges) == [pytest.approx(radius, rel=0.02) for radius in radii(profile.edges)]
        assert len(found.profile.edges) == len(profile.edges)
        assert measure(found.profile).area == pytest.approx(measure(profile).area, rel=2e-3)


@pytest.mark.parametrize("kind", FACES)
def test_exact_points_give_the_face_back(kind: str, tmp_path: Path) -> None:
    profile, face = face_of(kind)
    found = read(tmp_path, measured(face, 800, 0.0, 0))
    assert found.deviation < 0.02
    assert radii(found.profile.edges) == [pytest.approx(radius, rel=2e-3) for radius in radii(profile.edges)]
    there = sampled(profile.edges, 0.5)
    assert distance_to(found.profile, there).max() < 0.05


def test_tangency_is_recognised_and_a_corner_is_left(tmp_path: Path) -> None:
    _, face = face_of("base")
    found = read(tmp_path, measured(face, 4000, 0.1, 4))
    arcs = [i for i, edge in enumerate(found.profile.edges) if isinstance(edge, Arc)]
    before, after = (found.profile.edges[i] for i in arcs)  # the two halves of the ogee
    (ux, uy), (vx, vy) = before.tangent(1.0), after.tangent(0.0)
    assert abs(ux * vy - uy * vx) < 1e-6
    line = found.profile.edges[arcs[0] - 1]  # a band that meets the ogee, whose ends run level, squarely
    (ux, uy), (vx, vy) = line.tangent(1.0), before.tangent(0.0)
    assert abs(ux * vx + uy * vy) < math.sin(math.radians(3))


def test_what_is_reported_is_what_there_is(tmp_path: Path) -> None:
    _, face = face_of("cove")
    found = read(tmp_path, measured(face, 1500, 0.1, 9))
    assert found.samples is not None
    assert found.samples.shape == (len(measured(face, 1500, 0.1, 9)), 2)
    inner = found.samples[(found.samples[:, 1] > 0.5) & (found.samples[:, 1] < 61.5)]
    assert distance_to(found.profile, inner).max() <= found.deviation + 1e-9
    assert 0.25 < found.deviation < 0.6
    assert found.notes[0].startswith("fitted 1,50")
    assert "the points scatter by about 0.1 mm" in found.notes[1]


def test_a_stray_point_is_told(tmp_path: Path) -> None:
    points = measured(face_of("cove")[1], 1000, 0.02, 3)
    points[400] += (1.5, -1.5)
    found = read(tmp_path, points)
    assert found.deviation == pytest.approx(2.1, abs=0.15)
    assert found.notes[-1] == "that is more than the fit of 0.1 mm: look at the points there"
    assert radii(found.profile.edges) == [pytest.approx(40, rel=0.02)]


FORMS = {
    "no heading": ("", ",", Wanted(units="mm")),
    "inches": ("out (in),up (in)", ",", Wanted()),
    "swapped": ("h_mm,d_mm", ",", Wanted()),
    "semicolons and decimal commas": ("d [mm];h [mm]", ";", Wanted()),
    "tabs": ("x mm\ty mm", "\t", Wanted()),
    "blanks": ("", "  ", Wanted(units="mm")),
    "from the top down": ("d (mm),h (mm)", ",", Wanted()),
    "from another place": ("d (mm),h (mm)", ",", Wanted(thickness=62.0)),
    "seen from the other side": ("d (mm),h (mm)", ",", Wanted(back="right", foot="top", thickness=62.0)),
}


@pytest.mark.parametrize("form", FORMS)
def test_ways_to_write_them(form: str, tmp_path: Path) -> None:
    heading, mark, wanted = FORMS[form]
    profile, face = face_of("cove")
    points = measured(face, 600, 0.0, 0)
    if form == "inches":
        points /= 25.4
    if form == "swapped":
        points = points[:, ::-1]
    if form == "from the top down":
        points = points[::-1]
    thick = measure(profile).d_max
    if form == "from another place":
        points += (-300.0, 120.0)
    if form == "seen from the other side":
        points = np.array([-40.0, 9.0]) - points
    if wanted.thickness is not None:
        wanted = Wanted(back=wanted.back, foot=wanted.foot, thickness=thick)
    rows = [mark.join(f"{value:.6f}" for value in row) for row in points.tolist()]
    if "commas" in form:
        rows = [row.replace(".", ",") for row in rows]
    text = "# a face\n\n" + "\n".join([heading, *rows] if heading else rows)
    found = read_drawing(written(tmp_path, "face.csv", text), wanted)
    assert radii(found.profile.edges) == [pytest.approx(40, rel=1e-3)]
    assert measure(found.profile).area == pytest.approx(measure(profile).area, rel=1e-3)
    assert measure(found.profile).h_min == pytest.approx(0.0, abs=1e-9)


def test_a_face_that_ends_on_the_wall(tmp_path: Path) -> None:
    quarter: list[Edge] = [arc_through((20, 0), (20 * math.sqrt(0.5), 20 * math.sqrt(0.5)), (0, 20))]
    found = read(tmp_path, measured(quarter, 1500, 0.05, 2))
    assert radii(found.profile.edges) == [pytest.approx(20, rel=0.01)]
    assert sum(isinstance(edge, Line) for edge in found.profile.edges) == 2


def wrong(folder: Path, text: str, wanted: Wanted = Wanted(units="mm")) -> str:  # noqa: B008
    with pytest.raises(PreviewError) as caught:
        read_drawing(written(folder, "face.csv", text), wanted)
    return str(caught.value)


def rows(points: Floats) -> str:
    return "".join(f"{d:.4f},{h:.4f}\n" for d, h in points.tolist())


def test_what_is_wrong_is_said(tmp_path: Path) -> None:
    points = measured(face_of("cove")[1], 400, 0.0, 0)
    shuffled = np.random.default_rng(1).permutation(points)
    round_about = np.vstack([points, points[::-1] - (5, 0)])
    assert "the points do not say what their units are" in wrong(tmp_path, rows(points), Wanted())
    assert 'line 3 is no point: "1,x"' in wrong(tmp_path, "d,h\n1,2\n1,x\n")
    assert 'line 2 is no point: "1,2,3"' in wrong(tmp_path, "a,b,c\n1,2,3\n2,3,4\n")
    assert 'line 2 is no point: "nan,4"' in wrong(tmp_path, "1,2\nnan,4\n")
    assert 'line 2 is no point: "1e999,4"' in wrong(tmp_path, "1,2\n1e999,4\n")
    assert "the file has 2 points, and a face takes at least 8" in wrong(tmp_path, "1,2\n3,4\n")
    assert "the points stand in no order" in wrong(tmp_path, rows(shuffled))
    assert "begin and end at about one height" in wrong(tmp_path, rows(round_about))
    assert "the points jump by" in wrong(tmp_path, rows(np.vstack([points, points[-1:] + np.array([0, 60])])))
    assert "is not its back" in wrong(tmp_path, rows(points - (13, 0)))
    assert "with a thickness of 30 mm the face goes 10 mm behind its back" in wrong(
        tmp_path, rows(points), Wanted(units="mm", thickness=30.0)
    )
    assert "a point lies 40.05 m away" in wrong(tmp_path, rows(points + np.array([40_000, 0])))
    assert "the heading gives two units" in wrong(tmp_path, "d (mm),h (in)\n" + rows(points))
    assert "the heading of the points says in" in wrong(tmp_path, "d (in),h (in)\n" + rows(points))
    assert "the file is not text" in wrong(tmp_path, "1,2\n\0\0\0\n")
    assert "line 2 has 9,000 characters" in wrong(tmp_path, "d,h\n" + "1" * 9000)


def test_the_noise_is_estimated() -> None:
    for sigma in (0.02, 0.1):
        points = measured(face_of("base")[1], 3000, sigma, 5)
        assert noise_of(points) == pytest.approx(sigma, rel=0.08)


def test_sums_fit_lines_and_circles_of_any_stretch() -> None:
    """Scatter about the best line against numpy's least squares, and about a circle known to the last digit."""
    random = np.random.default_rng(8)
    line = np.column_stack([np.linspace(0, 40, 300), 3 + 0.3 * np.linspace(0, 40, 300)]) + random.normal(
        0, 0.1, (300, 2)
    )
    angle = np.linspace(0.2, 1.4, 300)
    circle = 12 * np.column_stack([np.cos(angle), np.sin(angle)]) + (7, -4) + random.normal(0, 0.1, (300, 2))
    sums = Sums(np.vstack([line, circle]))
    about_line, about_circle, length, radius = sums.scatter(np.array([0, 300, 50]), np.array([300, 600, 250]))
    for k, part in ((0, line), (2, line[50:250])):
        assert about_line[k] == pytest.approx(np.linalg.svd(part - part.mean(axis=0))[1][1] ** 2, rel=1e-9)
    assert radius[1] == pytest.approx(12, rel=0.02)
    off = np.hypot(*(circle - (7, -4)).T) - 12
    assert about_circle[1] == pytest.approx(float(off @ off), rel=0.03)
    assert length[0] == pytest.approx(40 * math.hypot(1, 0.3), rel=0.02)
