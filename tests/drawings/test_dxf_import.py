"""DXF files written by other libraries, and by hand, give the profile that was drawn: lines as lines, arcs as arcs."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings

from drawing_files import AREA, EDGES, KNOWN, apart, bulges, dxf_text, written
from preview.drawings import Wanted, read_drawing
from preview.errors import PreviewError
from preview.profiles import Arc, Line, Profile, measure
from strategies import profiles

VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")


def drawn(document: Any, folder: Path, wanted: Wanted = Wanted()) -> Profile:  # noqa: B008
    document.saveas(folder / "drawn.dxf")
    return read_drawing(folder / "drawn.dxf", wanted).profile


def new(version: str = "R2010", units: int = 4) -> tuple[Any, Any]:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units
    return document, document.modelspace()


def add_edges(space: Any, **options: Any) -> None:
    for edge in EDGES:
        if isinstance(edge, Line):
            space.add_line(edge.start, edge.end, dxfattribs=options)
        else:
            angles = [
                math.degrees(math.atan2(y - edge.center[1], x - edge.center[0])) for x, y in (edge.start, edge.end)
            ]
            space.add_arc(edge.center, edge.radius, *angles, is_counter_clockwise=edge.sweep > 0, dxfattribs=options)


@pytest.mark.parametrize("version", VERSIONS)
def test_lines_and_arcs_of_every_version(version: str, tmp_path: Path) -> None:
    document, space = new(version)
    add_edges(space)
    profile = drawn(document, tmp_path, Wanted(units="mm"))  # R12 has no header variable for units
    assert measure(profile).area == pytest.approx(AREA, rel=1e-12)
    assert apart(profile, KNOWN) < 1e-9


@pytest.mark.parametrize("version", VERSIONS)
def test_polylines_with_bulges(version: str, tmp_path: Path) -> None:
    document, space = new(version)
    if version == "R12":
        space.add_polyline2d(bulges(EDGES), format="xyb", close=True)
    else:
        space.add_lwpolyline(bulges(EDGES), format="xyb", close=True)
    assert apart(drawn(document, tmp_path, Wanted(units="mm")), KNOWN) < 1e-9


def test_a_binary_file(tmp_path: Path) -> None:
    document, space = new()
    add_edges(space)
    document.saveas(tmp_path / "drawn.dxf", fmt="bin")
    assert apart(read_drawing(tmp_path / "drawn.dxf").profile, KNOWN) < 1e-9


def test_a_file_typed_by_hand(tmp_path: Path) -> None:
    text = """  0\nSECTION\n  2\nENTITIES
  0\nLINE\n  8\nbase\n 10\n0\n 20\n0\n 11\n2\n 21\n0
  0\nLINE\n  8\nbase\n 10\n2\n 20\n0\n 11\n2\n 21\n3
  0\nARC\n  8\nbase\n 10\n1\n 20\n3\n 40\n1\n 50\n0\n 51\n90
  0\nLINE\n  8\nbase\n 10\n1\n 20\n4\n 11\n0\n 21\n4
  0\nLINE\n  8\nbase\n 10\n0\n 20\n4\n 11\n0\n 21\n0
  0\nENDSEC\n  0\nEOF\n"""
    path = written(tmp_path, "typed.dxf", text)
    profile = read_drawing(path, Wanted(units="in")).profile
    assert measure(profile).area == pytest.approx((8 - 1 + math.pi / 4) * 25.4**2, rel=1e-12)
    assert [edge.radius for edge in profile.edges if isinstance(edge, Arc)] == [pytest.approx(25.4)]
    with pytest.raises(PreviewError, match="does not say what its units are"):
        read_drawing(path)


def test_blocks_in_blocks_mirrored_turned_and_scaled(tmp_path: Path) -> None:
    document, space = new()
    inner = document.blocks.new("INNER", base_point=(5, 7))
    add_edges(inner)
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (3, 4), dxfattribs={"xscale": -0.5, "yscale": 0.5, "rotation": 180})
    space.add_blockref("OUTER", (-40, 2), dxfattribs={"xscale": 2, "yscale": 2, "zscale": 2, "layer": "BASE"})
    space.add_line((500, 0), (600, 0), dxfattribs={"layer": "OTHER"})
    # Half, mirrored and turned half round, then twice: the outline upside down, its back still on the left.
    profile = drawn(document, tmp_path, Wanted(layer="BASE", foot="top"))
    assert apart(profile, KNOWN) < 1e-9


def test_a_block_stretched_in_one_direction_makes_ellipses(tmp_path: Path) -> None:
    document, space = new()
    block = document.blocks.new("B")
    block.add_lwpolyline(bulges(EDGES), format="xyb", close=True)
    space.add_blockref("B", (0, 0), dxfattribs={"xscale": 1, "yscale": 2})
    document.saveas(tmp_path / "drawn.dxf")
    found = read_drawing(tmp_path / "drawn.dxf")
    assert 0 < found.deviation <= 0.002
    assert measure(found.profile).area == pytest.approx(2 * AREA, rel=2e-5)
    assert measure(found.profile).h_max == pytest.approx(80, abs=1e-9)


def test_ellipses_that_are_circles_and_splines_that_are_arcs(tmp_path: Path) -> None:
    """A quarter circle as an ellipse entity, and half a circle as a rational spline, which is one exactly."""
    document, space = new()
    for edge in EDGES:
        if isinstance(edge, Line):
            space.add_line(edge.start, edge.end)
    space.add_ellipse((10, 30), major_axis=(10, 0), ratio=1.0, start_param=0, end_param=math.pi / 2)
    half = ezdxf.math.rational_bspline_from_arc((20, 11), 3, 90, 270)
    space.add_rational_spline(half.control_points, half.weights(), half.degree, half.knots())
    document.saveas(tmp_path / "drawn.dxf")
    found = read_drawing(tmp_path / "drawn.dxf")
    assert found.deviation < 1e-9
    assert apart(found.profile, KNOWN) < 1e-8


def test_an_ellipse_that_is_no_circle(tmp_path: Path) -> None:
    """A quarter of an ellipse 10 x 9.99: π/4 of 99.9 mm²; the corner of 10 x 10 that it rounds off loses the rest."""
    document, space = new()
    space.add_lwpolyline([(20, 30), (20, 0), (0, 0), (0, 40), (10, 40), (10, 39.99)])
    space.add_ellipse((10, 30), major_axis=(10, 0), ratio=0.999, start_param=0, end_param=math.pi / 2)
    document.saveas(tmp_path / "drawn.dxf")
    found = read_drawing(tmp_path / "drawn.dxf", Wanted(heal=0.0, tolerance=0.0002))
    assert measure(found.profile).area == pytest.approx(700 + math.pi / 4 * 99.9, abs=0.0002 * 15.7)
    assert 0 < found.deviation <= 0.0002
    assert found.notes[0].startswith("drawn curves became lines and arcs; they stray by 0.0")


def test_a_fitted_spline_from_the_cad_kernel(tmp_path: Path) -> None:
    """cadquery's exporter writes the kernel's own spline; its area is the face's, by the kernel."""
    import cadquery as cq

    face = cq.Workplane().lineTo(20, 0).spline([(17, 10), (22, 22), (15, 35)], includeCurrent=True).lineTo(0, 35)
    face = face.close()
    cq.exporters.exportDXF(face, str(tmp_path / "spline.dxf"))
    area = cq.Face.makeFromWires(face.val()).Area()
    found = read_drawing(tmp_path / "spline.dxf", Wanted(tolerance=0.0005))
    assert measure(found.profile).area == pytest.approx(area, abs=0.01)
    assert 0 < found.deviation <= 0.0005
    coarse = read_drawing(tmp_path / "spline.dxf", Wanted(tolerance=0.05))
    assert 0.0005 < coarse.deviation <= 0.05
    assert len(coarse.profile.edges) < len(found.profile.edges) / 2


