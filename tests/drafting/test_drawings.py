"""All drawings of a job: what they are called, what they hold, and that they are true to their scale."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import pytest
import shapely

from drawn_pages import (
    SCENES,
    assert_labels_are_apart,
    built,
    drawn,
    edges,
    marks_of,
    oblong,
    shipped,
    texts,
    traces,
)
from preview.build import build
from preview.drafting import (
    Drawing,
    corner_drawings,
    drawing_svg,
    drawings_of,
    piece_tags,
    section_drawing,
    section_drawings,
)
from preview.drafting.dimensions import THIN
from preview.drafting.isometric import ARRIS, AXES, JOINT, OUTLINE
from preview.drafting.layered import layered
from preview.drafting.snippets import snippet
from preview.paper import SOFT, WOOD, Page, Trace, Words, both, ink_box, pdf_bytes, svg_bytes
from preview.profiles import Profile, measure
from preview.vantage import corner_names, corners_of, job_of, joint_places

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_all_drawings_of_a_scene(path: Path) -> None:
    found = drawn(path.stem)
    assert len({drawing.key for drawing in found}) == len(found)
    kinds = [drawing.key.split("-")[0] for drawing in found]
    assert kinds == sorted(kinds, key=["plan", "elevation", "section", "corner"].index)
    assert set(kinds) == {"plan", "elevation", "section"} | ({"corner"} if corners(path.stem) else set())
    for drawing in found:
        assert re.fullmatch(r"[a-z0-9-]+", drawing.key)
        assert_labels_are_apart(drawing)
        assert not drawing.left_out
        assert drawing.page.width <= 267.0 + 1e-6
        assert drawing.page.height <= 190.0 + 1e-6
        written = " ".join(texts(drawing))
        assert drawing.scale.replace(" ", "") in written.replace(" ", "")
        root = ElementTree.fromstring(drawing_svg(drawing))
        assert root.tag == f"{SVG}svg"
        assert root.get("width") == f"{drawing.page.width:.4f}".rstrip("0").rstrip(".") + "mm"
        title, told = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None
        assert told is not None
        assert title.text == drawing.name
        assert drawing.words in (told.text or "")
        assert not root.findall(f".//{SVG}text")  # outlines: the same on every machine


def drawn_corners(stem: str) -> list[Drawing]:
    return [drawing for drawing in drawn(stem) if drawing.key.startswith("corner-")]


def corners(stem: str) -> list[str]:
    job = job_of(shipped(stem))
    return corner_names(job, corners_of(job, joint_places(job)))


def test_the_same_job_gives_the_same_bytes() -> None:
    again = [drawing_svg(drawing) for drawing in drawings_of(shipped("stair-hall"))]
    assert again == [drawing_svg(drawing) for drawing in drawn("stair-hall")]


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
@pytest.mark.parametrize("ratio", [Fraction(1), Fraction(1, 2)])
def test_a_section_holds_the_exact_area_of_every_member(path: Path, ratio: Fraction) -> None:
    """Green's theorem on the drawn edges, against the profile's own area."""
    scene = shipped(path.stem)
    for each in layered(scene):
        drawing = section_drawing(scene, each.runs[0].name, scale=ratio)
        filled = [mark for mark in marks_of(drawing.page) if isinstance(mark, Trace) and mark.fill == WOOD]
        drawn = [measure(Profile("", mark.edges)).area / float(ratio) ** 2 for mark in filled]
        assert drawn == pytest.approx([measure(profile).area for _, profile in each.members], rel=1e-9)


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_a_section_tells_how_large_the_whole_is(path: Path) -> None:
    scene = shipped(path.stem)
    unit = "in" if scene.scene.units in ("in", "ft") else "mm"
    for each, drawing in zip(layered(scene), section_drawings(scene), strict=True):
        left, low, right, high = each.box
        written = set(texts(drawing))
        assert set(both(high - low, unit)) <= written
        assert set(both(right - left, unit)) <= written
        if len(each.members) > 1:
            for (name, profile), line in zip(each.members, scene.lines, strict=False):
                assert name in written
                assert line.member == name
                assert profile.name == name or profile.name in written


def test_members_lie_where_they_do() -> None:
    """The shoe of the stair hall lies before the board, 7/8 in out, on the floor."""
    scene = shipped("stair-hall")
    drawing = section_drawing(scene, "hall", scale=Fraction(1))
    board, cap, shoe = (
        np.concatenate([edge.point(np.linspace(0, 1, 9)) for edge in mark.edges])
        for mark in marks_of(drawing.page)
        if isinstance(mark, Trace) and mark.fill == WOOD
    )
    assert shoe[:, 0].min() - board[:, 0].min() == pytest.approx(7 / 8 * 25.4)
    assert shoe[:, 1].min() == pytest.approx(board[:, 1].min())
    assert cap[:, 1].min() - board[:, 1].min() == pytest.approx(5.5 * 25.4)


def test_runs_of_one_build_up_share_a_section() -> None:
    found = section_drawings(shipped("door-casing"))
    assert [drawing.name for drawing in found] == ["Section of door", "Section of base, left; base, right"]
    with pytest.raises(KeyError):
        section_drawing(shipped("bay"), "nowhere")


def test_an_isometric_measures_true_along_its_axes() -> None:
    """A square-edged strip 20 by 40 round a square corner: its heights, projections and legs, at the scale, along axes
    120 degrees apart (ISO 5456-3, from memory)."""
    scene = built('room = "left"\nsteps = [{ straight = 300 }, { left = 90 }, { straight = 300 }]')
    (drawing,) = corner_drawings(scene)
    factor = {"1:1, full size": 1.0, "1:2": 0.5, "1:5": 0.2}[drawing.scale]
    lines = [edge for weight in {OUTLINE, ARRIS, JOINT} for edge in edges(drawing, weight)]
    by_way: dict[int, list[float]] = {}
    for line in lines:
        turn = math.degrees(math.atan2(line.end[1] - line.start[1], line.end[0] - line.start[0])) % 180
        way = round(turn / 30)
        if abs(turn - 30 * way) < 1e-6:
            by_way.setdefault(way % 6, []).append(line.length / factor)
    assert {1, 3, 5} <= set(by_way)
    assert any(length == pytest.approx(40.0, abs=1e-6) for length in by_way[3])
    for way in (1, 5):
        assert any(length == pytest.approx(20.0, abs=1e-6) for length in by_way[way])
    job = job_of(scene)
    (corner,) = corners_of(job, joint_places(job))
    cut = snippet(job, corner)
    assert cut is not None
    legs = [element.length for element in cut.built.scene.runs[0].run.elements]
    assert max(by_way[1]) == pytest.approx(legs[0], abs=1e-6)
    assert max(by_way[5]) == pytest.approx(legs[1], abs=1e-6)
    assert pytest.approx(math.sqrt(3 / 2)) == AXES


def test_corners_that_look_alike_are_drawn_once() -> None:
    names = [drawing.name for drawing in drawn_corners("window-seat")]
    assert names == [
        "Corner 1: turned, outside (left pier); also corner 8",
        "Corner 2: mitered, inside; also corners 3, 6 and 7",
        "Corner 4: mitered, outside (seat, middle); also corner 5",
    ]
    assert len(drawn_corners("column")) == 1
    assert len(drawn_corners("six-sided-room")) == 6  # every one out of square in its own way


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_every_corner_is_drawn_or_named_with_one_like_it(path: Path) -> None:
    told: list[int] = []
    for drawing in drawn_corners(path.stem):
        told += [int(number) for number in re.findall(r"\d+", drawing.name.split(":")[0])]
        told += [int(n) for n in re.findall(r"\d+", drawing.name.partition("; also ")[2])]
    assert sorted(told) == list(range(1, len(corners(path.stem)) + 1))


@pytest.mark.parametrize("path", SCENES, ids=lambda path: path.stem)
def test_a_corner_cut_out_has_the_joints_of_the_whole(path: Path) -> None:
    """The turn and kind of every joint in the little job are those of the whole job's joint at that corner."""
    scene = shipped(path.stem)
    job = job_of(scene)
    tags = piece_tags(scene)
    for corner in corners_of(job, joint_places(job)):
        cut = snippet(job, corner)
        assert cut is not None
        assert len(set(cut.pieces)) == len(cut.pieces)
        mine = {i for spot in corner.spots for i in spot.pieces}
        assert mine <= set(cut.pieces)
        for little, whole in zip(cut.built.pieces, cut.pieces, strict=True):
            original = scene.pieces[whole]
            assert (little.member, little.role, little.kind) == (original.member, original.role, original.kind)
            assert little.profile == original.profile
            assert tags[whole]
        whole_joints = {
            frozenset((pair.before, pair.after)): pair.joint
            for pair in scene.joints
            if pair.before is not None and pair.after is not None
        }
        for pair in cut.built.joints:
            if pair.before is None or pair.after is None:
                continue
            joint = whole_joints.get(frozenset((cut.pieces[pair.before], cut.pieces[pair.after])))
            assert joint is not None
            assert pair.joint.kind == joint.kind
            assert pair.joint.turn == pytest.approx(joint.turn, abs=1e-9)


