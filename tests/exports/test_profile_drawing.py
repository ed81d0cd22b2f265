"""The dimensioned drawing: it says what the file says, nothing overlaps, and its line weights are a draftsman's."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
import svgelements
from hypothesis import given, settings
from PIL import Image

from preview.drafting.profile.chains import Side, nearer, spread, steps
from preview.drafting.profile.dimensioned import (
    on_page,
    profile_drawing,
    profile_sheet_png,
    profile_sheet_svg,
    scale_for,
)
from preview.paper.lettering import bounds, fraction, ink_box, one_line, wrapped
from preview.paper.marks import FINE, LINING, THICK, THIN, WOOD, Page, Trace, Words, scaled, stroke
from preview.profiles import Arc, Profile, Shape, measure, sketch
from preview.scene import load_profile
from strategies import profiles

FOLDER = Path(__file__).parents[2] / "profiles"
FILES = sorted(FOLDER.glob("*.toml"))
INCH = 25.4


def named(name: str) -> Profile:
    return load_profile(FOLDER / f"{name}.toml")


def outline_of(page: Page) -> Trace:
    """The section's outline: the one closed line of full weight."""
    (outline,) = [mark for mark in page.marks if isinstance(mark, Trace) and mark.weight == THICK]
    return outline


def polygon(trace: Trace) -> shapely.Polygon:
    points = [edge.point(np.linspace(0, 1, 33, endpoint=False)) for edge in trace.edges]
    return shapely.Polygon(np.concatenate(points))


def assert_nothing_overlaps(page: Page) -> None:
    """No text on other text, on a line or on the wood; no line through the wood; all on the page."""
    words = [mark for mark in page.marks if isinstance(mark, Words)]
    boxes = [shapely.box(*ink_box(word)) for word in words]
    for (one, first), (other, second) in combinations(zip(words, boxes, strict=True), 2):
        assert not first.intersects(second), f"{one.text} on {other.text}"
    wood = polygon(outline_of(page))
    lines = [
        (shapely.LineString(edge.point(np.linspace(0, 1, 2))), mark)
        for mark in page.marks
        if isinstance(mark, Trace) and mark.ink != LINING and mark.fill != WOOD and mark.weight != THICK
        for edge in mark.edges
    ]
    for word, box in zip(words, boxes, strict=True):
        assert box.distance(wood) > 0.5, f"{word.text} on the wood"
        touched = [mark for line, mark in lines if line.distance(box) < 0.2]
        assert not touched, f"a line through {word.text}"
    shrunk = wood.buffer(-0.1)
    assert not any(line.intersects(shrunk) for line, _ in lines)
    left, low, right, high = bounds([mark for mark in page.marks if isinstance(mark, Trace | Words)])
    assert left > 4
    assert low > 4
    assert right < page.width - 4
    assert high < page.height - 4


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_nothing_overlaps(path: Path, unit: str) -> None:
    assert_nothing_overlaps(profile_drawing(load_profile(path), unit))  # type: ignore[arg-type]


@settings(max_examples=30)
@given(profiles())
def test_nothing_overlaps_in_any_drawing(profile: Profile) -> None:
    assert_nothing_overlaps(profile_drawing(profile))


@pytest.mark.parametrize("fault", ["text on text", "text on the wood", "a line through text", "text off the page"])
def test_the_overlap_check_would_notice(fault: str) -> None:
    page = profile_drawing(named("cove-and-bead-base"))
    words = [mark for mark in page.marks if isinstance(mark, Words)]
    left, low, right, high = bounds([outline_of(page)])
    (x, y) = words[0].at
    extra: dict[str, Trace | Words] = {
        "text on text": replace(words[0], at=(x + 1.0, y + 0.5)),
        "text on the wood": Words("cove", ((left + right) / 2, (low + high) / 2), 4.0),
        "a line through text": stroke((x - 1.0, y - 1.0), (x + 2.0, y + 2.0)),
        "text off the page": Words("cove", (1.0, 1.0), 2.0),
    }
    with pytest.raises(AssertionError):
        assert_nothing_overlaps(replace(page, marks=(*page.marks, extra[fault])))


def lengths(name: str, side: Side) -> list[float]:
    """The lengths between a profile's steps on a side, inches."""
    along = [step.along for step in steps(named(name), side)]
    return [round(float(length) / INCH, 6) for length in np.diff(along)]


def test_the_chains_are_the_file_s_shapes() -> None:
    """By hand from the files: rises from the foot up; from above, out from the wall."""
    assert lengths("cove-and-bead-base", "right") == [2 + 7 / 16, 1 / 16, 3 / 8, 1 / 16, 9 / 16, 3 / 8, 1 / 8]
    assert lengths("cove-and-bead-base", "top") == [3 / 8 - 1 / 8 + 1 / 8, 1 / 8, 3 / 8, 1 / 8, 1 / 4]
    assert lengths("cove-and-bead-base", "bottom") == [1.25]
    assert lengths("cove-and-ogee-crown", "left") == [5 / 8, 2 + 7 / 8]
    assert lengths("cove-and-ogee-crown", "right") == [3 / 16, 1 / 4, 1 / 8, 1 + 1 / 16, 1 / 8, 1 + 3 / 16, 9 / 16]
    assert lengths("ogee-base-cap", "right") == [1 / 4, 1 / 16, 11 / 16, 1 / 4]


