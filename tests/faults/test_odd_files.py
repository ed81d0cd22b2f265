"""Odd names, odd bytes, changing files, a clock that is wrong, a broken font; two builds at once."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import unicodedata
from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner

from preview import jobs
from preview.approval import Answer, add_record, keep, records, short_code
from preview.cli.app import app
from preview.errors import PreviewError
from preview.exports import staged, write_file
from preview.paper import font_file, lettering
from preview.review import checked, every_shown
from preview.scene import load_scene
from test_kills import AFTER, BEFORE, left, standing

posix = pytest.mark.skipif(sys.platform == "win32", reason="names that Windows does not have")
runner = CliRunner()
FAST = ("export", "-f", "glb")


def ran(*args: str) -> tuple[int, str, str]:
    """The command in this process: its exit code and what it printed; a fault of the program fails the test."""
    done = runner.invoke(app, list(args))
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.stdout, done.stderr


def refused(*args: str) -> str:
    """What is said of a mistake."""
    code, _, said = ran(*args)
    assert code == 2, said
    assert "\n  fix: " in said
    return said


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scene") / "shelf.toml"
    path.write_text(BEFORE)
    return path


# Names.

NAMES = {
    "blanks and quotes": 'a "shelf\'s" edge',
    "composed": unicodedata.normalize("NFC", "caf\u00e9"),
    "decomposed": unicodedata.normalize("NFD", "caf\u00e9"),
    "a dash first": "-f",
    "a line break": "two\nlines",
    "an escape and a turn": "x\x1b[2J\u202ey",
    "as long as may be": "x" * 250,
    "signs of a shell and an address": "$(a)`b`;c&d|e%41#f?g",
}


@posix
@pytest.mark.parametrize("what", NAMES)
def test_a_scene_may_be_called_anything(what: str, tmp_path: Path) -> None:
    name = NAMES[what]
    file, out = tmp_path / f"{name}.toml", tmp_path / name
    file.write_text(BEFORE)
    kind = "glb" if len(name) > 200 else "gltf"  # of which each has files with longer names beside it
    code, said, _ = ran("export", "-f", kind, "--out", str(out), "--", str(file))
    assert code == 0, said
    assert (out / "models" / f"{name}.{kind}").is_file()
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert report["scene"]["file"] == file.name
    assert {entry["path"] for entry in report["files"]} == standing(out).keys() - {"report.json"}
    assert not set(said) & {"\x1b", "\u202e"}
    assert left(out) == []


@posix
def test_names_that_are_too_long(tmp_path: Path, scene: Path) -> None:
    """NAME_MAX is 255 bytes and PATH_MAX 4096 on Linux (limits.h); a scene's papers have longer names than it."""
    for args in (
        ("check", f"{'x' * 300}.toml"),
        ("new", f"{'x' * 300}.toml"),
        ("check", f"{'d/' * 3000}s.toml"),
        (*FAST, str(scene), "--out", str(tmp_path / ("x" * 300))),
        (*FAST, str(scene), "--out", "d/" * 3000),
    ):
        assert "too long" in (said := refused(*args)) or "longer than this disk allows" in said
    long = tmp_path / f"{'x' * 250}.toml"
    long.write_text(BEFORE)
    out = tmp_path / "out"
    said = refused("shop", str(long), "--out", str(out))
    assert said.startswith(f"{out}/x")
    assert "the name is longer than this disk allows" in said
    assert not out.exists()
    assert list(tmp_path.iterdir()) == [long]


@posix
@pytest.mark.skipif(sys.platform == "darwin", reason="a disk there takes UTF-8 only")
def test_a_name_that_is_no_text(tmp_path: Path, scene: Path) -> None:
    file = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff.toml"))
    file.write_text(BEFORE)
    said = refused("check", str(file))
    assert "the file's name holds bytes that are not UTF-8 text" in said
    assert r"\udcff.toml" in said
    code, said, _ = ran(*FAST, str(scene), "--out", os.fsdecode(os.fsencode(tmp_path) + b"/out\xff"))
    assert code == 0
    assert "out[U+DCFF]/report.json" in said