def test_a_drawing_paints_alike_as_svg_and_pdf() -> None:
    """What is turned, dashed or clipped: a PDF reader finds all words, the SVG has a window and a dashed line."""
    plan, elevation = drawn("window-seat")[:2]
    for drawing in (plan, elevation):
        document = pypdfium2.PdfDocument(pdf_bytes([drawing.page], drawing.name, drawing.words))
        found = document[0].get_textpage().get_text_range()
        document.close()
        for text in ("18", "42", "Scale"):
            assert text in found
    assert b"<clipPath" in drawing_svg(plan)
    assert b"stroke-dasharray" in drawing_svg(elevation)


def test_turned_words_fill_the_box_their_letters_are_drawn_in() -> None:
    """The box of the painted outlines, from their own coordinates (commands are upper case: absolute)."""
    words = Words("rise 56″", (40.0, 30.0), 5.0, turn=math.radians(75))
    left, low, right, high = ink_box(words)
    root = ElementTree.fromstring(svg_bytes(Page(80.0, 80.0, (words,)), "", ""))
    (path,) = root.findall(f"{SVG}path")
    box = Box()
    for name, *numbers in re.findall(r"([A-Z])([^A-Z]*)", path.get("d") or ""):
        box.add(name, [float(n) for n in re.findall(r"-?\d*\.?\d+", numbers[0])])
    assert box.low[0] >= left - 0.3
    assert box.high[0] <= right + 0.3
    assert 80.0 - box.high[1] >= low - 0.3
    assert 80.0 - box.low[1] <= high + 0.3


