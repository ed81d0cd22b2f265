"""The templates on paper: full size, bars that measure true both ways, laps that fit, words that keep to their places.

Vectors are read by pdfplumber, ink by PDFium at 600 dots to the inch.
"""

from __future__ import annotations

import io
import math
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from numpy.typing import NDArray

from preview.bench.templates import Template, TemplateSet, template_set, templates
from preview.bench.templates.curves import plan_of, rods_of
from preview.bench.templates.index import TemplateEntry, index_pages
from preview.bench.templates.sheets import LAP, MARGIN, laid_out, sheet_pages
from preview.build import Built, build
from preview.errors import PreviewError
from preview.joinery import join
from preview.paper import SHEETS, Clipped, Page, Words, advance, ink_box, pdf_bytes
from preview.runs import Curve, lay_out
from preview.scene import load_scene
from samples import block, curve

SCENES = Path(__file__).parents[2] / "scenes"
MM = 25.4 / 72
DOTS = 600 / 25.4
NAMES = ("window-seat", "column", "stair-hall", "bar-front", "hall", "stair-wall")


@pytest.fixture(scope="module")
def jobs() -> dict[str, Built]:
    return {name: build(load_scene(SCENES / f"{name}.toml")) for name in (*NAMES, "bay")}


def printed(pages: tuple[Page, ...], number: int = 0) -> NDArray[np.bool_]:
    """A page as a printer of 600 dots to the inch would put it down, from its foot up: True where there is ink."""
    document = pypdfium2.PdfDocument(pdf_bytes(pages, "", ""))
    try:
        gray = document[number].render(scale=600 / 72, grayscale=True).to_numpy()
    finally:
        document.close()
    return np.asarray(gray).reshape(gray.shape[:2])[::-1] < 128


def vectors(pages: tuple[Page, ...]) -> list[Any]:
    with pdfplumber.open(io.BytesIO(pdf_bytes(pages, "", ""))) as document:
        return [
            {
                "size": (float(page.width) * MM, float(page.height) * MM),
                "lines": [tuple(MM * float(line[k]) for k in ("x0", "y0", "x1", "y1")) for line in page.lines],
                "curves": [
                    np.array([(MM * x, float(page.height) * MM - MM * y) for x, y in curve["pts"]])
                    for curve in page.curves
                ],
                "words": page.extract_words(keep_blank_chars=True),
            }
            for page in document.pages
        ]


def curved(radius: float = 50.8, sweep: float = math.pi / 2) -> Template:
    (piece,) = join(curve(-sweep, radius), "base", block(31.75, 40.0)).pieces
    return plan_of(piece, "in")


# Full size


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_bars_measure_true_both_ways(paper: str) -> None:
    """Ink of 600 dots to the inch: between the middles of the end ticks, 100 mm and 4 in across and up."""
    ink = printed(sheet_pages(curved(), paper, "in"))
    high, wide = (size / DOTS for size in ink.shape)
    assert (wide, high) == pytest.approx(SHEETS[paper], abs=0.1)
    for i, length in enumerate((4 * 25.4, 100.0)):
        base = MARGIN + 12.5 - 11.5 * i
        row = ink[round((base + 1.0) * DOTS), : round((MARGIN + 110) * DOTS)]
        ticks = np.flatnonzero(row)
        assert (ticks[-1] - ticks[0]) / DOTS == pytest.approx(length + 0.2, abs=0.1)  # a tick is 0.2 mm wide
        side = wide - MARGIN - 1.0 - 11.0 * i
        column = ink[: round((MARGIN + 110) * DOTS), round((side - 1.0) * DOTS)]
        ticks = np.flatnonzero(column)
        assert (ticks[-1] - ticks[0]) / DOTS == pytest.approx(length + 0.2, abs=0.1)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_curve_is_drawn_at_full_size(paper: str) -> None:
    """The ink of the face of a quarter turn, radius 82.55 mm: its chord is sqrt(2) R, its rise R (1 - cos 45°)."""
    pages = sheet_pages(curved(), paper, "in")
    ink = printed(pages)
    (window,) = (mark.box for mark in pages[0].marks if isinstance(mark, Clipped))
    left, low, right, high = (round(value * DOTS) for value in window)
    rows, columns = np.nonzero(ink[low:high, left:right])
    chord = (columns.max() - columns.min() + 1) / DOTS
    assert chord - 0.3 == pytest.approx(math.sqrt(2) * 82.55, abs=0.1)  # a line's own weight taken off, aslant
    (found,) = vectors(pages)
    arcs = sorted((c for c in found["curves"] if np.ptp(c[:, 0]) > 60.0), key=lambda c: -np.ptp(c[:, 0]))
    assert np.ptp(arcs[0][:, 0]) == pytest.approx(math.sqrt(2) * 82.55, abs=0.01)
    assert np.ptp(arcs[1][:, 0]) == pytest.approx(math.sqrt(2) * 50.8, abs=0.01)
    assert rows.size


