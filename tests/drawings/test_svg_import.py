"""SVG files written by other libraries, and by hand, give the profile that was drawn, at its size."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings

from drawing_files import AREA, EDGES, KNOWN, apart, path_data, svg_text, written
from preview.drawings import Drawn, Wanted, read_drawing
from preview.errors import PreviewError
from preview.profiles import Arc, Line, Profile, distance_to, measure
from strategies import profiles

DATA = path_data(EDGES)


def read(folder: Path, text: str, wanted: Wanted = Wanted()) -> Drawn:  # noqa: B008
    return read_drawing(written(folder, "drawn.svg", text), wanted)


def refused(folder: Path, text: str, wanted: Wanted = Wanted()) -> str:  # noqa: B008
    with pytest.raises(PreviewError) as caught:
        read(folder, text, wanted)
    return str(caught.value)


# Other libraries.


def test_trimesh(tmp_path: Path) -> None:
    """It writes arcs as arcs, y up as they stand, and its size as a part of the page."""
    import trimesh

    corners = [(0, 0), (20, 0), (20, 30), (10, 40), (0, 40), (10 + 10 * math.sqrt(0.5), 30 + 10 * math.sqrt(0.5))]
    entities = trimesh.path.entities
    path = trimesh.path.Path2D(
        entities=[entities.Line([0, 1, 2]), entities.Arc([2, 5, 3]), entities.Line([3, 4, 0])],
        vertices=np.array(corners, dtype=float),
    )
    path.export(str(tmp_path / "drawn.svg"))
    assert "A" in (tmp_path / "drawn.svg").read_text("utf-8")
    found = read_drawing(tmp_path / "drawn.svg", Wanted(units="mm", foot="top"))
    assert measure(found.profile).area == pytest.approx(800 - (1 - math.pi / 4) * 100, abs=1e-3)
    assert [edge.radius for edge in found.profile.edges if isinstance(edge, Arc)] == [pytest.approx(10, abs=1e-4)]
    assert found.deviation == 0.0


def test_matplotlib(tmp_path: Path) -> None:
    """It writes a DOCTYPE line, points of 1/72 in with six decimals, and Bézier curves for arcs."""
    import matplotlib.patches
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure
    from matplotlib.path import Path as Outline

    figure = Figure(figsize=(2, 3))
    FigureCanvasSVG(figure)
    figure.patch.set_visible(False)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, 50.8)
    axes.set_ylim(0, 76.2)
    quarter = Outline.arc(0, 90)
    points = [(0, 0), (20, 0), *(10 * quarter.vertices + (10, 30)), (0, 40), (0, 0)]
    codes = [Outline.MOVETO, Outline.LINETO, Outline.LINETO, *quarter.codes[1:], Outline.LINETO, Outline.CLOSEPOLY]
    axes.add_patch(matplotlib.patches.PathPatch(Outline(5 + np.array(points), codes), fill=False))
    figure.savefig(tmp_path / "drawn.svg")
    assert "<!DOCTYPE" in (tmp_path / "drawn.svg").read_text("utf-8")
    found = read_drawing(tmp_path / "drawn.svg")
    assert measure(found.profile).area == pytest.approx(800 - (1 - math.pi / 4) * 100, abs=0.01)
    assert [type(edge) for edge in found.profile.edges] == [Line, Line, Arc, Line, Line]
    assert found.profile.edges[2].length == pytest.approx(5 * math.pi, abs=2e-3)
    assert found.deviation < 1e-3


def test_reportlab(tmp_path: Path) -> None:
    """It turns its drawings over by a transform, and says no physical size; a quarter circle is a Bézier curve."""
    from reportlab.graphics import renderSVG
    from reportlab.graphics.shapes import Drawing
    from reportlab.graphics.shapes import Path as Outline

    drawing = Drawing(200, 200)
    outline = Outline(fillColor=None)
    outline.moveTo(10, 10)
    outline.lineTo(82, 10)
    outline.lineTo(82, 82)
    outline.curveTo(82, 82 + 36 * 0.5522847498, 46 + 36 * 0.5522847498, 118, 46, 118)
    outline.lineTo(10, 118)
    outline.closePath()
    drawing.add(outline)
    found = read(tmp_path, renderSVG.drawToString(drawing), Wanted(units="mm", tolerance=0.02))
    assert measure(found.profile).area == pytest.approx(72 * 108 - (1 - math.pi / 4) * 36**2, abs=0.02 * 18 * math.pi)
    assert [edge.radius for edge in found.profile.edges if isinstance(edge, Arc)] == [pytest.approx(36, abs=0.02)]


def test_the_cad_kernels_outline(tmp_path: Path) -> None:
    """cadquery's exporter writes the edges that it sees as polylines, in units of a scale given in its transform."""
    import cadquery as cq

    pen = cq.Workplane().moveTo(*EDGES[0].start)
    for edge in EDGES[:-1]:
        pen = pen.threePointArc(edge.via, edge.end) if isinstance(edge, Arc) else pen.lineTo(*edge.end)
    options = {"projectionDir": (0, 0, 1), "showHidden": False, "showAxes": False, "width": None, "height": 400}
    cq.exporters.export(pen.close().extrude(5), str(tmp_path / "kernel.svg"), opt=options)
    found = read_drawing(tmp_path / "kernel.svg", Wanted(units="mm"))
    scale = measure(found.profile).h_max / 40
    assert measure(found.profile).area / scale**2 == pytest.approx(AREA, rel=1e-3)
    assert measure(found.profile).d_max / scale == pytest.approx(20, rel=1e-6)


