"""`molding show` as a process of its own: it starts, serves its page to whoever has the token, and stops when told."""

from __future__ import annotations

import http.client
import json
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from queue import Queue
from threading import Thread

import pytest

ROOT = Path(__file__).parents[2]
SEAT = (ROOT / "scenes" / "window-seat.toml").read_text("utf-8").replace("../profiles", str(ROOT / "profiles"))
COMMAND = [sys.executable, "-u", "-c", "from preview.cli import main; main()", "show", "--no-browser"]
PATIENCE = 60
"""Seconds after which something that should come is given up; nothing is judged by it."""


class Show:
    """The command at work: where it can be reached, and how to ask it."""

    def __init__(self, scene: Path, *more: str) -> None:
        self.process = subprocess.Popen(
            [*COMMAND, str(scene), *more], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.said = ""
        assert self.process.stdout
        for line in self.process.stdout:
            self.said += line
            if found := re.search(r"//127\.0\.0\.1:(\d+)/\?token=(\S+)", line):
                self.port, self.token = int(found[1]), found[2]
                break
        else:
            pytest.fail(f"it did not say where it is: {self.said}")

    def get(self, path: str, token: str | None = None) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        connection.request("GET", path, headers={"X-Molding-Token": self.token if token is None else token})
        return connection.getresponse()

    def events(self) -> Queue[tuple[str, dict[str, object]]]:
        """What the page is told from now on, as it comes."""
        heard: Queue[tuple[str, dict[str, object]]] = Queue()
        response = self.get("/events")

        def listen() -> None:
            kind = ""
            try:
                while line := response.readline().decode():
                    if line.startswith("event:"):
                        kind = line.partition(":")[2].strip()
                    elif line.startswith("data:"):
                        heard.put((kind, json.loads(line.partition(":")[2])))
            except (OSError, ValueError, AttributeError):  # it was closed under us
                return

        Thread(target=listen, daemon=True).start()
        return heard

    def stop(self) -> int:
        self.process.send_signal(signal.SIGINT)
        code = self.process.wait(PATIENCE)
        assert self.process.stderr
        assert "Traceback" not in self.process.stderr.read()
        return code


def until(heard: Queue[tuple[str, dict[str, object]]], kind: str) -> dict[str, object]:
    """The next event of a kind; others are passed over."""
    while True:
        found, data = heard.get(timeout=PATIENCE)
        if found == kind:
            return data


@pytest.fixture
def scene(tmp_path: Path) -> Path:
    path = tmp_path / "seat.toml"
    path.write_text(SEAT, "utf-8")
    return path


@pytest.fixture
def show(scene: Path) -> Iterator[Show]:
    shown = Show(scene)
    yield shown
    if shown.process.poll() is None:
        shown.process.kill()
        shown.process.wait()


def test_it_serves_the_scene_and_follows_a_save(show: Show, scene: Path) -> None:
    assert show.get("/").status == 200
    assert show.get("/", token="no").status == 403
    heard = show.events()
    first = until(heard, "model")["version"]
    body = show.get(f"/model/{first}").read()
    document = json.loads(body[4 : 4 + int.from_bytes(body[:4], "little")])
    assert len(document["variants"]) == 8
    scene.write_text(SEAT.replace("{ straight = 14 }", "{ straight = 15 }"), "utf-8")
    while (second := until(heard, "model")["version"]) == first:
        pass
    body = show.get(f"/model/{second}").read()
    document = json.loads(body[4 : 4 + int.from_bytes(body[:4], "little")])
    assert {size["value"]["in"] for size in document["variants"][0]["pieces"][0]["dimensions"]} >= {'15"'}


def test_a_mistake_is_told_in_the_command_s_words_and_taken_back(show: Show, scene: Path) -> None:
    heard = show.events()
    version = until(heard, "model")["version"]
    scene.write_text(SEAT.replace("{ straight = 14 }", "{ strait = 14 }", 1), "utf-8")
    told = until(heard, "wrong")["text"]
    checked = subprocess.run(
        [*COMMAND[:4], "check", str(scene)], capture_output=True, text=True, check=False, timeout=PATIENCE
    )
    assert checked.returncode == 2
    assert told == checked.stderr.rstrip("\n")
    assert show.get(f"/model/{version}").status == 200  # the last good one stays
    scene.write_text(SEAT, "utf-8")
    assert until(heard, "model")["version"] == version


def test_the_keyboard_ends_it_with_a_page_open(show: Show) -> None:
    until(show.events(), "model")
    assert show.stop() == 0


def test_a_scene_with_a_mistake_is_shown_all_the_same(scene: Path) -> None:
    scene.write_text("title = 5\n", "utf-8")
    show = Show(scene)
    try:
        assert "title" in str(until(show.events(), "wrong")["text"])
        assert show.stop() == 0
    finally:
        show.process.kill()
        show.process.wait()


def test_what_cannot_be_served_ends_with_two(scene: Path, tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        for arguments, said in (
            ([str(tmp_path / "seats.toml")], "seat.toml"),
            ([str(scene), "--port", str(port)], str(port)),
            ([str(scene), "--port", "70000"], "70000"),
        ):
            done = subprocess.run([*COMMAND, *arguments], capture_output=True, text=True, check=False, timeout=PATIENCE)
            assert done.returncode == 2, arguments
            assert said in done.stderr
            assert "Traceback" not in done.stderr