class Box:
    """The box round the points of path data."""

    def __init__(self) -> None:
        self.low, self.high = [math.inf, math.inf], [-math.inf, -math.inf]

    def add(self, name: str, numbers: list[float]) -> None:
        axes = {"H": [0], "V": [1]}.get(name, [0, 1])
        for i, value in enumerate(numbers):
            axis = axes[i % len(axes)]
            self.low[axis], self.high[axis] = min(self.low[axis], value), max(self.high[axis], value)


CAP = """
[profile.block]
foot = 20
face = [{ fillet = 40 }]
[profile.cap]
foot = 10
face = [{ fillet = 15 }]
[finish.paint]
color = "#ffffff"
[member.block]
profile = "block"
finish = "paint"
[member.cap]
profile = "cap"
finish = "paint"
"""


@pytest.mark.parametrize(
    ("up", "told"), [(40.0, None), (52.7, "12.7 mm"), (40.06, "0.1 mm"), (40.04, None), (740.0, None)]
)
def test_a_member_that_floats_over_another_is_told_under_the_section(up: float, told: str | None) -> None:
    """The board is 40 mm high; less than 0.05 mm counts as touching, and 700 mm above it a member is meant to be."""
    scene = built("steps = [{ straight = 300 }]", members=f"{CAP}up = {up}\n").scene
    placed = replace(scene.runs[0], members=("block", "cap"))
    job = build(replace(scene, runs=(placed,)))
    written = " ".join(texts(section_drawing(job, "wall")))
    if told is None:
        assert "Open between" not in written
        assert job.remarks == ()
    else:
        assert f"Open between block and cap: {told}." in written
        assert job.remarks == (f"wall: between block and cap the wall shows, {told} wide",)


def test_names_of_members_and_their_leaders_cross_no_figure() -> None:
    for stem in ("cornice", "stair-hall"):
        for drawing in drawn(stem):
            if not drawing.key.startswith("section"):
                continue
            words = [mark for mark in marks_of(drawing.page) if isinstance(mark, Words)]
            leaders = [
                shapely.LineString([edge.start, edge.end])
                for trace in traces(drawing, THIN)
                for edge in trace.edges
                if len(trace.edges) == 2
            ]
            assert len(leaders) >= 2 * len(layered(shipped(stem))[0].members)
            assert not [word.text for word in words for line in leaders if oblong(word).intersects(line)]


@pytest.mark.parametrize("stem", ["cornice", "bar-front", "door-casing"])
def test_arrowheads_are_for_radii_and_angles_alone(stem: str) -> None:
    """Every other dimension line of a section ends in an oblique stroke: two for each, and a step shares one."""
    for drawing in drawn(stem):
        if drawing.key.startswith("section"):
            heads = [m for m in marks_of(drawing.page) if isinstance(m, Trace) and m.fill == SOFT]
            radii = [text for text in texts(drawing) if "R " in text and "″" in text]
            assert len(heads) == len(radii)
            assert len(edges(drawing, 0.5)) >= 6