# By hand.


def test_nested_transforms(tmp_path: Path) -> None:
    """A quarter turn and back, a mirror twice, a shift undone, a scale of a half in a viewBox twice as large."""
    text = svg_text(
        f'<g transform="translate(60,-80) rotate(90)"><g transform="scale(-2,2) skewX(0)">'
        f'<g transform="matrix(-1 0 0 1 3 0)"><path transform="rotate(-90 1 1)" d="{DATA}"/></g></g></g>',
        'width="5cm" viewBox="-500 -500 100 100"',
    )
    found = read(tmp_path, text)
    assert apart(found.profile, KNOWN) < 1e-9


@pytest.mark.parametrize(
    ("head", "mm"),
    [
        ('width="100mm" viewBox="0 0 100 50"', 1.0),
        ('height="5in" width="10in" viewBox="0 0 10 5"', 25.4),
        ('width="72pt" viewBox="0 0 2 2"', 12.7),
        ('width="6pc" height="1in" viewBox="0 0 1 1"', 25.4),
        ('width="40Q" viewBox="0 0 10 10"', 1.0),
        ('width="200mm" height="100mm" viewBox="0 0 100 100"', 1.0),  # it fits the smaller way
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="xMidYMid slice"', 2.0),
        ('width="100mm"', 25.4 / 96),
    ],
)
def test_physical_sizes(head: str, mm: float, tmp_path: Path) -> None:
    found = read(tmp_path, svg_text(f'<path d="{DATA}"/>', head))
    assert measure(found.profile).area == pytest.approx(AREA * mm**2, rel=1e-9)


@pytest.mark.parametrize("head", ["", 'width="50" height="60"', 'width="100%" viewBox="0 0 1 1"', 'width="50px"'])
def test_without_one_the_unit_is_asked_for(head: str, tmp_path: Path) -> None:
    text = svg_text(f'<path d="{DATA}"/>', head)
    assert ": units\n  the drawing does not say how large a unit of it is" in refused(tmp_path, text)
    assert apart(read(tmp_path, text, Wanted(units="mm")).profile, KNOWN) < 1e-9


SHAPES = {
    "rect": ('<rect x="1" y="2" width="20" height="40"/>', 800.0),
    "polygon": ('<polygon points="0,0 20,0 20,-30 10,-40 0-40"/>', 750.0),
    "polyline": ('<polyline points="0 0 20 0 20 -30 10 -40 0 -40 0 0"/>', 750.0),
    "line": ("".join(f'<line x1="{a}" y1="{b}" x2="{c}" y2="{d}"/>' for a, b, c, d in
             [(0, 0, 20, 0), (20, 0, 20, 30), (20, 30, 0, 40), (0, 40, 0, 0)]), 700.0),
    "rounded": ('<rect width="20" height="40" rx="3"/>', 800 - (4 - math.pi) * 9),
    "elliptic": ('<rect width="20mm" height="40mm" rx="3" ry="2" transform="scale(.264583333333333333)"/>', None),
    "smooth": ('<path d="M0 0 20 0V-20Q20-40 10-40T0-40z"/>', None),
}  # fmt: skip


@pytest.mark.parametrize("kind", SHAPES)
def test_basic_shapes(kind: str, tmp_path: Path) -> None:
    text, area = SHAPES[kind]
    found = read(tmp_path, svg_text(text), Wanted(back="left"))
    if kind == "elliptic":  # 20 mm are 75.59 units of a 96th of an inch; the corners take (4 - π) rx ry
        area = 800 - (4 - math.pi) * 6 * (25.4 / 96) ** 2
    elif kind == "smooth":  # a parabola leaves a third of the triangle of its control points; the second is flat
        area = 20 * 40 - 10 * 20 / 2 / 3
    assert measure(found.profile).area == pytest.approx(area, abs=1e-9 if kind not in ("elliptic", "smooth") else 0.02)


