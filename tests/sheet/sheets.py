"""Jobs to make sheets of, and what pdfplumber reads on them."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from PIL import Image

from preview.review import review
from preview.scene import NEUTRAL, Brand, JobDetails, PaperName, Scene, load_scene, parse_scene
from preview.sheet import Photo, SheetJob, sheet_pdf

SCENES = Path(__file__).parents[2] / "scenes"
PAPERS: tuple[PaperName, ...] = ("letter", "tabloid", "a4", "a3")
SIZES: dict[PaperName, tuple[float, float]] = {
    "letter": (11 * 25.4, 8.5 * 25.4),
    "tabloid": (17 * 25.4, 11 * 25.4),
    "a4": (297.0, 210.0),
    "a3": (420.0, 297.0),
}
"""mm, lying: ANSI/ASME Y14.1 (A, B) and ISO 216, from memory."""
MM = 72 / 25.4
MARGIN = 11.0 * MM
"""What no sheet's paper has less of."""


@cache
def scene_job(name: str, paper: PaperName = "letter", photos: int = 0) -> SheetJob:
    """A shipped scene, built and checked."""
    scene = load_scene(SCENES / f"{name}.toml")
    return SheetJob(scene, tuple(review(scene)), tuple(photo(i) for i in range(photos)), NEUTRAL, paper, "2026-11-29")


@cache
def photo(number: int, size: tuple[int, int] = (320, 200)) -> Photo:
    into = io.BytesIO()
    Image.linear_gradient("L").resize(size).convert("RGB").save(into, "JPEG")
    return Photo(f"Picture {number + 1}", f"A gradient, number {number + 1}.", into.getvalue(), size)


@cache
def plain(name: str, paper: PaperName = "letter") -> bytes:
    """A shipped scene's sheet with one picture and without its line drawings."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("preview.sheet.compose._line_drawings", lambda *_: [])
        return sheet_pdf(scene_job(name, paper, photos=1))


def with_details(job: SheetJob, **details: Any) -> SheetJob:
    """The job with a title block that says so; title: the scene's own."""
    title = details.pop("title", job.scene.title)
    return replace(job, scene=replace(job.scene, title=title, job=JobDetails(**details)))


@cache
def zigzag(pieces: int, members: int = 1) -> Scene:
    """A scene of so many pieces on one run; for several members, each with every piece."""
    folder = SCENES.parent / "profiles"
    text = ['title = "Zigzag"', 'units = "in"', "[profile.base]", f'file = "{(folder / "ogee-base.toml").as_posix()}"']
    names = [f"member {i + 1}" for i in range(members)]
    for i, name in enumerate(names):
        text += [f'[member."{name}"]', 'profile = "base"', f"up = {6 * i}"]
    steps = ["{ straight = 20 }"]
    for i in range(pieces - 1):
        steps += ["{ right = 90 }" if i % 2 else "{ left = 90 }", "{ straight = 20.25 }"]
    text += ["[[run]]", 'name = "run"', f"members = {names!r}", "start = [0, 0]", "heading = 0"]
    return parse_scene("\n".join([*text, f"steps = [{', '.join(steps)}]"]), Path("zigzag.toml"))


def brand(**parts: Any) -> Brand:
    return replace(NEUTRAL, **parts)


@contextmanager
def opened(data: bytes) -> Iterator[list[Any]]:
    """The pages as pdfplumber has them; it takes longer than all else here, so the last ones are kept."""
    yield _pages(data)


@lru_cache(6)
def _pages(data: bytes) -> list[Any]:
    return list(pdfplumber.open(io.BytesIO(data)).pages)


def text_of(data: bytes) -> str:
    """All words, lines run on, so that a break does not part what is looked for."""
    with opened(data) as pages:
        return " ".join(" ".join(text_on(page).split()) for page in pages)


def text_on(page: Any) -> str:
    """The words of a page, line by line."""
    return str(page.extract_text() or "")


