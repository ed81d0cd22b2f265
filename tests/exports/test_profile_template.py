"""The paper template, read by pdfplumber and put on paper by PDFium: it measures full size."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from numpy.typing import NDArray

from preview.drafting.profile.template import PAPERS, Paper, profile_pdf, template_pages
from preview.errors import PreviewError
from preview.paper.marks import scaled
from preview.paper.paint import curves
from preview.profiles import Arc, Profile, flatten, measure
from preview.scene import load_profile

FOLDER = Path(__file__).parents[2] / "profiles"
CROWN = load_profile(FOLDER / "cove-and-ogee-crown.toml")
DOTS = 600 / 25.4  # a mm, as a shop's printer has them


def larger(by: float) -> Profile:
    return Profile("Large crown", scaled(by).edges(CROWN.edges))


def printed(data: bytes, page: int = 0) -> NDArray[np.bool_]:
    """A page as a printer of 600 dots to the inch would put it down: True where there is ink."""
    document = pypdfium2.PdfDocument(data)
    try:
        gray = document[page].render(scale=600 / 72, grayscale=True).to_numpy()
    finally:
        document.close()
    return np.asarray(gray).reshape(gray.shape[:2]) < 128


def inked(ink: NDArray[np.bool_], low: float, high: float) -> tuple[float, float, float, float]:
    """The box of the ink between two heights above the page's foot: left, bottom, right, top, mm."""
    rows, columns = np.nonzero(ink[round(len(ink) - high * DOTS) : round(len(ink) - low * DOTS)])
    top = high - rows.min() / DOTS
    return columns.min() / DOTS, high - (rows.max() + 1) / DOTS, (columns.max() + 1) / DOTS, top


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_at_full_size(paper: Paper) -> None:
    """Within 0.1 mm, the outline's own line (0.25 mm wide) taken off."""
    ink = printed(profile_pdf(CROWN, paper))
    left, bottom, right, top = inked(ink, 40.0, PAPERS[paper][1] - 36.0)
    size = measure(CROWN)
    assert right - left - 0.25 == pytest.approx(size.d_max, abs=0.1)
    assert top - bottom - 0.25 == pytest.approx(size.h_max, abs=0.1)


def test_the_check_bars_measure_what_they_say() -> None:
    ink = printed(profile_pdf(CROWN))
    for low, length in ((11.0, 100.0), (23.5, 101.6)):
        left, _, right, _ = inked(ink, low - 0.3, low + 1.0)  # the bar and the feet of its ticks
        assert right - left - 0.2 == pytest.approx(length, abs=0.1)


def test_the_printed_line_is_the_profile() -> None:
    """Every exact point of the outline lies on ink, and no ink of it lies further off than half the line."""
    ink = printed(profile_pdf(CROWN))
    left, bottom, _, _ = inked(ink, 40.0, 243.0)
    points = flatten(CROWN, 0.01).points + np.array([left + 0.125, bottom + 0.125])
    rows = np.floor(len(ink) - points[:, 1] * DOTS).astype(int)
    columns = np.floor(points[:, 0] * DOTS).astype(int)
    assert ink[rows, columns].mean() > 0.999
    area = ink[round(len(ink) - 243.0 * DOTS) : round(len(ink) - 40.0 * DOTS)].sum() / DOTS**2
    assert area == pytest.approx(0.25 * measure(CROWN).perimeter, rel=0.05)


def test_pdfplumber_finds_the_outline_and_the_words() -> None:
    with pdfplumber.open(io.BytesIO(profile_pdf(CROWN, "a4"))) as pdf:
        (page,) = pdf.pages
        assert (float(page.width), float(page.height)) == pytest.approx((210 * 72 / 25.4, 297 * 72 / 25.4), abs=0.01)
        outline = max(page.curves, key=lambda curve: curve["height"])
        assert outline["width"] * 25.4 / 72 == pytest.approx(69.85, abs=1e-4)
        assert outline["height"] * 25.4 / 72 == pytest.approx(88.9, abs=1e-4)
        text = page.extract_text()
        assert "Cove and ogee crown" in text
        assert "Print at actual size (100 %)" in text
        assert "100 mm" in text
        assert "4 in" in text
        assert {char["fontname"].partition("+")[2] for char in page.chars} == {
            "SourceSansPro-Regular",
            "SourceSansPro-Semibold",
        }


def test_it_asks_not_to_be_scaled_and_embeds_its_type() -> None:
    data = profile_pdf(CROWN)
    assert b"/PrintScaling /None" in data
    assert data.count(b"/FontFile2") == 2


def test_the_same_bytes_every_time() -> None:
    assert profile_pdf(CROWN) == profile_pdf(CROWN)


@pytest.mark.parametrize("radius", [0.5, 6.35, 100.0, 5000.0, 1e6])
@pytest.mark.parametrize("sweep", [0.3, math.pi / 2, -math.pi, 6.0])
def test_curves_stay_within_a_ten_thousandth_of_the_arc(radius: float, sweep: float) -> None:
    arc = Arc((radius, 0.0), (radius * math.cos(sweep), radius * math.sin(sweep)), (0.0, 0.0), sweep)
    at = np.array(arc.start)
    t = np.linspace(0, 1, 41)[:, None]
    for first, second, end in curves(arc):
        points = (1 - t) ** 3 * at + 3 * t * (1 - t) ** 2 * np.array(first)
        points += 3 * t**2 * (1 - t) * np.array(second) + t**3 * np.array(end)
        assert np.abs(np.hypot(points[:, 0], points[:, 1]) - radius).max() < 1e-4
        at = np.array(end)
    assert tuple(at) == arc.end


def test_a_large_profile_comes_on_sheets_that_lap() -> None:
    """Laid over each other by their crosses, the sheets show the whole outline: each piece of it is on some sheet."""
    large = larger(4.0)
    pages = template_pages(large)
    assert len(pages) == 4
    seen = np.zeros(len(flatten(large, 0.1).points), dtype=bool)
    for page in pages:
        clipped = page.marks[0]
        (outline,) = [mark for mark in clipped.marks if mark.weight == 0.25]
        shift = np.array(outline.edges[0].start) - np.array(large.edges[0].start)
        points = flatten(large, 0.1).points + shift
        left, low, right, high = clipped.box
        inside = (points[:, 0] > left) & (points[:, 0] < right) & (points[:, 1] > low) & (points[:, 1] < high)
        assert inside.any()
        seen |= inside
        crosses = [
            np.array(mark.edges[0].point(0.5)) for mark in clipped.marks if mark.weight == 0.18 and len(mark.edges) == 1
        ]
        off = np.abs((np.array(crosses) - shift) / 50.0 - np.round((np.array(crosses) - shift) / 50.0))
        assert len(crosses) > 10
        assert off.max() < 1e-9
    assert seen.all()
    with pdfplumber.open(io.BytesIO(profile_pdf(large))) as pdf:
        assert ["Sheet 1 of 4" in pdf.pages[0].extract_text(), "Sheet 4 of 4" in pdf.pages[3].extract_text()] == [
            True,
            True,
        ]


def test_what_only_just_fits_takes_one_sheet() -> None:
    size = measure(CROWN)
    window = 279.4 - 20.0 - 51.0
    assert len(template_pages(larger((window - 2.1) / size.h_max))) == 1
    assert len(template_pages(larger((window - 1.9) / size.h_max))) == 2


def test_what_would_paper_a_wall_is_refused_with_the_numbers() -> None:
    with pytest.raises(
        PreviewError, match=r"full-size template of 110\" by 140\" would take \d+ sheets of paper, and 24"
    ):
        profile_pdf(larger(40.0))
