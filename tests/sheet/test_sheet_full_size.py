"""The profile on the sheet is at full size: measured on the pixels that PDFium paints, and on the path itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

from preview.paper import scaled
from preview.profiles import Profile, flatten, measure
from preview.scene import PaperName, load_profile
from preview.sheet.figures import Section, full_size
from sheets import MM, SCENES, opened, plain, scene_job

DOTS = 600 / 25.4
WOOD = (0xF7, 0xEE, 0xDD)
OUTLINE = 0.7
"""mm, how heavy the outline is drawn; its middle is the profile."""


def pages_with_profiles(data: bytes) -> list[int]:
    with opened(data) as pages:
        return [page.page_number - 1 for page in pages if "Print at 100 %" in (page.extract_text() or "")]


def outline_of(data: bytes, page: int, profile: Profile) -> dict[str, Any]:
    """The path that is as large as the profile, to a thousandth of a mm."""
    size = measure(profile)
    wide, high = size.d_max - size.d_min, size.h_max - size.h_min
    with opened(data) as pages:
        found = [
            each
            for kind in ("curve", "rect")
            for each in pages[page].objects.get(kind, [])
            if (each["stroke"] and _is(each, wide, high)) or _is(each, high, wide)  # upright, or lying
        ]
    assert found, f"{profile.name} is not on page {page + 1} at full size"
    return found[-1]


def _is(path: dict[str, Any], wide: float, high: float) -> bool:
    return abs(path["width"] / MM - wide) < 1e-3 and abs(path["height"] / MM - high) < 1e-3


def painted(data: bytes, page: int, box: tuple[float, float, float, float]) -> NDArray[np.uint8]:
    """A part of a page, (left, top, right, bottom) in points from its upper left corner, at 600 dots to the inch."""
    document = pypdfium2.PdfDocument(data)
    try:
        sheet = document[page]
        wide, high = sheet.get_size()
        crop = (box[0], high - box[3], wide - box[2], box[1])
        picture = sheet.render(scale=600 / 72, crop=crop).to_numpy()
    finally:
        document.close()
    return np.asarray(picture)[:, :, :3][:, :, ::-1]


@pytest.mark.parametrize(("name", "paper"), [("door-casing", "letter"), ("cornice", "a4")])
def test_profiles_measure_full_size_on_paper(name: str, paper: PaperName) -> None:
    """Within 0.1 mm, as printed by a printer of 600 dots to the inch; and every exact point lies under the line."""
    job, data = scene_job(name, paper, photos=1), plain(name, paper)
    profile = job.scene.members[0].profile
    (page, *_) = pages_with_profiles(data)
    path = outline_of(data, page, profile)
    edge = 2 * MM
    box = (path["x0"] - edge, path["top"] - edge, path["x1"] + edge, path["bottom"] + edge)
    pixels = painted(data, page, box)
    dark = pixels.max(axis=2) < 90  # the outline, and nothing thinner: dimension lines are lighter
    size = measure(profile)
    wide, high = size.d_max - size.d_min, size.h_max - size.h_min
    # Along the middle of a row or column of the wood, the outer sides of the outline are apart by the size and a line.
    columns, rows = np.nonzero(dark.any(axis=0))[0], np.nonzero(dark.any(axis=1))[0]
    assert (columns[-1] + 1 - columns[0]) / DOTS - OUTLINE == pytest.approx(wide, abs=0.1)
    assert (rows[-1] + 1 - rows[0]) / DOTS - OUTLINE == pytest.approx(high, abs=0.1)
    points = flatten(profile, 0.01).points - np.array([size.d_min, size.h_min])
    left, foot = columns[0] + OUTLINE / 2 * DOTS, rows[-1] + 1 - OUTLINE / 2 * DOTS
    x = np.clip(np.floor(left + points[:, 0] * DOTS).astype(int), 0, dark.shape[1] - 1)
    y = np.clip(np.floor(foot - points[:, 1] * DOTS).astype(int), 0, dark.shape[0] - 1)
    inked = pixels.max(axis=2) < 130  # dimension lines may cross the outline
    assert inked[y, x].all()


def test_every_profile_of_every_option_is_there() -> None:
    job, data = scene_job("window-seat", photos=1), plain("window-seat", "letter")
    profiles = {member.profile.name: member.profile for shown in job.shown for member in shown.built.members}
    assert len(profiles) == 2
    pages = pages_with_profiles(data)
    for profile in profiles.values():
        found = [page for page in pages if _is_on(data, page, profile)]
        assert found, profile.name


def _is_on(data: bytes, page: int, profile: Profile) -> bool:
    try:
        outline_of(data, page, profile)
    except AssertionError:
        return False
    return True


def test_the_check_bars_measure_what_they_say() -> None:
    """50 mm and 2 in: 50.8 mm, as the inch is 25.4 mm."""
    data = plain("window-seat", "letter")
    (number, *_) = pages_with_profiles(data)
    with opened(data) as pages:
        lines = [line["width"] / MM for line in pages[number].lines if line["height"] == 0]
        text = pages[number].extract_text()
    assert sum(abs(each - 50.0) < 1e-3 for each in lines) >= 1
    assert sum(abs(each - 50.8) < 1e-3 for each in lines) >= 1
    assert "50 mm" in text
    assert "2 in" in text


LARGE = load_profile(SCENES.parent / "profiles" / "cove-and-ogee-crown.toml")


@pytest.mark.parametrize(
    ("by", "told"),
    [
        (1.0, ["Full size."]),
        (1.4, ["Full size.", "Scale 3:4."]),  # its dimensions in a drawing of their own
        (1.95, ["Full size, lying.", "Scale 1:2."]),
        (4.0, ["Scale 1:4. This paper is too small for it at full size; the full-size template is a file of its own."]),
        (60.0, ["Scale 1:64. This paper is too small for it at full size"]),
    ],
)
def test_a_profile_that_the_paper_is_too_small_for_says_so(by: float, told: list[str]) -> None:
    profile = Profile("Large crown", scaled(by).edges(LARGE.edges))
    room = (250.0, 160.0)
    items = full_size(Section(profile, "Member crown, as drawn"), "in", room)
    assert len(items) == len(told)
    for item, words in zip(items, told, strict=True):
        assert words in item.words
        assert item.scale == 1.0
        assert item.width <= room[0] + 1e-6
        assert item.height <= room[1] + 1e-6