# What is in the file.


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (BEFORE.encode("utf-16"), ""),
        (BEFORE.replace("Shelf", "\u00c9tag\u00e8re").encode("latin-1"), ": line 2 holds other bytes"),
        (BEFORE.encode() + b"\xed\xa0\x80", f": line {BEFORE.count(chr(10)) + 1} holds other bytes"),
    ],
    ids=["UTF-16", "Latin-1", "half of a character"],
)
def test_a_scene_that_is_not_utf_8(data: bytes, line: str, tmp_path: Path) -> None:
    file = tmp_path / "shelf.toml"
    file.write_bytes(data)
    assert f"the file is not UTF-8 text{line}" in refused("check", str(file))


def test_line_ends_and_a_mark_change_nothing(tmp_path: Path) -> None:
    digests = set()
    for number, data in enumerate((BEFORE, BEFORE.replace("\n", "\r\n"), "\ufeff" + BEFORE.replace("\n", "\r\n"))):
        file = tmp_path / f"{number}.toml"
        file.write_bytes(data.encode())
        digests.add(jobs.check_scene(load_scene(file), solids=False, progress=lambda *_: None).report.built.digest)
    assert len(digests) == 1


@pytest.mark.parametrize("then", [AFTER, "no = scene", None], ids=["another", "broken", "gone"])
def test_a_scene_that_changes_while_it_is_built(then: str | None, tmp_path: Path) -> None:
    """What is reported is of what was read, whatever the file has become since."""
    file, out = tmp_path / "shelf.toml", tmp_path / "out"
    file.write_text(BEFORE)
    loaded = load_scene(file)
    told = jobs.check_scene(loaded, solids=False, progress=lambda *_: None).report.built.digest
    if then is None:
        file.unlink()
    else:
        file.write_text(then)
    jobs.build_scene(loaded, out, jobs.Wanted(("glb",), solids=False, second_reader=False), lambda *_: None)
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert report["digest"] == told
    assert report["pieces"][0]["name"].startswith("front / ")
    assert [piece for piece in report["pieces"] if piece["run"] == "side"] == []


SHOP = """
[shop]
kerf = 0.125
trim = 2
rounding = 0.0625
sticks = [192, "12'"]
turning = { clean = 0.0625 }
"""


def test_a_wrong_unit_is_told_once(tmp_path: Path) -> None:
    """How large a bare number is, nobody knows then: what is too large or small in millimeters may be right."""
    file = tmp_path / "shelf.toml"
    file.write_text(BEFORE.replace('"mm"', '"inn"') + SHOP)
    said = refused("check", str(file))
    assert said.startswith('shelf.toml: units = "inn"\n')
    assert said.count("  fix: ") == 1
    file.write_text(BEFORE + SHOP)
    assert "a saw blade takes 0.2 mm to 13 mm, and this is 0.1 mm" in refused("check", str(file))


def test_what_cannot_be_measured_has_no_figure(tmp_path: Path) -> None:
    file = tmp_path / "shelf.toml"
    lonely = BEFORE.replace('name = "front"', 'name = "front"\nbegin = "butt"')
    file.write_text(lonely + '[[option]]\nname = "longer"\nchanges = [{ run = "back", step = 1, straight = 500 }]\n')
    told = [checked(each, lambda *_: None).failures for each in every_shown(load_scene(file))]
    assert told == [("front / edge / begin: nothing stands there",)] * 2
    code, said, _ = ran("check", str(file))
    assert code == 1
    assert said.count("nothing stands there") == 2  # of the scene as drawn, and of its option
    assert "inf" not in said.split()


# The clock, and other processes.


def test_a_clock_that_goes_backwards(tmp_path: Path, scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """To 1970 and before: no file comes out otherwise, and what is there is not taken for newer."""
    folders = [tmp_path / "now", tmp_path / "then"]
    args = ("export", str(scene), "-f", "glb", "-f", "3mf", "-f", "obj")
    assert ran(*args, "--out", str(folders[0]))[0] == 0
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() - 2e9)
    for _ in range(2):
        assert ran(*args, "--out", str(folders[1]))[0] == 0
    assert standing(folders[0]) == standing(folders[1])


def test_a_clock_that_goes_backwards_between_answers(tmp_path: Path, scene: Path) -> None:
    """Records stand in the order in which they were made, whatever days they bear; two may bear the same."""
    copy = tmp_path / scene.name
    copy.write_bytes(scene.read_bytes())
    digest = "0" * 64
    days = ["2031-01-01", "2026-11-30", "2026-11-30", "1999-12-31"]
    for number, day in enumerate(days):
        answer = Answer(digest, short_code(digest), (), "yes", f"Client {number}", "", (), day, "Shelf", scene.name)
        assert add_record(copy, answer, (), keep(copy, [copy]), today=date.fromisoformat(day))[1]
    assert [record.recorded for record in records(copy)] == days
    assert jobs.last_approval(copy).answer.client == "Client 3"