def test_lines_and_arcs_from_the_cad_kernel(tmp_path: Path) -> None:
    import cadquery as cq

    pen = cq.Workplane().moveTo(*EDGES[0].start)
    for edge in EDGES[:-1]:
        pen = pen.threePointArc(edge.via, edge.end) if isinstance(edge, Arc) else pen.lineTo(*edge.end)
    cq.exporters.exportDXF(pen.close(), str(tmp_path / "kernel.dxf"))
    assert apart(read_drawing(tmp_path / "kernel.dxf").profile, KNOWN) < 1e-6


def test_a_path_from_the_mesh_library(tmp_path: Path) -> None:
    """trimesh writes polylines and arcs into a DXF of its own template."""
    import trimesh

    corners = [(0, 0), (20, 0), (20, 30), (10, 40), (0, 40)]
    quarter = (10 + 10 * math.cos(math.pi / 4), 30 + 10 * math.sin(math.pi / 4))
    path = trimesh.path.Path2D(
        entities=[
            trimesh.path.entities.Line([0, 1, 2]),
            trimesh.path.entities.Arc([2, 5, 3]),
            trimesh.path.entities.Line([3, 4, 0]),
        ],
        vertices=np.array([*corners, quarter], dtype=float),
    )
    path.units = "mm"
    path.export(str(tmp_path / "mesh.dxf"))
    found = read_drawing(tmp_path / "mesh.dxf", Wanted(units="mm"))
    assert measure(found.profile).area == pytest.approx(800 - (1 - math.pi / 4) * 100, rel=1e-6)
    assert [edge.radius for edge in found.profile.edges if isinstance(edge, Arc)] == [pytest.approx(10, abs=1e-5)]


