"""What a person wrote in a scene is text wherever it comes out: no markup, formula, code, or command to a terminal.

Sources: OWASP, Cross Site Scripting Prevention Cheat Sheet and CSV Injection; RFC 4180; ECMA-48 (control sequences);
Unicode UAX #9 (marks that turn the reading round); the DXF reference of group codes (0 to 1071, a line each).
"""

from __future__ import annotations

import csv
import io
import json
import re
import struct
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
from typer.testing import CliRunner

from preview.approval import records
from preview.cli.app import app
from preview.editing import Desk, fields
from preview.errors import PreviewError
from preview.scene import load_scene

TAGS = '</script><img src=x onerror="hit=1"><!--]]>&lt;'
CODES = "%%c \\U+0041 ^J \\P{x;y} ${z} @@MODEL@@"
FORMULAS = ('=HYPERLINK("http://x.example")', "@SUM(1+1)", "+1+cmd", "-2+3")
NAMES = [TAGS, CODES, *FORMULAS]
VERBS = ("build", "shop")
runner = CliRunner()


def quoted(text: str) -> str:
    return json.dumps(text)


def scene_text() -> str:
    """A scene in which each name is one that would do something."""
    lines = [
        f"title = {quoted(TAGS)}",
        'units = "mm"',
        "[job]",
        f"client = {quoted(TAGS)}",
        f"number = {quoted(CODES)}",
    ]
    lines += [f"[profile.{quoted(TAGS)}]", 'library = "ogee-base"']
    lines += [f"[finish.{quoted(TAGS)}]", 'color = "#f1eee6"', f"[finish.{quoted(CODES)}]", 'color = "#b98d5a"']
    for name in NAMES:
        lines += [f"[member.{quoted(name)}]", f"profile = {quoted(TAGS)}", f"finish = {quoted(TAGS)}"]
    for number, name in enumerate(NAMES):
        lines += ["[[run]]", f"name = {quoted(name)}", f"members = [{quoted(name)}]", 'room = "right"']
        lines += [f"start = [0, {number * 2000}]", "steps = [{ straight = 400 }, { left = 90 }, { straight = 300 }]"]
    lines += ["[[option]]", f"choice = {quoted(TAGS)}", f"name = {quoted(CODES)}", f"says = {quoted(TAGS)}"]
    lines += ["[[option]]", f"choice = {quoted(TAGS)}", f"name = {quoted(TAGS)}"]
    lines += [f"changes = [{{ member = {quoted(TAGS)}, finish = {quoted(CODES)} }}]"]
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Everything that is written for such a scene, and all that was printed."""
    folder = tmp_path_factory.mktemp("hostile")
    scene = folder / "hostile.toml"
    scene.write_text(scene_text(), "utf-8")
    said = ""
    for args in (
        ["build", str(scene), "--no-solid", "--no-pictures", "--out", str(folder / "build")],
        ["shop", str(scene), "--out", str(folder / "shop")],
        ["export", str(scene), "-f", "dxf", "--out", str(folder / "dxf")],
    ):
        done = runner.invoke(app, args)
        assert done.exit_code in (0, 1), (done.stdout, done.exception)
        said += done.stdout
    return folder, said


class Tags(HTMLParser):
    """The tags of a document with their attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_the_page_has_no_tag_of_a_name(made: tuple[Path, str]) -> None:
    text = (made[0] / "build" / "hostile.html").read_text("utf-8")
    tags = Tags()
    tags.feed(text)
    names = [tag for tag, _ in tags.found]
    assert names.count("script") == 2
    assert "img" not in names
    assert not [name for _, attributes in tags.found for name in attributes if name.startswith("on")]
    assert text.count("onerror=") == text.count("onerror=&quot;") > 0
    policy = next(each["content"] or "" for tag, each in tags.found if each.get("http-equiv"))
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_drawings_are_text_and_lines(made: tuple[Path, str]) -> None:
    drawings = sorted(made[0].rglob("*.svg"))
    assert len(drawings) > 5
    known = {
        "svg",
        "g",
        "path",
        "text",
        "tspan",
        "title",
        "desc",
        "rect",
        "line",
        "circle",
        "defs",
        "clipPath",
        "style",
    }
    words = ""
    for file in drawings:
        root = ElementTree.parse(file).getroot()
        for element in root.iter():
            assert element.tag.rpartition("}")[2] in known, (file.name, element.tag)
            assert not [name for name in element.attrib if name.startswith("on") or name.endswith("href")]
        words += "".join(root.itertext())
    assert "onerror" in words


def test_no_cell_of_a_list_is_a_formula(made: tuple[Path, str]) -> None:
    lists = sorted(made[0].rglob("*.csv"))
    assert lists
    cells = [
        cell for file in lists for row in csv.reader(io.StringIO(file.read_text("utf-8"), newline="")) for cell in row
    ]
    assert not [cell for cell in cells if cell.lstrip(" ")[:1] in ("=", "+", "-", "@")]
    for name in FORMULAS:
        assert f"'{name}" in cells