ONE_OF_TWO = """
import sys
from pathlib import Path
from preview.exports import staged, write_files
out, word, rounds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for number in range(rounds):
    with staged(out) as stage:
        names = [*(f"models/{k}.txt" for k in range(12)), f"{word}.txt"]
        write_files((stage.folder / name, word.encode()) for name in names)
        listed = ", ".join('{"path": "%s"}' % name for name in names)
        text = '{"program": {"name": "molding-preview"}, "scene": {"file": "a.toml"}, "by": "%s", "files": [%s]}'
        write_files([(stage.folder / "report.json", (text % (word, listed)).encode())])
        stage.publish("a.toml")
"""


def test_builds_at_once_into_one_folder(tmp_path: Path) -> None:
    """The folder is always of one of them, whole: also at every moment at which nobody is moving files."""
    out = tmp_path / "out"
    command = [sys.executable, "-c", ONE_OF_TWO, str(out)]
    running = [subprocess.Popen([*command, word, "15"], stderr=subprocess.PIPE) for word in ("one", "other")]
    for process in running:
        _, said = process.communicate(timeout=120)
        assert process.returncode == 0, said
    found = standing(out)
    by = json.loads(found.pop("report.json"))["by"]
    assert set(found.values()) == {by.encode()}
    assert found.keys() == {*(f"models/{k}.txt" for k in range(12)), f"{by}.txt"}
    assert left(out) == []


def test_a_live_build_is_left_alone(tmp_path: Path) -> None:
    with staged(tmp_path) as first:
        write_file(first.folder / "models" / "first.glb", b"first")
        with staged(tmp_path) as second:
            write_file(second.folder / "models" / "second.glb", b"second")
            second.publish()
        first.publish()
    assert standing(tmp_path) == {"models/first.glb": b"first", "models/second.glb": b"second"}
    assert left(tmp_path) == []


def test_a_disk_without_locks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    (tmp_path / ".molding-abcdefgh").mkdir()  # perhaps somebody is at work in it: it cannot be known
    monkeypatch.setattr(pytest.importorskip("fcntl"), "flock", refuse)
    with staged(tmp_path) as stage:
        write_file(stage.folder / "model.glb", b"whole")
        stage.publish()
    assert standing(tmp_path) == {"model.glb": b"whole"}
    assert left(tmp_path) == [".molding-abcdefgh"]


# What the program needs.


@pytest.mark.parametrize("damage", ["empty", "text", "cut short", "one byte", "gone"])
def test_a_broken_font(damage: str, tmp_path: Path, scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = font_file(False).read_bytes()
    package = tmp_path / "fonts" / "font_source_sans_pro"
    (package / "files").mkdir(parents=True)
    (package / "__init__.py").touch()
    middle = len(whole) // 2
    damaged = {
        "empty": b"",
        "text": b"<html>not found</html>\n" * 100,
        "cut short": whole[:middle],
        "one byte": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
    }
    for name in ("Regular", "Semibold"):
        if damage in damaged:
            (package / "files" / f"SourceSansPro-{name}.ttf").write_bytes(damaged[damage])
    monkeypatch.syspath_prepend(str(package.parent))
    monkeypatch.delitem(sys.modules, "font_source_sans_pro", raising=False)
    lettering._font.cache_clear()
    out = tmp_path / "sheet.pdf"
    try:
        said = refused("sheet", str(scene), "--no-pictures", "--out", str(out))
    finally:
        lettering._font.cache_clear()
    assert "the type that text is set from cannot be read" in said
    assert "font-source-sans-pro" in said
    assert not out.exists()


def test_output_that_cannot_show_a_sign(scene: Path) -> None:
    env = {**os.environ, "PYTHONIOENCODING": "ascii"}
    command = [sys.executable, "-c", "from preview.cli import main; main()", "check", str(scene)]
    done = subprocess.run(command, capture_output=True, env=env, check=False)
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr


def test_the_message_says_which_place(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("in the way")
    with pytest.raises(PreviewError, match="is a file, not a folder"), staged(tmp_path / "out"):
        pass
