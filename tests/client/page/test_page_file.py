"""The page as one file: parsed by a parser of the standard library, its policy worked out again from its text."""

from __future__ import annotations

import base64
import gzip
import hashlib
import io
import os
import re
import subprocess
import sys
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from page_jobs import ROOT, SCENES, shipped, taken_apart
from PIL import Image

from preview.build import build
from preview.checks import Inspection, Meeting
from preview.cli.show import CAUTION as COMMAND_CAUTION
from preview.client import CAUTION, Shown, live_html, model_document, page_html
from preview.client.page import html
from preview.errors import PreviewError
from preview.scene import every_variant, parse_scene

STAND_IN = "(()=>{window.__preview={};})();\n"
VOID = {"meta", "img", "br", "link", "input", "hr"}
DRAWN = {"path", "circle"}
WICKED = '</script><img src=x onerror="alert(1)"><!-- \u2028 @@MODEL@@ &amp; ]]>'
"""Where a name may hold a slash; and where not."""
SLY = "<img src=x onerror=alert(1)><!-- @@TABLES@@ &lt; '\""


@dataclass
class Page(HTMLParser):
    """What a parser makes of a page: its tags with their attributes, and the text in scripts, styles and elsewhere."""

    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    script: dict[str, str] = field(default_factory=dict)
    text: str = ""
    comments: int = 0
    open_: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            name = dict(attrs).get("id") or tag
            self.open_.append(str(name) if tag == "script" else tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open_
        closed = self.open_.pop()
        assert closed == tag or tag == "script"

    def handle_data(self, data: str) -> None:
        where = self.open_[-1] if self.open_ else ""
        if where in ("script", "style", "model"):
            self.script[where] = self.script.get(where, "") + data
        else:
            self.text += data

    def handle_comment(self, data: str) -> None:
        self.comments += 1

    def meta(self, name: str) -> str | None:
        return next(
            (
                attrs.get("content")
                for tag, attrs in self.tags
                if tag == "meta" and name in (attrs.get("name"), attrs.get("http-equiv"))
            ),
            None,
        )


def parsed(content: bytes) -> Page:
    page = Page()
    page.feed(content.decode("utf-8"))
    page.close()
    assert not page.open_
    return page


def hashed(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode() + "'"


@pytest.fixture(autouse=True)
def stand_in(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A viewer that does nothing: the real one is built when the project is installed."""
    bundle = tmp_path / "viewer.js"
    bundle.write_text(STAND_IN, "utf-8", newline="\n")
    monkeypatch.setattr(html, "BUNDLE", bundle)


def picture(kind: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (64, 40), (200, 180, 160)).save(out, kind)
    return out.getvalue()


def shown_of(name: str) -> list[Shown]:
    scene = shipped(name).scene
    return [
        Shown(build(each.scene), each.picks, ("one piece is longer",) if any(each.picks) else ())
        for each in every_variant(scene)
    ]


def wicked() -> Shown:
    text = f"""
    title = "stands in"
    units = "mm"
    [profile.board]
    foot = 20
    face = [{{ fillet = 100 }}]
    [finish.'{SLY.replace("'", "")}']
    color = "#aabbcc"
    [member.'{SLY.replace("'", "")}']
    profile = "board"
    finish = '{SLY.replace("'", "")}'
    [[run]]
    name = '''{SLY}'''
    members = ['{SLY.replace("'", "")}']
    room = "right"
    steps = [{{ straight = 900 }}, {{ right = 90 }}, {{ straight = 800 }}]
    [[surrounding]]
    name = '''{SLY}'''
    kind = "floor"
    """
    built = build(parse_scene(text, Path("wicked<!-- .toml")))
    # The scene reader refuses marks that do not print; whoever makes a scene in another way may hand them over.
    built = replace(built, scene=replace(built.scene, title=WICKED))
    meetings = tuple(Meeting(0.0, None, None, missing=WICKED) for _ in built.joints)
    return Shown(built, (), (WICKED,), Inspection((), meetings, built.volumes), (WICKED,), WICKED)


@pytest.mark.parametrize("poster", [None, "PNG", "JPEG"])
@pytest.mark.parametrize("name", ["window-seat", "door-casing"])
def test_the_policy_allows_what_is_there_and_nothing_else(name: str, poster: str | None) -> None:
    shown = shown_of(name)
    page = parsed(page_html(shipped(name).scene, shown, picture(poster) if poster else None))
    assert page.meta("Content-Security-Policy") == (
        f"default-src 'none'; script-src {hashed(page.script['script'])}; style-src {hashed(page.script['style'])}; "
        "img-src data: blob:; connect-src blob:; base-uri 'none'; form-action 'none'"
    )
    assert page.script["script"] == STAND_IN
    assert page.tags[3][0] == "meta", "the policy stands before anything it is to hold for"
    assert page.meta("referrer") == "no-referrer"
    for tag, attributes in page.tags:
        assert "style" not in attributes
        assert not any(key.startswith("on") for key in attributes), tag
        for key in ("src", "href"):
            value = attributes.get(key)
            assert value is None or value.startswith(("data:image/", "#")), value
        assert attributes.get("src") is None or tag == "img"


def test_the_live_page_asks_its_own_server_only() -> None:
    page = parsed(live_html('to"ken<'))
    policy = page.meta("Content-Security-Policy")
    assert policy is not None
    assert "connect-src 'self' blob:;" in policy
    assert ("body", {"data-live": 'to"ken<'}) in page.tags
    assert "model" not in page.script
    assert "<table" not in live_html("x").decode()


def test_the_model_in_the_page_is_the_document() -> None:
    shown = [Shown(shipped("bay"))]
    scene = shown[0].built.scene
    page = parsed(page_html(scene, shown, None))
    packed = base64.b64decode(page.script["model"].strip(), validate=True)
    assert packed[4:8] == b"\0\0\0\0", "no time of day"
    assert gzip.decompress(packed) == model_document(scene, shown)


def test_hostile_names_are_shown_as_text() -> None:
    shown = wicked()
    content = page_html(shown.built.scene, [shown], None)
    page = parsed(content)
    assert page.comments == 0
    assert [tag for tag, _ in page.tags if tag == "script"] == ["script", "script"]
    assert not [tag for tag, _ in page.tags if tag == "img"]
    assert page.text.count(WICKED) >= 6  # title, heading, drawing, code, failure, what is missing at each joint
    assert SLY in page.text
    assert page.meta("Content-Security-Policy") is not None
    for tag in ("script", "style"):
        assert hashed(page.script[tag]) in str(page.meta("Content-Security-Policy"))
    packed = base64.b64decode(page.script["model"])
    document = taken_apart(gzip.decompress(packed)).document
    assert document["title"] == WICKED
    assert document["variants"][0]["failures"] == [WICKED]
    assert document["file"] == "wicked<!-- .toml"


def test_a_hostile_still_says_what_it_shows() -> None:
    shown = wicked()
    page = parsed(page_html(shown.built.scene, [shown], picture("PNG")))
    ((_, image),) = [each for each in page.tags if each[0] == "img"]
    assert WICKED in str(image["alt"])
    assert set(image) == {"src", "alt", "width", "height"}


@pytest.mark.parametrize(("kind", "word"), [("PNG", "png"), ("JPEG", "jpeg")])
def test_the_still_keeps_its_shape(kind: str, word: str) -> None:
    shown = [Shown(shipped("bay"))]
    page = parsed(page_html(shown[0].built.scene, shown, picture(kind)))
    ((_, image),) = [each for each in page.tags if each[0] == "img"]
    assert (image["width"], image["height"]) == ("64", "40")
    head, _, data = str(image["src"]).partition(",")
    assert head == f"data:image/{word};base64"
    assert base64.b64decode(data) == picture(kind)
    assert "Chair rail round a bay" in str(image["alt"])
    assert "outside corner" in str(image["alt"])


@pytest.mark.parametrize("poster", [b"", b"GIF89a", b"\xff\xd8\xff", b"<svg/>", b"\x89PNG\r\n\x1a\n"])
def test_a_still_of_another_kind_is_refused(poster: bytes) -> None:
    shown = [Shown(shipped("bay"))]
    with pytest.raises(PreviewError, match="JPEG or a PNG"):
        page_html(shown[0].built.scene, shown, poster)


def test_a_missing_viewer_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(html, "BUNDLE", tmp_path / "gone.js")
    with pytest.raises(PreviewError, match="install the project again"):
        live_html("x")


def test_a_viewer_that_would_end_its_own_block_is_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "bad.js").write_text('"</SCRIPT>"')
    monkeypatch.setattr(html, "BUNDLE", tmp_path / "bad.js")
    with pytest.raises(PreviewError, match="end its block"):
        live_html("x")


def test_the_same_scene_gives_the_same_bytes_in_any_process(tmp_path: Path) -> None:
    code = (
        "import hashlib, sys\n"
        "from pathlib import Path\n"
        "from preview.build import build\n"
        "from preview.client import Shown, page_html\n"
        "from preview.client.page import html\n"
        "from preview.scene import every_variant, load_scene\n"
        f"html.BUNDLE = Path({str(html.BUNDLE)!r})\n"
        "scene = load_scene(Path('scenes/window-seat.toml'))\n"
        "shown = [Shown(build(each.scene), each.picks) for each in every_variant(scene)]\n"
        "print(hashlib.sha256(page_html(scene, shown, None)).hexdigest())\n"
    )
    found = set()
    for seed in ("0", "1"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        )
        found.add(done.stdout.strip())
    assert len(found) == 1
    assert re.fullmatch(r"[0-9a-f]{64}", found.pop())


def test_every_shipped_scene_is_small_enough() -> None:
    """Beside the viewer and a still, of about 175 and 60 kB: under 1 MB in all, with every option."""
    for path in SCENES:
        shown = shown_of(path.stem)
        content = page_html(shipped(path.stem).scene, shown, None)
        assert len(gzip.compress(content, 6)) < 600_000, path.stem


def test_the_words_hold_all_that_the_picture_does() -> None:
    shown, scene = shown_of("window-seat"), shipped("window-seat").scene
    assert len(scene.choices) == 3
    page = parsed(page_html(scene, shown, None))
    for piece in shown[0].built.pieces:
        assert piece.name in page.text
    for each in shown:
        assert each.built.digest in page.text
    for choice in scene.choices:
        for alternative in choice.alternatives:
            assert alternative.name in page.text
            assert alternative.says in page.text
    assert "one piece is longer" in page.text
    assert '18" (457.2 mm)' in page.text
    assert 'radius 2" (50.8 mm), 90°' in page.text
    assert "#f1eee6" in page.text
    assert CAUTION in page.text
    tables = [tag for tag, _ in page.tags if tag == "table"]
    captions = [tag for tag, _ in page.tags if tag == "caption"]
    assert len(tables) == len(captions) == 5
    heads = [attrs["scope"] for tag, attrs in page.tags if tag == "th"]
    assert set(heads) == {"col", "row"}


def test_the_caution_is_the_command_s() -> None:
    assert CAUTION == COMMAND_CAUTION


def test_a_long_job_says_how_much_more_there_is() -> None:
    steps = ", ".join(["{ straight = 300 }, { right = 90 }, { straight = 100 }, { left = 90 }"] * 60)
    text = f"""
    title = "Long"
    units = "mm"
    [profile.board]
    foot = 20
    face = [{{ fillet = 100 }}]
    [member.board]
    profile = "board"
    [[run]]
    name = "long"
    members = ["board"]
    steps = [{steps}, {{ straight = 300 }}]
    """
    built = build(parse_scene(text, Path("long.toml")))
    assert len(built.pieces) == 121
    page = parsed(page_html(built.scene, [Shown(built)], None))
    assert "more; the model shows them all" not in page.text
    longer = build(parse_scene(text.replace(steps, steps + ", " + steps), Path("long.toml")))
    page = parsed(page_html(longer.scene, [Shown(longer)], None))
    assert "and 41 pieces more; the model shows them all" in page.text
    assert "and 40 joints more; the model shows them all" in page.text
    assert "long / board / 200 straight" in page.text
    assert "long / board / 201 straight" not in page.text


@pytest.mark.parametrize("name", [path.stem for path in SCENES])
def test_a_plan_stands_in_for_a_still(name: str) -> None:
    """Inside its frame, with one outline for each piece and one line for each wall, and no styles of its own."""
    shown = [Shown(shipped(name))]
    page = parsed(page_html(shown[0].built.scene, shown, None))
    ((_, drawing),) = [each for each in page.tags if each[0] == "svg"]
    assert drawing["role"] == "img"
    _, _, wide, high = (float(part) for part in str(drawing["viewbox"]).split())
    paths = [attrs for tag, attrs in page.tags if tag == "path"]
    assert sum(attrs["class"] == "plan-piece" for attrs in paths) == len(shown[0].built.pieces)
    assert sum(attrs["class"] == "plan-wall" for attrs in paths) == len(shown[0].built.scene.runs)
    for attrs in paths:
        numbers = [float(each) for each in re.findall(r"-?[\d.]+", str(attrs["d"]))]
        assert all(0 <= x <= wide for x in numbers[::2])
        assert all(0 <= y <= high for y in numbers[1::2])
    corners = [view for view in document_views(shown) if view["kind"] == "corner"]
    circles = [attrs for tag, attrs in page.tags if tag == "circle"]
    assert len(circles) == len(corners)
    at = [(float(str(attrs["cx"])), float(str(attrs["cy"]))) for attrs in circles]
    assert len({(round(x), round(y)) for x, y in at}) == len(at)


def document_views(shown: list[Shown]) -> list[dict]:
    return taken_apart(model_document(shown[0].built.scene, shown)).document["variants"][0]["views"]