def test_drawing_files_hold_no_code_of_a_name(made: tuple[Path, str]) -> None:
    files = sorted(made[0].rglob("*.dxf"))
    assert files
    for file in files:
        lines = file.read_text("utf-8").split("\n")
        assert not [line for line in lines if re.search(r"[\x00-\x08\x0b-\x1f\x7f]", line.rstrip("\r"))]
        for text in ezdxf.readfile(file).modelspace().query("TEXT MTEXT"):
            assert not re.search(r"%%c|\\U\+0041|\^J|\\P", text.dxf.get("text") or text.text)


def test_models_and_the_report_say_the_names_themselves(made: tuple[Path, str]) -> None:
    report = json.loads((made[0] / "build" / "report.json").read_text("utf-8"))
    assert {piece["run"] for piece in report["pieces"]} == set(NAMES)
    assert report["scene"]["title"] == TAGS
    for entry in report["files"]:
        assert re.fullmatch(r"[\w./-]+", entry["path"]), entry["path"]
        assert ".." not in entry["path"]
    assert b"<script" not in (made[0] / "build" / "hostile.pdf").read_bytes()


def test_the_terminal_is_told_nothing(made: tuple[Path, str]) -> None:
    assert "onerror" in made[1]
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", made[1])


ESCAPES = ("\\u001b[2J", "\\u009b31m", "\\u0007", "\\r", "\\u202E", "\\u2066", "\\u0000")
PLACES = (
    'title = "x{0}"\nunits = "mm"\n',
    'title = "x"\nunits = "mm{0}"\n',
    'title = "x"\nunits = "mm"\n["a{0}b"]\n',
    'title = "x"\nunits = "mm"\n[member."a{0}"]\nprofile = "n{0}"\n',
    'title = "x"\nunits = "mm"\n[profile.p]\nfile = "n{0}.toml"\n[member.a]\nprofile = "p"\n',
)


@pytest.mark.parametrize("escape", ESCAPES)
def test_a_mistake_is_told_without_what_a_terminal_obeys(escape: str, tmp_path: Path) -> None:
    for number, place in enumerate(PLACES):
        file = tmp_path / f"{number}.toml"
        file.write_text(place.replace("{0}", escape), "utf-8")
        with pytest.raises(PreviewError) as caught:
            load_scene(file)
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", str(caught.value)), place


@pytest.mark.parametrize("mark", ["\u202e", "\u2066", "\u202a", "\u0085", "\u2028"])
def test_no_name_turns_the_reading_round(mark: str, tmp_path: Path) -> None:
    """What a client signs must read as it is; letters of scripts that run from right to left need no such marks."""
    file = tmp_path / "seat.toml"
    text = scene_text().replace(f"title = {quoted(TAGS)}", f'title = "a{mark}b"')
    file.write_text(text, "utf-8")
    with pytest.raises(PreviewError, match="marks that do not print"):
        load_scene(file)
    file.write_text(text.replace(mark, "\u200f\u05e9\u05dc\u05d5\u05dd "), "utf-8")
    assert load_scene(file).title


def test_a_model_of_somebody_else_with_such_names(tmp_path: Path) -> None:
    """A GLB whose piece is called so: a tetrahedron, written here byte by byte (glTF 2.0, 4.4)."""
    name = "x\x1b[2J\u202e\x9b31my"
    points = struct.pack("<12f", 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1)
    corners = struct.pack("<12H", 0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3)
    document = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": name}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3", "min": [0, 0, 0], "max": [1, 1, 1]},
            {"bufferView": 1, "componentType": 5123, "count": 12, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(corners)},
        ],
        "buffers": [{"byteLength": len(points) + len(corners)}],
    }
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    body = points + corners
    whole = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(body), 0x004E4942) + body
    file = tmp_path / "theirs.glb"
    file.write_bytes(struct.pack("<4sII", b"glTF", 2, 12 + len(whole)) + whole)
    done = runner.invoke(app, ["check", str(file)])
    assert done.exit_code == 0, (done.stdout, done.stderr)
    assert "x\N{REPLACEMENT CHARACTER}[2J" in done.stdout
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e]", done.stdout)


def test_an_edit_reaches_no_other_file(tmp_path: Path) -> None:
    """What names a file is not offered, and nothing sent from a page leads to one: neither the id nor the value."""
    other = tmp_path / "other.toml"
    other.write_text("mine")
    profile = tmp_path / "edge.toml"
    profile.write_text('name = "Edge"\nunits = "mm"\nsketch = ["back 20", "top 10"]\n')
    text = scene_text().replace('library = "ogee-base"', 'library = "ogee-base"\n')
    scene = tmp_path / "scene.toml"
    scene.write_text(text, "utf-8")
    offered = fields(text, scene)
    assert offered
    assert not [each.id for each in offered if re.search(r"/(file|library|brand|logo|drawing|image)$", each.id)]
    desk = Desk(scene)
    for identity in ("/profile/x/file", "../other.toml", "/../other.toml", str(other), "file:///etc/passwd", "\0", ""):
        with pytest.raises(PreviewError):
            desk.edit(desk.version(), identity, "x")
    for each in offered[::8]:
        for value in (str(other), "\n[x]\n"):
            try:
                desk.edit(desk.version(), each.id, value)
            except PreviewError:
                continue
            assert load_scene(scene)  # taken as text in its own place
    assert other.read_text() == "mine"
    assert {path.name for path in tmp_path.iterdir()} == {"other.toml", "edge.toml", "scene.toml"}
    assert records(scene) == ()
