"""The profiles that climbing pieces need: which there are, and that their files hold what the cutters must make."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pdfplumber
import pytest
import svgelements
from ezdxf import path as dxf_path
from ezdxf import recover
from ezdxf.entities.lwpolyline import LWPolyline
from numpy.typing import NDArray

from preview import jobs
from preview.build import Built
from preview.exports import RakedProfile, raked_files, raked_profiles
from preview.profiles import Profile, distance_to, flatten, measure
from preview.scene import load_scene
from shop_jobs import SCENES, STAIR, shipped, written

Floats = NDArray[np.float64]


def section(profile: Profile, slope: float, shear: float) -> Floats:
    """Points (n, 2) of the section square to a rake, worked from the level profile.

    By hand: plumb, a point d out is raised by shear d; seen square to the rake, heights shrink by the pitch's cosine.
    """
    d, h = flatten(profile, 0.001).points.T
    return np.column_stack([d, (h + shear * d) * math.cos(math.atan(slope))])


def assert_is(found: Profile, expected: Floats, within: float) -> None:
    assert distance_to(found, expected).max() <= within
    size = measure(found)
    assert size.d_max == pytest.approx(expected[:, 0].max(), abs=within)
    assert size.h_max == pytest.approx(expected[:, 1].max(), abs=within)
    assert size.h_min == pytest.approx(expected[:, 1].min(), abs=within)


def profiles_of(run: str) -> tuple[Built, list[RakedProfile]]:
    built, _ = written(run)
    return built, raked_profiles(built)


def test_a_climb_round_a_corner_needs_two_profiles_besides_its_own() -> None:
    """A square outside corner, 3 in 4: tan t of shear on the rake, twice that on the level return at its top."""
    built, (rake, back) = profiles_of(STAIR)
    assert [rake.slope, rake.shear] == pytest.approx([0.75, 0.75])
    assert [back.slope, back.shear] == pytest.approx([0.0, 1.5])
    assert rake.pieces == ("stair / base / 2 straight",)
    assert back.pieces == ("stair / base / end return",)
    profile = built.members[0].profile
    for each in (rake, back):
        assert_is(each.profile, section(profile, each.slope, each.shear), each.deviation + 1e-3)
        assert 0.0 < each.deviation <= 0.002
    assert rake.profile.name == "base, raked at 36.87°, for stair / base / 2 straight"
    assert back.profile.name == "base, to meet a rake, for stair / base / end return"


def test_a_climb_in_one_wall_is_only_shortened() -> None:
    built, (rake,) = profiles_of('[[run]]\nname = "up"\nsteps = [{ straight = 300 }, { straight = 400, rise = 300 }]\n')
    assert (rake.slope, rake.shear) == (0.75, 0.0)
    high = measure(built.members[0].profile).h_max
    assert measure(rake.profile).h_max == pytest.approx(0.8 * high, abs=1e-3)  # cos(atan 3/4)


@pytest.mark.parametrize(
    "run",
    [
        '[[run]]\nname = "level"\nsteps = [{ straight = 300 }, { inside = 90 }, { straight = 400 }]\n',
        STAIR.replace('end = "return"', 'raked = "same"'),
    ],
    ids=["level", "the same profile"],
)
def test_runs_that_need_no_profile_of_their_own(run: str) -> None:
    assert profiles_of(run)[1] == []


def test_pieces_that_need_one_profile_share_it() -> None:
    steps = "{ straight = 500, rise = 200 }, { straight = 300 }, { straight = 250, rise = 100 }"
    steps += ", { straight = 300 }, { straight = 500, rise = -200 }"
    _, found = profiles_of(f'[[run]]\nname = "up"\nsteps = [{steps}]\n')
    assert [each.pieces for each in found] == [
        ("up / base / 1 straight", "up / base / 3 straight"),
        ("up / base / 5 straight",),
    ]


def test_an_easement_is_turned_or_carved_and_has_no_one_section() -> None:
    """The same piece is cut to every slope between; the rail's rake alone is told."""
    built, _ = shipped("stair-wall")
    told = {name for each in raked_profiles(built) for name in each.pieces}
    assert told == {"rail / rail / 4 straight", "cornice / cornice / 2 straight"}


