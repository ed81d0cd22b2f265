"""A profile at full size as DXF and SVG, read back by ezdxf and svgelements: lines stay lines, arcs stay arcs."""

from __future__ import annotations

import io
import math
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
import svgelements
from ezdxf import recover
from ezdxf.math import bulge_to_arc
from hypothesis import given, settings

from preview.drafting.profile.full_size import LAYER, profile_dxf, profile_svg
from preview.profiles import Arc, Edge, Line, Profile, arc_through, make_profile, measure
from preview.scene import load_profile
from strategies import profiles

FILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
SAME = 1e-9  # mm; a thousandth of what is asked, 1e-6


@pytest.fixture(params=FILES, ids=lambda path: path.stem, scope="module")
def profile(request: pytest.FixtureRequest) -> Profile:
    return load_profile(request.param)


def read_dxf(data: bytes) -> list[Edge]:
    """The outline's edges as ezdxf finds them."""
    document, auditor = recover.read(io.BytesIO(data))
    assert not auditor.errors
    assert not auditor.fixes
    (line,) = document.modelspace().query("LWPOLYLINE")
    assert line.closed
    points = list(line.get_points("xyb"))
    edges: list[Edge] = []
    for (x0, y0, bulge), (x1, y1, _) in zip(points, [*points[1:], points[0]], strict=True):
        if not bulge:
            edges.append(Line((x0, y0), (x1, y1)))
            continue
        center, first, last, _ = bulge_to_arc((x0, y0), (x1, y1), bulge)
        sweep = (last - first) % (2 * math.pi)
        edges.append(Arc((x0, y0), (x1, y1), (center.x, center.y), math.copysign(sweep, bulge)))
    return edges


def read_svg(data: bytes) -> list[Edge]:
    """The outline's edges as svgelements finds them in the path's own numbers, y turned up."""
    (path,) = ElementTree.fromstring(data).iter("{http://www.w3.org/2000/svg}path")
    back: list[Edge] = []

    def spot(at: svgelements.Point) -> tuple[float, float]:
        return (at.x, -at.y)

    for part in svgelements.Path(path.get("d")):
        if isinstance(part, svgelements.Arc):
            assert part.rx == pytest.approx(part.ry, abs=SAME)
            back.append(arc_through(spot(part.start), spot(part.point(0.5)), spot(part.end)))
        elif not isinstance(part, svgelements.Move) and abs(part.end - part.start) > 0:
            assert isinstance(part, svgelements.Line | svgelements.Close)
            back.append(Line(spot(part.start), spot(part.end)))
    return back


def assert_same(found: list[Edge], profile: Profile) -> None:
    """The same edges in the same order, every number within `SAME`; arcs in parts are joined again."""
    again = make_profile(profile.name, found)
    assert [type(edge) for edge in again.edges] == [type(edge) for edge in profile.edges]
    for mine, theirs in zip(profile.edges, again.edges, strict=True):
        assert math.dist(mine.start, theirs.start) < SAME
        assert math.dist(mine.end, theirs.end) < SAME
        if isinstance(mine, Arc) and isinstance(theirs, Arc):
            assert math.dist(mine.center, theirs.center) < 1e-7
            assert theirs.sweep == pytest.approx(mine.sweep, abs=1e-8)


def test_dxf_comes_back_as_it_was(profile: Profile) -> None:
    assert_same(read_dxf(profile_dxf(profile)), profile)


def test_svg_comes_back_as_it_was(profile: Profile) -> None:
    assert_same(read_svg(profile_svg(profile)), profile)


@settings(max_examples=40)
@given(profiles())
def test_any_profile_comes_back(profile: Profile) -> None:
    assert_same(read_dxf(profile_dxf(profile)), profile)
    assert_same(read_svg(profile_svg(profile)), profile)


def test_an_arc_over_half_a_turn_comes_back() -> None:
    """270 degrees of a rod on a strip: the flags and the bulge of an arc that is more than half."""
    loop = [
        Line((0.0, 0.0), (5.0, 0.0)),
        Line((5.0, 0.0), (5.0, 20.0)),
        arc_through((5.0, 20.0), (9.0 + math.sqrt(32), 24.0), (5.0, 28.0)),
        Line((5.0, 28.0), (0.0, 28.0)),
        Line((0.0, 28.0), (0.0, 0.0)),
    ]
    profile = make_profile("rod", loop)
    (arc,) = [edge for edge in profile.edges if isinstance(edge, Arc)]
    assert arc.sweep == pytest.approx(1.5 * math.pi)
    assert_same(read_dxf(profile_dxf(profile)), profile)
    assert_same(read_svg(profile_svg(profile)), profile)


def test_dxf_says_its_unit_layer_and_size(profile: Profile) -> None:
    document = ezdxf.read(io.StringIO(profile_dxf(profile).decode("ascii").replace("\r\n", "\n")))
    size = measure(profile)
    assert document.dxfversion == "AC1015"
    assert document.header["$INSUNITS"] == ezdxf.units.MM == 4
    assert [entity.dxf.layer for entity in document.modelspace()] == [LAYER]
    assert LAYER in document.layers
    assert tuple(document.header["$EXTMAX"])[:2] == (size.d_max, size.h_max)
    assert not document.audit().has_errors


def test_svg_is_full_size_on_paper(profile: Profile) -> None:
    """Width and height in mm, and as many units across: a unit is a mm (SVG 1.1, 7.10 and 7.7).

    svgelements takes a mm for 0.0393701 in, so its own sizes are out by 5e-7 of themselves.
    """
    data = profile_svg(profile)
    root = ElementTree.fromstring(data)
    size = measure(profile)
    wide, high = size.d_max - size.d_min, size.h_max - size.h_min
    left, top, across, down = (float(value) for value in root.attrib["viewBox"].split())
    assert (root.attrib["width"], root.attrib["height"]) == (f"{across:.7g}mm", f"{down:.7g}mm")
    assert (left, top) == pytest.approx((size.d_min - 5.0, -size.h_max - 5.0), abs=1e-4)
    drawing = svgelements.SVG.parse(io.BytesIO(data), ppi=25.4)
    outline = next(element for element in drawing.elements() if isinstance(element, svgelements.Path))
    left, top, right, bottom = outline.bbox()
    assert (right - left, bottom - top) == pytest.approx((wide, high), rel=1e-6)


@pytest.mark.parametrize("name", ["Fenêtre & <porte> ½", "two\nlines", "0\r\nEOF", 'say "cheese"', "木"])
def test_no_name_breaks_a_file(name: str) -> None:
    shoe = load_profile(FILES[0].with_name("quarter-round-shoe.toml"))
    named = Profile(name, shoe.edges)
    assert_same(read_dxf(profile_dxf(named)), named)
    assert_same(read_svg(profile_svg(named)), named)


def test_a_profile_off_the_wall_keeps_its_place() -> None:
    """A member moved out and up, as in a build-up, is written where it is."""
    moved = load_profile(FILES[0].with_name("quarter-round-shoe.toml")).moved(31.75, -6.35)
    found = read_dxf(profile_dxf(moved))
    assert min(edge.bounds[0] for edge in found) == 31.75
    assert min(edge.bounds[1] for edge in found) == -6.35
    back = read_svg(profile_svg(moved))
    assert min(edge.bounds[0] for edge in back) == pytest.approx(31.75, abs=SAME)
    assert min(edge.bounds[1] for edge in back) == pytest.approx(-6.35, abs=SAME)