def words_of(data: bytes) -> str:
    """The same without spaces: words that are broken over lines are whole again."""
    with opened(data) as pages:
        return "".join(char["text"] for page in pages for char in page.chars if char["text"].strip())


def strays(page: Any, paper: PaperName) -> list[str]:
    """What lies outside a page's margins, lines by their weight too; those of drawings, which may be clipped, aside."""
    wide, high = (size * MM for size in SIZES[paper])
    found = []
    for kind in ("char", "line", "rect", "curve", "image"):
        for each in page.objects.get(kind, []):
            if kind in ("line", "rect", "curve") and each.get("tag") == "Figure":
                continue
            slack = 1.0 + (0.0 if kind in ("char", "image") else float(each.get("linewidth") or 0.0) / 2)
            inside = (
                each["x0"] >= MARGIN - slack
                and each["x1"] <= wide - MARGIN + slack
                and each["top"] >= MARGIN - slack
                and each["bottom"] <= high - MARGIN + slack
            )
            if not inside:
                box = [round(each[side] / MM, 1) for side in ("x0", "top", "x1", "bottom")]
                found.append(f"{kind} {each.get('text', '')!r} at {box} mm")
    return found


def margins_are_white(data: bytes) -> bool:
    """Whether PDFium leaves the margins of all pages white."""
    document = pypdfium2.PdfDocument(data)
    edge = int(MARGIN) - 1
    try:
        for page in document:
            pixels = np.asarray(page.render(scale=1.0, grayscale=True).to_numpy()).squeeze().copy()
            pixels[edge:-edge, edge:-edge] = 255
            if pixels.min() < 250:
                return False
    finally:
        document.close()
    return True


def overlapping(page: Any) -> list[str]:
    """Pairs of lines of running text that lie over each other; drawings, which place their own labels, aside.

    A line's box is that of its letters between the baseline and the height of capitals, so that it has to be read badly
    before it counts.
    """
    chars = [char for char in page.chars if char.get("tag") != "Figure" and char["text"].strip()]
    rows: list[tuple[float, float, float, float, str]] = []
    for char in sorted(chars, key=lambda each: (round(each["matrix"][5], 1), each["x0"])):
        x0, x1, base, size = char["x0"], char["x1"], char["matrix"][5], char["size"]
        last = rows[-1] if rows else None
        if last is not None and abs(last[1] - base) < 0.2 and -0.6 * size <= x0 - last[2] < 0.6 * size:
            rows[-1] = (last[0], last[1], max(x1, last[2]), last[3], last[4] + char["text"])
        else:
            rows.append((x0, base, x1, base + 0.62 * size, char["text"]))
    found = []
    for i, one in enumerate(rows):
        for other in rows[i + 1 :]:
            across = min(one[2], other[2]) - max(one[0], other[0])
            up = min(one[3], other[3]) - max(one[1], other[1])
            if across > 0.5 and up > 0.5:
                found.append(f"{one[4]!r} over {other[4]!r}")
    return found


def untagged(page: Any) -> list[str]:
    """What is painted without being an element's content or an artifact."""
    return [
        f"{kind} {each.get('text', '')!r}"
        for kind in ("char", "line", "rect", "curve", "image")
        for each in page.objects.get(kind, [])
        if each.get("tag") is None or (each["tag"] != "Artifact" and each.get("mcid") is None)
    ]


def check_pages(data: bytes, paper: PaperName) -> int:
    """Assert that nothing strays, overlaps, or stands outside the structure; returns the number of pages."""
    assert margins_are_white(data)
    with opened(data) as pages:
        for page in pages:
            size = (float(page.width) / MM, float(page.height) / MM)
            assert max(abs(a - b) for a, b in zip(size, SIZES[paper], strict=True)) < 0.01
            assert strays(page, paper) == [], page.page_number
            assert overlapping(page) == [], page.page_number
            assert untagged(page) == [], page.page_number
        return len(pages)