@pytest.mark.parametrize(("code", "mm"), [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_units_of_the_header(code: int, mm: float, tmp_path: Path) -> None:
    """$INSUNITS: 1 inches, 2 feet, 4 millimeters, 5 centimeters, 6 meters (the DXF reference's table)."""
    scaled = [type(e)(*((x / mm, y / mm) for x, y in (e.start, e.end))) for e in EDGES if isinstance(e, Line)]
    arcs = [
        Arc(*((x / mm, y / mm) for x, y in (e.start, e.end, e.center)), e.sweep) for e in EDGES if isinstance(e, Arc)
    ]
    path = written(tmp_path, "scaled.dxf", dxf_text([*scaled, *arcs], units=code))
    assert apart(read_drawing(path).profile, KNOWN) < 1e-9
    with pytest.raises(PreviewError, match="by its own word"):
        read_drawing(path, Wanted(units="ft" if code != 2 else "m"))


@pytest.mark.parametrize("code", [None, 0, 3])
def test_units_are_asked_for(code: int | None, tmp_path: Path) -> None:
    path = written(tmp_path, "asks.dxf", dxf_text(EDGES, units=code))
    with pytest.raises(PreviewError) as caught:
        read_drawing(path)
    assert caught.value.problems[0].place == "units"
    assert apart(read_drawing(path, Wanted(units="mm")).profile, KNOWN) < 1e-9


def test_what_is_hidden_or_no_outline_is_left_out_and_told(tmp_path: Path) -> None:
    document, space = new()
    add_edges(space, layer="base")
    document.layers.add("old").off()
    document.layers.add("ice").freeze()
    for layer in ("old", "ice"):
        space.add_line((0, 0), (99, 99), dxfattribs={"layer": layer})
    space.add_text("base", height=5)
    space.add_point((1, 1))
    document.layout().add_line((0, 0), (5, 5))  # on a sheet of paper, not in the model
    document.saveas(tmp_path / "drawn.dxf")
    found = read_drawing(tmp_path / "drawn.dxf")
    assert apart(found.profile, KNOWN) < 1e-9
    assert found.notes[0] == "left out 1 POINT, 1 TEXT, 2 hidden"


def test_arcs_drawn_from_behind(tmp_path: Path) -> None:
    """A normal along -z mirrors the plane of an arc and of a polyline: x runs the other way."""
    document, space = new()
    mirrored = [(-x, y, -b) for x, y, b in bulges(EDGES)]
    space.add_lwpolyline(mirrored, format="xyb", close=True, dxfattribs={"extrusion": (0, 0, -1)})
    assert apart(drawn(document, tmp_path), KNOWN) < 1e-9


@pytest.mark.parametrize("lifted", ["line", "arc", "polyline", "block", "tilt"])
def test_off_the_plane_is_refused(lifted: str, tmp_path: Path) -> None:
    document, space = new()
    if lifted == "line":
        space.add_line((0, 0, 0), (5, 0, 1))
    elif lifted == "arc":
        space.add_arc((0, 0, 2), 5, 0, 90)
    elif lifted == "polyline":
        space.add_lwpolyline([(0, 0), (5, 5)], dxfattribs={"elevation": 3})
    elif lifted == "tilt":
        space.add_circle((0, 0), 5, dxfattribs={"extrusion": (0, 1, 1)})
    else:
        add_edges(document.blocks.new("B"))
        space.add_blockref("B", (0, 0, 4))
    document.saveas(tmp_path / "drawn.dxf")
    with pytest.raises(PreviewError, match="is tilted, or does not lie at z = 0"):
        read_drawing(tmp_path / "drawn.dxf")


@settings(max_examples=25)
@given(profiles())
def test_any_profile_comes_back(tmp_path_factory: pytest.TempPathFactory, profile: Profile) -> None:
    folder = tmp_path_factory.mktemp("round")
    for write in (by_ezdxf, by_hand):
        write(profile, folder / "drawn.dxf")
        found = read_drawing(folder / "drawn.dxf", Wanted(back="left"), profile.name)
        lowest = measure(profile).h_min
        assert apart(found.profile, profile.moved(0.0, -lowest)) < 1e-6
        assert found.deviation == 0.0


def by_ezdxf(profile: Profile, path: Path) -> None:
    document, space = new("R2000")
    space.add_lwpolyline(bulges(profile.edges), format="xyb", close=True)
    document.saveas(path)


def by_hand(profile: Profile, path: Path) -> None:
    path.write_text(dxf_text(profile.edges), "utf-8")
