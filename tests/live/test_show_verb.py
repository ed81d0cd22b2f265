"""`molding show` with real scenes: from the file to what a page is told, and how the command begins and ends."""

from __future__ import annotations

import json
import os
import shutil
import signal
import socket
import struct
import subprocess
import sys
import urllib.error
import urllib.request
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from fake_job import PATIENCE, Client, by_rename, in_place, run, running
from preview import review
from preview.cli import serving
from preview.errors import PreviewError
from preview.scene import load_scene

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-c", "from preview.cli import main; main()", "show"]


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    """A copy of a shipped scene with the profiles that it uses."""
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles")
    (tmp_path / "scenes").mkdir()
    return Path(shutil.copy(ROOT / "scenes" / "window-seat.toml", tmp_path / "scenes"))


def refused(path: Path) -> str:
    with pytest.raises(PreviewError) as told:
        load_scene(path)
    return str(told.value)


async def document(client: Client, version: str) -> dict[str, Any]:
    """The JSON of a container: its length as a 32-bit number, the text, then the arrays."""
    status, payload = await client.get(f"/model/{version}")
    assert status == 200
    (length,) = struct.unpack("<I", payload[:4])
    found: dict[str, Any] = json.loads(payload[4 : 4 + length])
    return found


def lengths(told: dict[str, Any]) -> list[str]:
    return [size["value"]["in"] for piece in told["variants"][0]["pieces"] for size in piece["dimensions"]]


def test_a_save_is_built_and_measured(scene: Path) -> None:
    async def test() -> None:
        async with running(serving.SceneJob(scene), quiet=0.01) as client, client.events() as page:
            before = await document(client, (await page.until("model"))["version"])
            assert before["title"] == "Window seat between stone piers, reading room"
            by_rename(scene, scene.read_text("utf-8").replace('"3\' 6"', '"3\' 6 1/2"'))
            version = (await page.until("model"))["version"]
            after = await document(client, version)
            assert lengths(after) != lengths(before)
            figures = await page.until("figures", version=version)
            assert [each["picks"] for each in figures["variants"]] == [each["picks"] for each in after["variants"]]
            for told, measured in zip(after["variants"], figures["variants"], strict=True):
                assert told["digest"] == measured["digest"]
                assert told["holds"] is None
                assert measured["holds"] is True
                assert measured["checks"] > 20

    run(test())


def test_a_comment_is_no_new_model(scene: Path) -> None:
    async def test() -> None:
        async with running(serving.SceneJob(scene), quiet=0.01) as client, client.events() as page:
            await page.until("figures")
            version = json.loads((await client.get("/fields"))[1])["version"]
            while True:  # the events that are on their way
                in_place(scene, scene.read_text("utf-8") + "# measured twice\n")
                await page.until("fields")
                if json.loads((await client.get("/fields"))[1])["version"] != version:
                    break
            assert len(page.named("model")) == 1

    run(test())


def test_a_mistake_is_told_as_the_command_tells_it(scene: Path) -> None:
    async def test() -> None:
        good = scene.read_text("utf-8")
        by_rename(scene, good.replace("radius = 2 }", "radius = -2 }"))
        async with running(serving.SceneJob(scene), hold=0.01) as client, client.events() as page:
            told = (await page.until("wrong"))["text"]
            assert told == refused(scene)
            assert "radius = -2" in told
            by_rename(scene, good)
            await page.until("model")
            by_rename(scene, good.replace("[[run]]", "[[rum]]"))
            wrong = await page.until("wrong")
            assert wrong["text"] == refused(scene)
            by_rename(scene, "title = broken")
            wrong = await page.until("wrong")
            status, body = await client.get("/fields")
            assert status == 422
            assert json.loads(body)["text"] == wrong["text"] == refused(scene)

    run(test())


def test_a_missing_profile_is_waited_for(scene: Path) -> None:
    async def test() -> None:
        profile = scene.parent.parent / "profiles" / "cove-and-bead-base.toml"
        text = profile.read_text("utf-8")
        profile.unlink()
        async with running(serving.SceneJob(scene), hold=0.01) as client, client.events() as page:
            assert "cove-and-bead-base.toml" in (await page.until("wrong"))["text"]
            by_rename(profile, text)
            await page.until("model")
            by_rename(scene, scene.read_text("utf-8").replace("cove-and-bead-base", "ogee-base-cap"))
            await page.until("model")
            by_rename(scene, scene.read_text("utf-8").replace("ogee-base-cap", "made-later"))
            assert "made-later.toml" in (await page.until("wrong"))["text"]
            by_rename(profile.with_name("made-later.toml"), text)
            await page.until("model")
            by_rename(scene, scene.read_text("utf-8").replace("made-later", "ogee-base-cap"))
            await page.until("model")
            profile.with_name("ogee-base-cap.toml").unlink()
            assert "ogee-base-cap.toml" in (await page.until("wrong"))["text"]

    run(test())


def test_an_edit_of_the_page_is_in_the_file(scene: Path) -> None:
    async def test() -> None:
        async with running(serving.SceneJob(scene), quiet=0.01) as client, client.events() as page:
            await page.until("model")
            text = scene.read_text("utf-8")
            sheet = json.loads((await client.get("/fields"))[1])
            field = next(each for each in sheet["fields"] if each["kind"] == "length" and each["value"] == "14")
            status, told = await client.post("/edit", version=sheet["version"], id=field["id"], value="14 1/8")
            assert status == 200
            assert scene.read_text("utf-8") != text
            await page.until("model")
            status, conflict = await client.post("/edit", version=sheet["version"], id=field["id"], value="15")
            assert status == 409
            assert "changed elsewhere" in conflict["text"]
            status, back = await client.post("/undo", version=told["version"])
            assert (status, back["version"]) == (200, sheet["version"])
            assert scene.read_text("utf-8") == text
            status, refusal = await client.post("/edit", version=sheet["version"], id=field["id"], value="a foot")
            assert (status, scene.read_text("utf-8")) == (422, text)
            assert "a foot" in refusal["text"]

    run(test())


