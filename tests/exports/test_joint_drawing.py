"""The picture of a joint: what is shaded is exactly what differs, what is told is what was given, and all can be read.

The SVG is read back with the standard library's reader, and areas are worked out by shapely, apart from our own
regions; the shaded path is taken by the even-odd rule, and by the rule that viewers follow.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
import svgelements
from hypothesis import given, settings
from numpy.typing import NDArray
from shapely import affinity

from preview.exports import JointDrawing, JointFigure, file_names, joint_files, joint_svg, outline_of
from preview.exports.joint_drawing import joint_page
from preview.exports.joint_drawing_lens import AFTER, MISMATCH, RADIUS
from preview.exports.joint_drawing_shapes import apart, dashes, loop_of
from preview.paper import bounds
from preview.paper.lettering import ink_box
from preview.paper.marks import Trace, Words
from preview.profiles import Profile, difference, flatten, intersection, measure, region, union
from preview.scene import load_profile
from strategies import profiles

FOLDER = Path(__file__).parents[2] / "profiles"
FILES = sorted(FOLDER.glob("*.toml"))
INCH = 25.4
SVG = "{http://www.w3.org/2000/svg}"
Outline = Profile | NDArray[np.float64]


def named(name: str) -> Profile:
    return load_profile(FOLDER / f"{name}.toml")


def figures(gap: float = 0.0, step: float = 0.0, angle: float = 0.0, high: float = 50.0) -> tuple[JointFigure, ...]:
    """Figures with limits, their places up the section where they are not 0."""
    return (
        JointFigure("gap", gap, 0.05, (high / 10, 0.4 * high) if gap else None),
        JointFigure("step", step, 0.05, (high / 10, 0.5 * high) if step else None),
        JointFigure("angle", angle, 0.5, (high / 10, 0.6 * high) if angle else None),
    )


def drawing(before: Outline | None, after: Outline | None, step: float = 0.0, **more: object) -> JointDrawing:
    given_: dict[str, object] = {
        "title": "hall / base / joint 2",
        "subtitle": "miter, outside corner, turns 90° left",
        "before_name": "hall / base / 1 straight",
        "after_name": "hall / base / 2 straight",
        "figures": figures(step=step),
        **more,
    }
    return JointDrawing(before=before, after=after, **given_)  # type: ignore[arg-type]


def read(svg: bytes) -> ET.Element:
    return ET.fromstring(svg)


def labels(svg: bytes) -> list[str]:
    return [path.get("aria-label", "") for path in read(svg).iter(f"{SVG}path") if path.get("aria-label")]


def shadings(svg: bytes) -> list[str]:
    """The path data of what is shaded as different, but for the sample beside the key to the lines."""
    found = [path.get("d", "") for path in read(svg).iter(f"{SVG}path") if path.get("fill") == MISMATCH]
    return found[1:]


def subpaths(path: str) -> list[NDArray[np.float64]]:
    """The closed parts of a path as points (n, 2), in mm on the page, y down."""
    found = []
    for part in svgelements.Path(path).as_subpaths():
        points: list[tuple[float, float]] = []
        for segment in svgelements.Path(part):
            count = 200 if isinstance(segment, svgelements.Arc) else 1
            if segment.start is not None and not isinstance(segment, svgelements.Move):
                points += [(p.x, p.y) for p in (segment.point(i / count) for i in range(count))]
        if len(points) > 2:
            found.append(np.array(points))
    return found


def even_odd(path: str) -> shapely.Geometry:
    """What a path fills by the even-odd rule."""
    area: shapely.Geometry = shapely.Polygon()
    for points in subpaths(path):
        area = area.symmetric_difference(shapely.Polygon(points).buffer(0))
    return area


def painted(path: str) -> float:
    """The area that a path fills by the rule that a viewer takes where none is written: wound more than 0 times."""
    loops = subpaths(path)
    faces = shapely.polygonize([shapely.unary_union([shapely.LinearRing(points) for points in loops])])
    area = 0.0
    for face in faces.geoms:
        inside = face.representative_point()
        wound = sum(
            1 if shapely.LinearRing(points).is_ccw else -1
            for points in loops
            if shapely.Polygon(points).buffer(0).contains(inside)
        )
        area += face.area if wound else 0.0
    return area


def polygon(outline: Outline) -> shapely.Polygon:
    return shapely.Polygon(flatten(outline, 1e-4).points if isinstance(outline, Profile) else outline)


def drawn_scale(svg: bytes) -> float:
    """The scale that the drawing says it has."""
    (text,) = [label for label in labels(svg) if label.startswith("Scale ")]
    times, _, of = text.removeprefix("Scale ").removesuffix(", full size").partition(":")
    return int(times) / int(of)


BASE, OTHER, CROWN = named("ogee-base"), named("cove-and-bead-base"), named("cove-and-ogee-crown")
PAIRS: dict[str, tuple[Outline, Outline]] = {
    "another profile": (BASE, OTHER),
    "another, as points": (flatten(BASE, 0.02).points, flatten(OTHER, 0.02).points),
    "too high": (BASE, BASE.moved(0.0, 4.0)),
    "too far out": (CROWN, CROWN.moved(3.0, 0.0)),
    "aside in both": (CROWN, CROWN.moved(2.0, -3.0)),
    "points against a profile": (flatten(CROWN, 0.01).points[::-1], named("flat-ogee-crown")),
}


@pytest.mark.parametrize("pair", PAIRS)
def test_what_is_shaded_is_what_differs(pair: str) -> None:
    before, after = PAIRS[pair]
    svg = joint_svg(drawing(before, after, step=4.0))
    (shade,) = shadings(svg)
    scale = drawn_scale(svg)
    wanted = polygon(before).symmetric_difference(polygon(after))
    found = even_odd(shade)
    assert found.area / scale**2 == pytest.approx(wanted.area, rel=2e-4)
    assert painted(shade) == pytest.approx(found.area, rel=1e-6)
    # And in the right place: the wall line is where d = 0, the page's y runs down.
    left, _, _, high = found.bounds
    theirs = affinity.scale(wanted, scale, -scale, origin=(0, 0))
    theirs = affinity.translate(theirs, left - theirs.bounds[0], high - theirs.bounds[3])
    assert found.symmetric_difference(theirs).area < 1e-3 * found.area


@pytest.mark.parametrize("pair", ["another profile", "too high", "aside in both"])
def test_the_area_is_that_of_exact_regions(pair: str) -> None:
    before, after = (region(one.edges) for one in PAIRS[pair] if isinstance(one, Profile))
    svg = joint_svg(drawing(*PAIRS[pair], step=4.0))
    exact = union(before, after).area - intersection(before, after).area
    assert even_odd(shadings(svg)[0]).area / drawn_scale(svg) ** 2 == pytest.approx(exact, rel=2e-4)


@settings(max_examples=10)
@given(profiles(), profiles())
def test_any_two_profiles(before: Profile, after: Profile) -> None:
    svg = joint_svg(drawing(before, after, step=9.0))
    wanted = polygon(before).symmetric_difference(polygon(after)).area
    shades = shadings(svg)
    if not shades:
        assert apart(before.edges, after.edges)[0] <= 0.05
        return
    assert even_odd(shades[0]).area / drawn_scale(svg) ** 2 == pytest.approx(wanted, rel=2e-3, abs=0.02)
    assert painted(shades[0]) / drawn_scale(svg) ** 2 == pytest.approx(wanted, rel=2e-3, abs=0.02)


@pytest.mark.parametrize("kind", ["miter", "tangent joint", "curved miter", "butt"])
def test_profiles_that_agree(kind: str) -> None:
    svg = joint_svg(drawing(CROWN, flatten(CROWN, 1e-4).points, subtitle=kind))
    assert not shadings(svg)
    assert MISMATCH not in svg.decode()
    assert "Both profiles agree within 0.000 mm" in labels(svg)
    assert "gap 0.0000″ (0.000 mm), limit 0.0020″" in labels(svg)
    size = measure(CROWN)
    assert (size.h_max / INCH, size.d_max / INCH) == pytest.approx((3.5, 2.75))
    assert {"3¹⁄₂″", "88.9", "2³⁄₄″", "69.9"} <= set(labels(svg))


def test_a_step_is_dimensioned_in_both_units() -> None:
    shifted = BASE.moved(INCH / 8, 0.0)
    inches = labels(joint_svg(drawing(BASE, shifted, step=INCH / 8)))
    assert "step ¹⁄₈″" in inches
    assert "3.17 mm" in inches or "3.18 mm" in inches
    assert "Does not meet: step over the limit" in inches
    mm = labels(joint_svg(drawing(BASE, shifted, step=INCH / 8, unit="mm")))
    assert "¹⁄₈″" in mm
    assert any(label in mm for label in ("step 3.17 mm", "step 3.18 mm"))


def test_at_a_miter_the_section_s_own_difference_is_told() -> None:
    """A step in the face of a 90 degree miter is longer by 1/cos 45 than what the section shows."""
    told = labels(joint_svg(drawing(BASE, BASE.moved(INCH / 8, 0.0), step=INCH / 8 / math.cos(math.pi / 4))))
    assert "apart ¹⁄₈″" in told
    assert any(label.startswith("step 0.1768″ (4.490 mm), limit 0.0020″, at") for label in told)


@pytest.mark.parametrize(("shift", "times"), [(0.1, 50), (0.2, 20), (0.4, 20), (0.06, 100)])
def test_what_is_too_small_to_see_is_seen_through_a_lens(shift: float, times: int) -> None:
    svg = joint_svg(drawing(BASE, BASE.moved(shift, 0.0), step=shift, unit="mm"))
    assert f"{shift / INCH:.3f}″, drawn {times}:1" in labels(svg)
    inside = shadings(svg)[-1]
    assert len(shadings(svg)) == 2
    found = even_odd(inside)
    # A band through the middle of the lens, as wide as the step drawn so much larger.
    half = shift * times / 2
    band = 2 * (half * math.sqrt(RADIUS**2 - half**2) + RADIUS**2 * math.asin(half / RADIUS))
    assert found.area == pytest.approx(band, rel=2e-3)
    assert painted(inside) == pytest.approx(band, rel=2e-3)
    left, _, right, _ = found.buffer(-0.01).bounds  # less what rounding leaves along the rim
    assert right - left == pytest.approx(2 * half, abs=0.03)


def test_a_lens_shows_what_is_there_and_no_more() -> None:
    """Near a corner: the same wood as shapely finds in a disk of that size."""
    before = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 3.0], [12.0, 3.0], [12.0, 60.0], [0.0, 60.0]])
    after = before.copy()
    after[1:3, 0] += 0.3  # the lip alone stands out, and that is all of it
    svg = joint_svg(drawing(before, after, step=0.3))
    wanted = shapely.box(20.0, 0.0, 20.3, 3.0)
    (times,) = [int(label.split("drawn ")[1].split(":")[0]) for label in labels(svg) if "drawn" in label]
    _, at = apart(loop_of(before), loop_of(after))
    assert at[0] == 20.3
    middle = shapely.Point(20.15, at[1])
    disk = middle.buffer(RADIUS / times, quad_segs=200)
    area = wanted.intersection(disk).area * times**2
    assert even_odd(shadings(svg)[-1]).area == pytest.approx(area, rel=2e-3)
    assert area < wanted.area * times**2  # the lens cuts some of it off


BLOCK = np.array([[0.0, -10.0], [17.0, -10.0], [17.0, 100.0], [0.0, 100.0]])


def test_an_end_that_a_block_covers() -> None:
    casing = named("fluted-casing")
    wide = BLOCK * np.array([1.5, 1.0])
    svg = joint_svg(drawing(casing, wide, covered=True))
    assert not shadings(svg)
    assert "The end lies within the block" in labels(svg)


@pytest.mark.parametrize("turned", [1, -1])
def test_what_stands_out_of_a_block(turned: int) -> None:
    """Only that is shaded: 3/4 in of casing on a block 17 mm thick, whichever way round its points run."""
    casing = named("fluted-casing")
    svg = joint_svg(drawing(casing, BLOCK[::turned], step=19.05 - 17.0, covered=True))
    (shade,) = shadings(svg)
    wanted = polygon(casing).difference(polygon(BLOCK))
    assert even_odd(shade).area / drawn_scale(svg) ** 2 == pytest.approx(wanted.area, rel=2e-4)
    exact = difference(region(casing.edges), region(loop_of(BLOCK)))
    assert even_odd(shade).area / drawn_scale(svg) ** 2 == pytest.approx(exact.area, rel=2e-4)
    assert any(label.startswith("step ") for label in labels(svg))
    assert "what stands out of the block" in labels(svg)


@pytest.mark.parametrize(("before", "after"), [(BASE, None), (None, BASE), (None, None), (BASE, np.zeros((2, 2)))])
def test_an_end_face_that_is_not_there(before: Outline | None, after: Outline | None) -> None:
    missing = drawing(before, after, figures=figures(math.inf, math.inf, math.inf))
    svg = joint_svg(missing)
    assert any(label.startswith("No end face was found on") for label in labels(svg))
    assert "step: not to be measured" in labels(svg)
    assert not shadings(svg)


def test_names_that_mean_harm() -> None:
    """Markup, control characters, letters the type lacks, and names no page could hold: told whole, drawn short."""
    name = 'hall / <script>alert("1")</script> & \x07 ☃ / ' + "base " * 60 + "/ joint 17"
    svg = joint_svg(drawing(BASE, BASE, title=name, before_name=name, after_name="<" * 300, subtitle="&" * 200))
    root = read(svg)
    assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == "Joint " + name.replace("\x07", "")
    assert name.replace("\x07", "") in (root[1].text or "")
    assert not list(root.iter(f"{SVG}script"))
    assert b"\x07" not in svg
    assert any("…" in label and label.endswith("joint 17") for label in labels(svg))
    assert_readable(drawing(BASE, OTHER, title=name, before_name=name, after_name="<" * 300, step=9.0))


def test_files_have_names_of_their_own() -> None:
    drawings = [
        drawing(BASE, BASE, title=title) for title in ("hall / joint 1", "Hall / Joint 1", "../../x", "joint 2")
    ]
    files = joint_files(drawings)
    assert [name for name, _ in files] == [f"joints/{name}" for name in file_names([d.title for d in drawings], ".svg")]
    assert len({name.casefold() for name, _ in files}) == 4
    assert all(".." not in name for name, _ in files)
    assert files == joint_files(drawings)
    assert files[0][1] == joint_svg(drawings[0])


def assert_readable(joint: JointDrawing) -> None:
    """No words on words, none on the wood, all on a page that fits a sheet of letter paper."""
    page = joint_page(joint)
    assert page.width <= 203
    assert page.height <= 267
    words = [mark for mark in page.marks if isinstance(mark, Words)]
    boxes = [shapely.box(*ink_box(word)) for word in words]
    for (one, first), (other, second) in combinations(zip(words, boxes, strict=True), 2):
        assert not first.intersects(second), f"{one.text} on {other.text}"
    assert min(word.size for word in words) >= 3.8
    dashed = [mark for mark in page.marks if isinstance(mark, Trace) and mark.ink == AFTER and len(mark.edges) > 9]
    for mark in dashed[:1]:
        sections = shapely.box(*bounds([mark]))
        assert not any(box.intersects(sections) for box in boxes)
    left, low, right, high = bounds([mark for mark in page.marks if isinstance(mark, Trace | Words)])
    assert min(left, low, page.width - right, page.height - high) > 4


def shifted(profile: Profile, shift: tuple[float, float]) -> JointDrawing:
    """A joint where everything is wrong at once, so that as much is told as can be."""
    far = math.hypot(*shift)
    told = figures(far, far, 9 * far, measure(profile).h_max)
    return drawing(profile, profile.moved(*shift), figures=told, unit="mm" if far > 1 else "in")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_shipped_profile_can_be_read(path: Path) -> None:
    profile = load_profile(path)
    size = measure(profile)
    assert_readable(shifted(profile, (0.15, 0.0)))
    assert_readable(shifted(profile, (0.1 * size.d_max, -0.1 * size.h_max)))


@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.0, -0.1), (0.0, 1.6), (-2.0, 0.0), (40.0, 80.0)])
@pytest.mark.parametrize("name", ["cove-and-ogee-crown", "ogee-base", "quarter-round-shoe"])
def test_any_shift_can_be_read(name: str, shift: tuple[float, float]) -> None:
    assert_readable(shifted(named(name), shift))


def test_a_casing_lies_on_a_wall_below() -> None:
    """Where the plan is the wall, the section lies on its back: the hatching is under it, and all can be read."""
    casing = named("fluted-casing")
    lying = shapely.get_coordinates(polygon(casing))[:-1, ::-1]
    joint = drawing(lying, lying + np.array([0.0, 0.9]), step=0.9, wall="below")
    assert_readable(joint)
    svg = joint_svg(joint)
    assert "Seen along the run, the wall below." in labels(svg)
    hatches = [path.get("d", "") for path in read(svg).iter(f"{SVG}path") if path.get("stroke-width") == "0.18"]
    outline = svgelements.Path(shadings(svg)[0]).bbox()
    below = svgelements.Path(hatches[0]).bbox()
    assert below[1] == pytest.approx(outline[3], abs=0.01)  # y runs down: the hatching begins where the wood ends


def test_loose_segments_become_an_outline() -> None:
    """In any order, with a shorter loop among them: the longer one, in travel order."""
    points = flatten(BASE, 0.05).points
    hole = np.array([[5.0, 5.0], [6.0, 5.0], [6.0, 6.0]])
    spatial = [np.column_stack([loop, np.full(len(loop), 7.0)]) for loop in (points, hole)]
    starts = np.concatenate(spatial)
    stops = np.concatenate([np.roll(loop, -1, axis=0) for loop in spatial])
    order = np.random.default_rng(3).permutation(len(starts))
    found = outline_of(starts[order], stops[order], starts[order, :2])
    assert len(found) == len(points)
    turned = np.roll(found, -int(np.argmin(np.hypot(*(found - points[0]).T))), axis=0)
    assert np.array_equal(turned, points)


def test_dashes_lie_on_the_outline_and_share_it_evenly() -> None:
    edges = dashes(CROWN.edges, 3.2, 1.8)
    whole = sum(edge.length for edge in CROWN.edges)
    assert sum(edge.length for edge in edges) == pytest.approx(whole * 3.2 / 5.0, rel=1e-6)
    points = np.concatenate([edge.point(np.linspace(0, 1, 5)) for edge in edges])
    assert shapely.distance(polygon(CROWN).exterior, shapely.points(points)).max() < 2e-4