def test_a_member_s_place_on_the_wall_is_not_in_its_profile() -> None:
    top = '\ntitle = "Pantry"\nunits = "mm"\n[profile.base]\nfoot = 20\nface = [{ fillet = 60 }, { fillet = 9 }]\n'
    plain, set_up = (f'{top}[member.base]\nprofile = "base"\n{more}' for more in ("", "up = 100\nout = 12\n"))
    one, two = (raked_profiles(written(STAIR, each)[0]) for each in (plain, set_up))
    assert [each.profile.edges for each in one] == [each.profile.edges for each in two]


def test_none_is_drawn_where_none_is_wanted() -> None:
    built, _ = written(STAIR)
    assert [each.files for each in raked_profiles(built, drawn=False)] == [(), ()]
    names = [name for each in raked_profiles(built) for name in each.files]
    assert len(set(names)) == 6
    assert all(name.startswith("profiles/") for name in names)


# The files.


def dxf_points(data: bytes) -> Floats:
    document, auditor = recover.read(io.BytesIO(data))
    assert not auditor.errors
    (line,) = document.modelspace().query("LWPOLYLINE")
    assert isinstance(line, LWPolyline)
    assert line.closed
    return np.array([(p.x, p.y) for p in dxf_path.make_path(line).flattening(0.001)])


@pytest.mark.parametrize("inches", [True, False])
def test_every_file_shows_the_section_at_full_size(inches: bool) -> None:
    """DXF read by ezdxf, SVG by svgelements, and the paper template by pdfplumber."""
    built, _ = written(STAIR)
    found = raked_profiles(built)
    files = dict(raked_files(found, inches))
    assert sorted(files) == sorted(name for each in found for name in each.files)
    for each in found:
        expected = section(built.members[0].profile, each.slope, each.shear)
        content = {name.rsplit(".", 1)[1]: files[name] for name in each.files}
        drawn = dxf_points(content["dxf"])
        assert distance_to(each.profile, drawn).max() < 0.002
        assert np.ptp(drawn, axis=0) == pytest.approx(np.ptp(expected, axis=0), abs=0.005)
        (outline,) = (
            node
            for node in ElementTree.fromstring(content["svg"]).iter("{http://www.w3.org/2000/svg}path")
            if node.get("id") == "outline"
        )
        left, top, right, bottom = svgelements.Path(outline.get("d")).bbox()
        assert (right - left, bottom - top) == pytest.approx(tuple(np.ptp(expected, axis=0)), abs=0.005)
        assert content["pdf"].startswith(b"%PDF-")
        with pdfplumber.open(io.BytesIO(content["pdf"])) as pages:
            size = (215.9, 279.4) if inches else (210.0, 297.0)
            millimeters = [float(value) / 72 * 25.4 for value in (pages.pages[0].width, pages.pages[0].height)]
            assert sorted(millimeters) == pytest.approx(sorted(size), abs=0.1)


def test_a_build_writes_them_and_names_them_in_the_report(tmp_path: Path) -> None:
    wanted = jobs.Wanted(("glb", "stl"), pieces=False, solids=False, second_reader=False, whole=True)
    outcome = jobs.build_scene(load_scene(SCENES / "stair-wall.toml"), tmp_path, wanted, lambda *_: None)
    report = json.loads((tmp_path / "report.json").read_text("utf-8"))
    told = report["raked_profiles"]
    assert [entry["pieces"] for entry in told] == [["rail / rail / 4 straight"], ["cornice / cornice / 2 straight"]]
    written_files = {entry["path"] for entry in report["files"]}
    for entry, found in zip(told, outcome.report.raked, strict=True):
        assert entry["name"] == found.profile.name
        assert entry["shear"] == found.shear
        assert entry["deviation_mm"] == found.deviation
        assert len(entry["files"]) == 3
        assert set(entry["files"]) <= written_files
        assert all((tmp_path / name).is_file() for name in entry["files"])
        (dxf,) = (name for name in entry["files"] if name.endswith(".dxf"))
        assert distance_to(found.profile, dxf_points((tmp_path / dxf).read_bytes())).max() < 0.002
    # Eight rises of 7 in on treads of 10 1/2; and 73 7/32 in up in 132 in along the slope.
    assert told[0]["pitch_deg"] == pytest.approx(math.degrees(math.atan(7 / 10.5)), abs=1e-9)
    assert told[1]["pitch_deg"] == pytest.approx(math.degrees(math.asin((73 + 7 / 32) / 132)), abs=1e-9)
    assert told[0]["shear"] == 0.0
    assert told[1]["shear"] == pytest.approx(
        -math.tan(math.radians(told[1]["pitch_deg"])), abs=1e-9
    )  # an inside corner