def test_used_again_and_not_drawn(tmp_path: Path) -> None:
    text = svg_text(
        f'<defs><path id="a" d="{DATA}"/><circle r="5"/></defs><clipPath><rect width="5" height="5"/></clipPath>'
        '<symbol id="s"><use href="#a"/></symbol><g display="none"><rect width="9" height="9"/></g>'
        '<rect style="visibility: hidden" width="9" height="9"/><use href="#s" x="3" y="4"/><script>alert(1)</script>'
    )
    found = read(tmp_path, text)
    assert apart(found.profile, KNOWN) < 1e-9
    assert found.notes[0] == "left out 2 hidden"


def test_the_layer_is_the_group(tmp_path: Path) -> None:
    text = svg_text(f'<g id="base"><path d="{DATA}"/></g><g id="g7"><circle id="knob" cx="70" r="4"/></g>')
    assert apart(read(tmp_path, text, Wanted(layer="base")).profile, KNOWN) < 1e-9
    assert 'on layer "base"; 8 mm wide and 8 mm high on layer "g7"' in refused(tmp_path, text)
    assert 'did you mean "base"?' in refused(tmp_path, text, Wanted(layer="bade"))


def test_a_circle_of_bezier_curves_is_an_arc(tmp_path: Path) -> None:
    """Four thirds of (sqrt 2 - 1) for the control points: the usual stand-in, 0.03 % off the circle."""
    k = 4 / 3 * (math.sqrt(2) - 1)
    text = svg_text(f'<path d="M0 0H20V-35c0 {-5 * k} {-5 * (1 - k)} -5 -5 -5H0z"/>')
    found = read(tmp_path, text)
    assert [edge.radius for edge in found.profile.edges if isinstance(edge, Arc)] == [pytest.approx(5, abs=1e-9)]
    assert 1e-3 < found.deviation < 5 * 2.8e-4
    fine = read(tmp_path, text, Wanted(tolerance=1e-4))
    assert fine.deviation <= 1e-4
    assert len(fine.profile.edges) > 5


WRONG = {
    "not SVG": ("<html/>", "the file is no SVG drawing"),
    "empty": (svg_text(""), "no paths or shapes that show"),
    "text only": (svg_text("<text>a</text>"), "it has 1 text"),
    "path": (svg_text('<path d="M0 0 L NaN 5"/>'), "has path data that cannot be read"),
    "path with more": (svg_text('<path d="M0 0 L 1 1 ~ 5 5"/>'), "has path data that cannot be read"),
    "path that starts nowhere": (svg_text('<path d="L 5 5"/>'), "has path data that cannot be read"),
    "transform": (svg_text('<path transform="rotate(1,2)" d="M0 0L5 5"/>'), "has a transform that cannot be read"),
    "points": (svg_text('<polygon points="1 2 3"/>'), "has points that cannot be read"),
    "length": (svg_text('<rect width="5em" height="1"/>'), "has a width that cannot be read"),
    "viewBox": (svg_text("<g/>", 'width="5mm" viewBox="0 0 0 5"'), "has a viewBox that cannot be read"),
    "use of itself": (svg_text('<g id="a"><use href="#a"/></g>'), "has a reference that cannot be read"),
    "use of nothing": (svg_text('<use href="other.svg#a"/>'), "has a reference that cannot be read"),
    "unclosed": ('<svg xmlns="http://www.w3.org/2000/svg"><g>', "no sound XML from line 1 on"),
}


@pytest.mark.parametrize("kind", WRONG)
def test_what_is_wrong_is_said(kind: str, tmp_path: Path) -> None:
    text, said = WRONG[kind]
    assert said in refused(tmp_path, text)


@settings(max_examples=25)
@given(profiles())
def test_any_profile_comes_back(tmp_path_factory: pytest.TempPathFactory, profile: Profile) -> None:
    path = tmp_path_factory.mktemp("round") / "drawn.svg"
    path.write_text(svg_text(f'<path d="{path_data(profile.edges)}"/>'), "utf-8")
    found = read_drawing(path, Wanted(back="left"), profile.name)
    assert apart(found.profile, profile.moved(0.0, -measure(profile).h_min)) < 1e-6


def test_a_picture_of_the_profile_lies_on_it(tmp_path: Path) -> None:
    """Another road: points along the path as svg.path itself walks it lie on the imported outline."""
    from svg.path import parse_path

    walked = parse_path(DATA)
    points = np.array([(p.real, -p.imag) for p in (walked.point(t) for t in np.linspace(0, 1, 201))])
    assert distance_to(read(tmp_path, svg_text(f'<path d="{DATA}"/>')).profile, points).max() < 1e-9