def test_what_has_not_changed_is_not_built_again(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[int] = []
    build = serving.every_shown
    monkeypatch.setattr(serving, "every_shown", lambda each: built.append(1) or build(each))  # type: ignore[func-returns-value]
    job = serving.SceneJob(scene)
    versions = {job.model().version for _ in range(5)}
    assert len(versions) == 1
    assert len(built) <= 2, "once more where it turns out which files there are"
    good = scene.read_text("utf-8")
    in_place(scene, "")
    for _ in range(2):
        with pytest.raises(PreviewError, match="the file is empty"):
            job.model()
    in_place(scene, good)
    assert {job.model().version} == versions


def test_checks_make_way_for_a_new_model(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job = serving.SceneJob(scene)
    assert job.figures() == {"version": ""}
    version = job.model().version
    inspected = review.inspected

    def outrun(*given: Any) -> Any:
        job.model()
        return inspected(*given)

    monkeypatch.setattr(review, "inspected", outrun)
    assert job.figures() == {"version": ""}
    monkeypatch.setattr(review, "inspected", inspected)
    assert job.figures()["version"] == version


def test_the_files_that_a_text_names(tmp_path: Path) -> None:
    in_place(tmp_path / "a.toml", 'file = "p/b.toml"\ndrawing = \'c.dxf\'\nx = "no file" "3\' 6.5" [[[')
    (tmp_path / "p").mkdir()
    in_place(tmp_path / "p" / "b.toml", 'drawing = "../d.svg"\nfile = "p.toml"')
    found = [path.resolve() for path in serving.named_files(tmp_path / "a.toml")]
    assert set(found) == {(tmp_path / name).resolve() for name in ("a.toml", "p/b.toml", "c.dxf", "d.svg", "p/p.toml")}
    assert found[0] == (tmp_path / "a.toml").resolve()
    assert serving.named_files(tmp_path / "gone.toml") == (tmp_path / "gone.toml",)
    assert serving.contents([tmp_path, tmp_path / "gone.toml"]) == (None, None)


# The command.


@contextmanager
def showing(*arguments: object) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The command at work, and the address that it printed."""
    command = [*COMMAND, *map(str, arguments), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout
            assert "Showing" in process.stdout.readline()
            yield process, process.stdout.readline().strip()
        finally:
            process.kill()


def ended(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [*COMMAND, *map(str, arguments), "--no-browser"]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=PATIENCE)


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C cannot be sent to one process there")
@pytest.mark.parametrize("text", [None, "broken ="])
def test_it_serves_until_it_is_stopped(scene: Path, text: str | None) -> None:
    """Also a scene that is broken from the start; Ctrl-C ends it, with a page listening, without a traceback."""
    if text is not None:
        in_place(scene, text)
    with showing(scene) as (process, address):
        with urllib.request.urlopen(address, timeout=PATIENCE) as answer:
            assert b"<html" in answer.read()
        with urllib.request.urlopen(address.replace("/?", "/events?"), timeout=PATIENCE) as events:
            expected = b"event: wrong\n" if text else b"event: model\n"
            assert next(line for line in events if line.startswith(b"event: ")) == expected
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=PATIENCE)
        assert (process.returncode, err) == (0, "")
        assert out.splitlines()[-1] == "stopped"


def test_a_port_of_ones_own(scene: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        result = ended(scene, "--port", port)
        assert (result.returncode, result.stdout) == (2, "")
        assert f"--port = {port}" in result.stderr
        assert "fix: give another number, or leave --port out" in result.stderr
        assert "Traceback" not in result.stderr
    with showing(scene, "--port", port) as (_, address):
        assert address.startswith(f"http://127.0.0.1:{port}/?token=")
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(address.partition("?")[0], timeout=PATIENCE)


@pytest.mark.parametrize("port", [-1, 80, 65_536, 10**30])
def test_a_port_that_is_none(scene: Path, port: int) -> None:
    result = ended(scene, "--port", port)
    assert (result.returncode, result.stdout) == (2, "")
    assert str(port) in result.stderr
    assert "Traceback" not in result.stderr


def test_a_scene_that_is_not_there(scene: Path) -> None:
    result = ended(scene.with_name("window-saet.toml"))
    assert (result.returncode, result.stdout) == (2, "")
    assert "there is no such scene file" in result.stderr
    assert "did you mean window-seat.toml?" in result.stderr
    assert ended(scene.parent).returncode == 2


class Browser:
    """Stands for a browser with a window."""

    def __init__(self) -> None:
        self.opened: list[str] = []

    def open(self, address: str) -> bool:
        self.opened.append(address)
        raise OSError("no display")


def test_a_browser_is_opened_if_there_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("BROWSER", raising=False)
    window = Browser()
    monkeypatch.setattr(webbrowser, "get", lambda: window)
    serving.open_page("a")
    assert window.opened == ["a"]

    def none() -> None:
        raise webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr(webbrowser, "get", none)
    serving.open_page("a")


def test_a_browser_in_the_terminal_is_left_alone_unless_it_is_asked_for(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    opened: list[str] = []
    terminal = webbrowser.GenericBrowser("none")
    monkeypatch.setattr(terminal, "open", opened.append)
    monkeypatch.setattr(webbrowser, "get", lambda: terminal)
    monkeypatch.delenv("BROWSER", raising=False)
    serving.open_page("a")
    assert opened == []
    monkeypatch.setenv("BROWSER", "none")
    serving.open_page("a")
    assert opened == ["a"]