@pytest.mark.parametrize("name", NAMES)
def test_every_line_of_every_template_is_on_its_sheets(jobs: dict[str, Built], name: str) -> None:
    """Each point of each line that must be there is inside the window of one of the sheets."""
    for template in templates(jobs[name]):
        lines, layout = laid_out(template, "letter", "in")
        left, low, right, high = layout.window
        assert len(sheet_pages(template, "letter", "in")) == len(layout.cells)
        for line in (line for line in lines if line.role not in ("guide", "center")):
            for edge in line.edges:
                points = edge.point(np.linspace(0.0, 1.0, 2 + int(edge.length / 2)))
                seen = np.zeros(len(points), dtype=bool)
                for cell in layout.cells:
                    x, y = (points + np.array(layout.at(cell))).T
                    seen |= (left <= x) & (x <= right) & (low <= y) & (y <= high)
                assert seen.all()


# Sheets that join


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_neighboring_sheets_lap(paper: str) -> None:
    """Laid with its round marks on its neighbor's, each sheet's arc falls on the other's; 12 mm are on both."""
    template = curved(381.0)
    lines, layout = laid_out(template, paper, "in")
    pages = sheet_pages(template, paper, "in")
    assert len(pages) >= 3
    found = vectors(pages)
    arcs = [max(page["curves"], key=lambda c: np.ptp(c[:, 0])) for page in found]  # whole on every sheet, but clipped
    across = layout.window[2] - layout.window[0]
    pairs = 0
    for (i, one), (j, other) in combinations(enumerate(layout.cells), 2):
        if (other[0] - one[0], other[1] - one[1]) != (1, 0):
            continue
        pairs += 1
        moved = arcs[i][0] - arcs[j][0]
        assert moved == pytest.approx((across - LAP, 0.0), abs=1e-3)
        marks = [centers(found[k]) for k in (i, j)]
        right = sorted((x, y) for x, y in marks[0] if x > layout.window[2] - LAP)
        left = sorted((x, y) for x, y in marks[1] if x < layout.window[0] + LAP)
        assert len(right) == len(left) >= 2
        for a, b in zip(right, left, strict=True):
            assert (a[0] - b[0], a[1] - b[1]) == pytest.approx(tuple(moved), abs=1e-3)
    assert pairs >= 2
    assert any("joined right where the longest chord" in " ".join(w["text"] for w in page["words"]) for page in found)
    assert {line.role for line in lines} >= {"back", "face", "cut"}


def centers(page: dict[str, Any]) -> list[tuple[float, float]]:
    """The middles of the round marks on a page: circles 5 mm across."""
    found = []
    for points in page["curves"]:
        wide, high = np.ptp(points, axis=0)
        if wide == pytest.approx(5.0, abs=0.01) and high == pytest.approx(5.0, abs=0.01):
            middle = (points.max(axis=0) + points.min(axis=0)) / 2
            found.append((float(middle[0]), float(middle[1])))
    return found


def test_sheets_with_nothing_on_them_are_left_out() -> None:
    """A half circle on several rows: nothing of it lies in the middle of the lowest."""
    template = curved(400.0, math.pi * 0.95)
    _, layout = laid_out(template, "letter", "in")
    assert len(layout.cells) < layout.grid[0] * layout.grid[1]


def test_one_too_large_for_paper_is_left_to_its_file() -> None:
    (rod,) = rods_of(lay_out("wall", [Curve(math.pi / 2, 6000.0)]), "in")
    with pytest.raises(PreviewError, match="more than 24 sheets of paper"):
        sheet_pages(rod, "letter", "in")
    entry = TemplateEntry(rod, 0, ("templates/t1.dxf",), "it is too large for paper")
    (page,) = index_pages([entry], "letter", "A job")
    words = [mark.text for mark in page.marks if isinstance(mark, Words)]
    assert "DXF only" in words
    assert any("too large for paper" in text for text in words)


def test_the_center_is_drawn_where_it_takes_no_further_sheet() -> None:
    near, _ = laid_out(curved(50.8), "letter", "in")
    far, _ = laid_out(curved(381.0), "letter", "in")
    assert any(line.role == "center" for line in near)
    assert not any(line.role == "center" for line in far)


# Words


def words_of(page: Page) -> tuple[list[Words], list[tuple[Words, tuple[float, float, float, float]]]]:
    """The words round the window, and those inside it with the window they may be cut by."""
    around = [mark for mark in page.marks if isinstance(mark, Words)]
    inside = [
        (mark, clip.box)
        for clip in page.marks
        if isinstance(clip, Clipped)
        for mark in clip.marks
        if isinstance(mark, Words)
    ]
    return around, inside


def overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", NAMES)
def test_words_fit(jobs: dict[str, Built], name: str, paper: str) -> None:
    """No words run off the paper, into the window or over each other; labels are whole on one of the sheets."""
    for template in templates(jobs[name]):
        pages = sheet_pages(template, paper, "in", jobs[name].scene.title)
        _, layout = laid_out(template, paper, "in", jobs[name].scene.title)
        drawn: set[str] = set()
        for page in pages:
            around, inside = words_of(page)
            boxes = [ink_box(mark) for mark in around]
            for left, low, right, high in boxes:
                assert left >= MARGIN - 1
                assert low >= MARGIN - 1.5
                assert right <= page.width - MARGIN + 1
                assert high <= page.height - MARGIN
                assert not overlap((left, low, right, high), layout.window)
            for (a, one), (b, other) in combinations(zip(around, boxes, strict=True), 2):
                assert not overlap(one, other), (a.text, b.text)
            for (a, _), (b, _) in combinations(inside, 2):
                assert not overlap(ink_box(a), ink_box(b)), (template.title, a.text, b.text)
            for mark, window in inside:
                left, low, right, high = ink_box(mark)
                assert window[0] <= left
                assert window[1] <= low
                assert right <= window[2]
                assert high <= window[3]
                drawn.add(mark.text)
        if len(layout.cells) == layout.grid[0] * layout.grid[1]:
            assert drawn == {label.text.replace("{sign}", template.sign) for label in template.labels}


@pytest.mark.parametrize("name", NAMES)
def test_no_line_runs_through_a_label(jobs: dict[str, Built], name: str) -> None:
    for template in templates(jobs[name]):
        lines, _ = laid_out(template, "letter", "in")
        points = np.concatenate(
            [e.point(np.linspace(0.0, 1.0, 2 + int(e.length / 0.2))) for line in lines for e in line.edges]
        )
        for label in template.labels:
            text = label.text.replace("{sign}", template.sign)
            half = advance(text, label.size, label.bold) / 2
            left, low, right, high = ink_box(
                Words(text, (label.at[0] - half, label.at[1]), label.size, bold=label.bold)
            )
            x, y = points.T
            crossed = (left < x) & (x < right) & (low < y) & (y < high)
            assert not crossed.any(), (template.title, text)


def test_long_names_are_shortened_on_the_sheet_and_whole_in_the_index() -> None:
    long = tuple(
        f"the long gallery of the old library, north side / base with cap and shoe / {i} curve" for i in range(1, 30)
    )
    template = Template("curve", long, curved().words, curved().lines, number=1)
    (page,) = sheet_pages(template, "letter", "in", "A job with a very long title " * 8)
    around, _ = words_of(page)
    boxes = [ink_box(mark) for mark in around]
    assert all(box[2] <= page.width - MARGIN + 1 for box in boxes)
    assert any("which the index names" in mark.text for mark in around)
    index = index_pages([TemplateEntry(template, 1, ("templates/a.pdf", "templates/a.dxf"))], "letter", "A job")
    told = " ".join(mark.text for page in index for mark in page.marks if isinstance(mark, Words))
    assert all(f"/ {i} curve" in told for i in range(1, 30))
    for page in index:
        found = [ink_box(mark) for mark in page.marks if isinstance(mark, Words)]
        assert all(box[0] >= MARGIN - 1 and box[2] <= page.width - MARGIN + 1 and box[1] >= MARGIN - 2 for box in found)
        assert not [1 for a, b in combinations(found, 2) if overlap(a, b)]


def test_every_sheet_says_how_to_check_it(jobs: dict[str, Built]) -> None:
    found: TemplateSet = template_set(jobs["stair-wall"], "a4")
    with pdfplumber.open(io.BytesIO(found.files[0][1])) as document:
        texts = [page.extract_text() for page in document.pages]
        assert all(
            (round(float(p.width) * MM), round(float(p.height) * MM)) in ((210, 297), (297, 210))
            for p in document.pages
        )
        assert len(texts) == 1 + sum(entry.sheets for entry in found.entries)
    for entry in found.entries:
        assert entry.template.title in " ".join(texts[0].split("\n")) or entry.template.sign in texts[0]
    for text in texts[1:]:
        flat = " ".join(text.split())
        assert "Print at actual size (100 %)" in flat
        assert "Guards in place" in flat
        assert "100 mm" in flat
        assert "Sheet " in flat
    document = pypdfium2.PdfDocument(found.files[0][1])
    assert document.get_metadata_dict()["Title"] == "Chair rail and raking cornice of a stair wall: templates"
    assert b"/PrintScaling /None" in found.files[0][1]
    document.close()


def test_a_job_without_templates_says_so(jobs: dict[str, Built]) -> None:
    found = template_set(jobs["bay"])
    (only,) = found.files
    with pdfplumber.open(io.BytesIO(only[1])) as document:
        assert "needs no templates" in document.pages[0].extract_text()


def test_paper_follows_the_scene(jobs: dict[str, Built]) -> None:
    for name, size in (("column", SHEETS["a4"]), ("window-seat", SHEETS["letter"])):
        with pdfplumber.open(io.BytesIO(template_set(jobs[name]).files[0][1])) as document:
            first = document.pages[0]
            assert (float(first.width) * MM, float(first.height) * MM) == pytest.approx(size, abs=0.01)