def test_a_step_is_dimensioned_from_the_side_it_is_nearer_to() -> None:
    frieze = named("beaded-cornice-frieze")
    above, below = steps(frieze, "top"), steps(frieze, "bottom")
    assert [round(step.along / INCH, 4) for step in nearer(above, below)] == [0, 5 / 8]
    assert [round(step.along / INCH, 4) for step in nearer(below, above)] == [0, 11 / 16, 13 / 16]


def test_a_step_as_near_to_both_sides_is_dimensioned_once() -> None:
    """A bead halfway up: its projection is told below and not above as well."""
    astragal = named("classical-astragal")
    above, below = steps(astragal, "top"), steps(astragal, "bottom")
    assert len(nearer(above, below, yields=True)) == 1
    assert nearer(below, above) == below
    told = labels(profile_sheet_svg(astragal))
    assert told.count("³⁄₁₆″") == 1


def test_what_is_hidden_is_left_out() -> None:
    """A quirk under a ledge cannot be seen from above, nor its inner end from the right."""
    quirk = sketch(
        "quirk",
        20.0,
        [
            Shape("fillet", 10.0),
            Shape("fillet", 0.0, -5.0),
            Shape("fillet", 3.0),
            Shape("fillet", 0.0, 8.0),
            Shape("fillet", 6.0),
        ],
    )
    assert [step.along for step in steps(quirk, "top")] == [0.0, 23.0]
    assert [step.along for step in steps(quirk, "bottom")] == [0.0, 20.0, 23.0]
    assert [step.along for step in steps(quirk, "right")] == [0.0, 10.0, 13.0, 19.0]


def labels(data: bytes) -> list[str]:
    return re.findall(r'aria-label="([^"]*)"', data.decode("utf-8").replace("'", '"'))


def test_it_says_what_the_file_says() -> None:
    told = labels(profile_sheet_svg(named("cove-and-bead-base")))
    assert told.count("R ⁹⁄₁₆″") == told.count("R ³⁄₁₆″") == told.count("R ¹⁄₈″") == 1
    for text in ("Cove and bead base", "Height 4″, projection 1¹⁄₄″", "4″", "101.6", "1¹⁄₄″", "31.8", "2⁷⁄₁₆″", "61.9"):
        assert text in told
    assert "2 × R ¹⁹⁄₃₂″" in labels(profile_sheet_svg(named("cove-and-ogee-crown")))


def test_in_millimeters_they_come_first() -> None:
    told = labels(profile_sheet_svg(named("cove-and-bead-base"), "mm"))
    assert "Height 101.6 mm, projection 31.8 mm" in told
    assert "R 14.3" in told
    assert "Millimeters, with inches in gray." in told


def test_a_length_off_the_grid_says_so() -> None:
    assert (fraction(18.0), fraction(12.7 + 0.04), fraction(0.2)) == ("≈²³⁄₃₂″", "¹⁄₂″", "≈0″")


def test_the_section_is_drawn_to_the_scale_it_names() -> None:
    """Read by svgelements at 25.4 dots per inch: the thick outline, in mm on paper, is 3/4 of the crown's true size."""
    crown = named("cove-and-ogee-crown")
    data = profile_sheet_svg(crown)
    assert "Scale 3:4" in labels(data)
    drawing = svgelements.SVG.parse(io.BytesIO(data), ppi=25.4)
    (outline,) = [
        part
        for part in drawing.elements()
        if isinstance(part, svgelements.Path) and float(part.values.get("stroke-width", 0)) == THICK
    ]
    left, top, right, bottom = outline.bbox()
    assert (right - left, bottom - top) == pytest.approx((0.75 * 2.75 * INCH, 0.75 * 3.5 * INCH), abs=0.01)
    arcs = [part for part in outline.segments() if isinstance(part, svgelements.Arc)]
    parts = sum(2 if abs(edge.sweep) > 1.6 else 1 for edge in crown.edges if isinstance(edge, Arc))
    assert len(arcs) == parts


def test_the_scale_bar_is_to_scale() -> None:
    page = profile_drawing(named("cove-and-ogee-crown"))
    bars = [
        mark
        for mark in page.marks
        if isinstance(mark, Trace) and mark.fill in ("#1b1f24", "#ffffff") and len(mark.edges) == 4
    ]
    left, _, right, _ = bounds(bars)
    assert right - left == pytest.approx(0.75 * 2 * INCH)  # it is marked 0, 1, 2 in
    assert {"1″", "2″"} <= {mark.text for mark in page.marks if isinstance(mark, Words)}


