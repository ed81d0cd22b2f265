"""What the README and DEVELOPERS.md state is so: figures, lists of names, what the program says, and every example
that is shown. Figures that take a while are in tests/long/figures.py."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import ezdxf
import pytest

from preview.build import Built, build
from preview.errors import PreviewError
from preview.scene import load_brand, load_profile, load_scene, parse_scene
from readme_figures import QUICK, README, ROOT, Figure, names_in_readme

SEAT = ROOT / "scenes" / "window-seat.toml"
PLAIN = """title = "Anteroom"
units = "in"
[profile.base]
file = "../profiles/ogee-base.toml"
[member.base]
profile = "base"
"""


def blocks(language: str) -> list[str]:
    """The README's fenced blocks of a language, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README.read_text("utf-8"), re.M | re.S)


def block(within: str) -> str:
    """The one TOML block in which something stands."""
    (found,) = (text for text in blocks("toml") if within in text)
    return found


def seat_without_choices() -> str:
    return SEAT.read_text("utf-8").partition("# What the client may choose")[0]


def read(source: str) -> Built:
    """A scene as if it were among those that ship, built."""
    return build(parse_scene(source, ROOT / "scenes" / "shown.toml"))


@pytest.mark.parametrize("figure", QUICK, ids=lambda figure: figure.name.replace(" ", "-"))
def test_each_figure_is_what_the_program_has(figure: Figure) -> None:
    assert figure.written((ROOT / figure.document).read_text("utf-8")).groups() == figure.found()


def test_a_figure_that_is_off_or_missing_is_noticed() -> None:
    figure = Figure("shelves", "has (?) shelves of ((?) mm", lambda: ("3", "20"))
    assert figure.written("It has 4 shelves\nof (25 mm each).").groups() == ("4", "25")
    with pytest.raises(LookupError, match="says 0 times"):
        figure.written("It has shelves.")
    with pytest.raises(LookupError, match="says 2 times"):
        figure.written("It has 4 shelves of (25 mm, and has 4 shelves of (25 mm.")


@pytest.mark.parametrize("kind", ["formats", "shapes", "cutters"])
def test_the_lists_of_names_are_whole(kind: str) -> None:
    listed, there = names_in_readme()[kind]
    assert listed == there


def test_what_is_written_wrong_is_told_as_shown(tmp_path: Path) -> None:
    """The two messages of the README come of two mistakes in the scene in its picture."""
    for folder in ("profiles", "scenes/shop"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    right = SEAT.read_text("utf-8")
    wrong = right.replace("start = [0, 0]", 'start = ["0", "1 3,8"]', 1).replace("straight = 6 ", "strait = 6 ", 1)
    assert sum(a != b for a, b in zip(right.splitlines(), wrong.splitlines(), strict=True)) == 2
    path = tmp_path / "scenes" / SEAT.name
    path.write_text(wrong, "utf-8")
    with pytest.raises(PreviewError) as caught:
        load_scene(path)
    (shown,) = (text for text in blocks("text") if "strait" in text)
    assert str(caught.value) == shown.rstrip("\n")


def test_the_options_shown_are_read() -> None:
    scene = parse_scene(seat_without_choices() + block("[[option]]"), SEAT)
    assert [len(choice.alternatives) for choice in scene.choices] == [2, 2]
    built = build(scene)
    assert len({built.digest, *(build(variant.scene).digest for variant in scene.variants)}) == 4


def test_the_views_shown_are_read() -> None:
    scene = parse_scene(seat_without_choices() + block("[[picture]]"), SEAT)
    assert [picture.name for picture in scene.pictures] == ["From the door", "The left pier, kneeling"]


def test_the_job_and_the_brand_shown_are_read(tmp_path: Path) -> None:
    before, _, after = seat_without_choices().partition("[job]")
    job = parse_scene(before + block("[job]") + after[after.index("[profile.base]") :], SEAT).job
    assert job is not None
    assert (job.client, job.number) == ("R. and M. Oduya", "1187")
    (tmp_path / "logo.png").write_bytes((ROOT / "scenes" / "shop" / "logo.png").read_bytes())
    (tmp_path / "shop.toml").write_text(block("logo ="), "utf-8")
    assert load_brand(tmp_path / "shop.toml").name == "Harbor Street Joinery"


def test_the_scene_shown_is_built() -> None:
    built = read(block('title = "Window seat, reading room"'))
    assert [piece.kind for piece in built.pieces] == ["straight", "straight", "curve", "straight", "straight"]


def test_the_joints_shown_are_what_their_comments_say() -> None:
    built = read(PLAIN + block("[block.plinth]"))
    kinds = [pair.joint.kind for pair in built.joints]
    assert kinds.count("scarf") == 1, "15' 6 of 12' stock: scarfed once"
    assert kinds.count("cope") == 1
    assert kinds.count("miter") >= 3 + 1, "three equal turns, and the casing's corner"


def test_the_measured_room_shown_closes() -> None:
    (run,) = read(PLAIN + block("measured = {").replace("[[run]]", '[[run]]\nmembers = ["base"]')).scene.runs
    assert run.survey is not None
    assert run.survey.closed


def test_the_site_and_the_shop_shown_are_read() -> None:
    cap = '[member.cap]\nprofile = "ogee"\nup = 4\n'
    scene = parse_scene(seat_without_choices() + cap + block("[site]") + block("[shop]"), SEAT)
    assert scene.site is not None
    assert build(scene).forecasts
    assert scene.shop.turning.staves == 4


@pytest.mark.parametrize("name", ["Ogee base cap", "Beaded board", "Casing of the old house"])
def test_the_profiles_shown_are_read(name: str, tmp_path: Path) -> None:
    drawing = ezdxf.new("R2010", units=1)
    outline = [(0, 0), (0.75, 0), (0.75, 3.5), (0, 3.5)]
    drawing.modelspace().add_lwpolyline(outline, close=True, dxfattribs={"layer": "section"})
    drawing.saveas(tmp_path / "casing.dxf")
    (tmp_path / "shown.toml").write_text(block(f'name = "{name}"'), "utf-8")
    assert load_profile(tmp_path / "shown.toml").name == name


def test_the_sprung_profile_shown_is_read(tmp_path: Path) -> None:
    (tmp_path / "profiles").mkdir()
    flat = 'name = "Flat"\nunits = "in"\nfoot = "1/4"\nface = [{ fillet = "1/2" }, { cove = "2 1/2", out = "1/2" }]\n'
    (tmp_path / "profiles" / "our-crown.toml").write_text(flat, "utf-8")
    run = '[member.crown]\nprofile = "crown"\n[[run]]\nname = "wall"\nsteps = [{ straight = 60 }]\n'
    scene = parse_scene('title = "Hall"\nunits = "in"\n' + block("spring = 38") + run, tmp_path / "hall.toml")
    assert build(scene).pieces


def test_every_example_is_among_those_tried() -> None:
    tried = ["[[option]]", "[[picture]]", "[job]", "logo =", 'title = "Window seat, reading room"', "[block.plinth]"]
    tried += ["measured = {", "[site]", "[shop]", "Ogee base cap", "Beaded board", "Casing of the old house"]
    tried += ["spring = 38"]
    assert {block(within) for within in tried} == set(blocks("toml"))