def test_line_weights_are_two_to_one() -> None:
    """Thick to thin 2 to 1, from the series 0.18, 0.25, 0.35, 0.5, 0.7 mm (ISO 128, from memory)."""
    assert THICK == 2 * THIN
    page = profile_drawing(named("torus-chair-rail"))
    weights = {mark.weight for mark in page.marks if isinstance(mark, Trace)}
    assert weights == {0.0, FINE, 0.25, THIN, 0.5, THICK}
    assert max(weights) == outline_of(page).weight


def test_the_lining_lies_in_the_wood() -> None:
    page = profile_drawing(named("torus-chair-rail"))
    wood = polygon(outline_of(page)).buffer(0.05)
    (lining,) = [mark for mark in page.marks if isinstance(mark, Trace) and mark.ink == LINING]
    lines = [shapely.LineString([line.start, line.end]) for line in lining.edges]
    assert len(lines) > 20
    assert all(wood.covers(line) for line in lines)
    # Lines 2.4 mm apart: their length times that is the area, but for the ends.
    assert sum(line.length for line in lines) * 2.4 == pytest.approx(wood.area, rel=0.03)


@pytest.mark.parametrize(
    ("wide", "high", "scale"),
    [(31.75, 101.6, 1), (12.7, 19.05, 5), (120.65, 27.0, 0.75), (69.85, 88.9, 0.75), (9e3, 3e3, 1 / 128)],
)
def test_the_scale_is_the_largest_usual_one(wide: float, high: float, scale: float) -> None:
    assert float(scale_for(wide, high)) == scale


def test_png_shows_what_the_page_holds() -> None:
    shoe = named("quarter-round-shoe")
    page = profile_drawing(shoe)
    picture = Image.open(io.BytesIO(profile_sheet_png(shoe)))
    assert picture.format == "PNG"
    assert picture.width == pytest.approx(1600, abs=1)
    assert picture.height / picture.width == pytest.approx(page.height / page.width, rel=1e-3)
    gray = np.asarray(picture.convert("L")) < 60
    scale = float(scale_for(12.7, 19.05))
    rows, columns = np.nonzero(gray)
    left, low, _, high = bounds([outline_of(page)])
    dots = picture.width / page.width
    # The outline's left edge: a column of ink as tall as the shoe at the drawing's scale, and half a line at each end.
    column = gray[
        round((page.height - high - 0.6) * dots) : round((page.height - low + 0.6) * dots), round(left * dots)
    ]
    assert column.sum() / dots == pytest.approx(19.05 * scale + THICK, abs=0.25)
    assert rows.min() > 10
    assert columns.min() > 10


def test_the_same_bytes_every_time() -> None:
    rail = named("torus-chair-rail")
    assert profile_sheet_svg(rail) == profile_sheet_svg(rail)
    assert profile_sheet_png(rail) == profile_sheet_png(rail)


def test_long_names_wrap_and_strange_ones_are_set() -> None:
    long = Profile(
        "A very long name of a molding that nobody would ever say in one breath " + "W" * 60,
        named("quarter-round-shoe").edges,
    )
    assert_nothing_overlaps(profile_drawing(long))
    assert wrapped("木 & <b>", 100.0, 5.0) == ["? & <b>"]
    assert "? &amp; &lt;b>" in profile_sheet_svg(Profile("木 & <b>", long.edges)).decode().replace("&gt;", ">")


def test_a_traced_outline_of_many_edges_is_drawn() -> None:
    """A face of 400 small bevels: no chain of its steps, but a drawing."""
    zigzag = [Shape("bevel", 0.3, 0.2 if i % 2 else -0.2) for i in range(400)]
    assert_nothing_overlaps(profile_drawing(sketch("traced", 20.0, zigzag)))


def test_labels_spread_as_little_as_they_can() -> None:
    assert spread([0.0, 0.0, 0.0], [2.0, 2.0, 2.0], 1.0) == [-3.0, 0.0, 3.0]
    assert spread([5.0], [2.0], 1.0, within=(0.0, 4.0)) == [3.0]
    assert spread([0.0, 1.0], [4.0, 4.0], 1.0, within=(0.0, 4.0)) == [-2.0, 3.0]  # no room: as without


def test_a_label_s_box_holds_its_ink() -> None:
    label = one_line(61.9125, "in", 5.0, "R ")
    boxes = [ink_box(word) for word in label.at(10.0, 20.0)]
    assert min(box[0] for box in boxes) == pytest.approx(10.0)
    assert min(box[1] for box in boxes) == pytest.approx(20.0)
    assert max(box[2] for box in boxes) == pytest.approx(10.0 + label.width)
    assert max(box[3] for box in boxes) == pytest.approx(20.0 + label.height)


def test_a_profile_off_the_wall_is_drawn_alike() -> None:
    rail = named("torus-chair-rail")
    away = profile_drawing(rail.moved(20.0, 300.0))
    assert_nothing_overlaps(away)
    size = measure(rail)
    assert on_page(rail, scaled(1.0)).max(axis=0).tolist() == pytest.approx([size.d_max, size.h_max])
