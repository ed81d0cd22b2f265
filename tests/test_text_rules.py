"""Rules about the text of the project: what no file may hold, and what the README and the locks must."""

from __future__ import annotations

import hashlib
import json
import re
import shlex
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
LOCK = ROOT / "constraints.txt"
NPM_FOLDERS = ("preview/client/web", "tests/validator")
README = ROOT / "README.md"

# Made by tools, so not ours to judge.
MADE = {".git", ".venv", ".hypothesis", ".benchmarks", ".mypy_cache", ".pytest_cache", ".ruff_cache"}
MADE |= {"__pycache__", "node_modules"}
MADE_AT = {"out", "dist", "preview/client/static"}

ADDRESS = re.compile(r":/{2}")
HOST = re.compile(r"(?:[a-z0-9-]+\.)+[a-z]{2,}")
# SHA-256, first 16 digits, of the last two labels of package registries' hosts: this file names none either.
REGISTRIES = {
    "3ca29e55be4befa4",
    "51c6b9f69c48a75b",
    "75adac515f0bd3db",
    "8743857e3ea00fd1",
    "87d14f070cb96869",
    "8b5bb5eb9d758455",
    "9c6b05022d03bb05",
    "a4aa2ac280bb8d1a",
    "e2dd3580aeebec64",
}
# A home, a scratch folder or a drive: a path that holds on one machine only.
MACHINE_PATH = re.compile(r"(?<![\w.~<>)}-])(?:/(?:home|root|Users|work|tmp|mnt|media)/\w|[A-Z]:\\+Users)")


def texts() -> Iterator[tuple[str, str]]:
    """Each text file of the project, by its path from the root, with what it says."""
    for path in sorted(ROOT.rglob("*")):
        name = path.relative_to(ROOT).as_posix()
        made = MADE & set(name.split("/")) or any(f"{name}/".startswith(f"{folder}/") for folder in MADE_AT)
        if made or not path.is_file():
            continue
        data = path.read_bytes()
        if b"\0" not in data:
            yield name, data.decode("utf-8")


def registry_hosts(text: str) -> set[str]:
    hosts = {".".join(host.split(".")[-2:]) for host in HOST.findall(text.lower())}
    return {host for host in hosts if hashlib.sha256(host.encode()).hexdigest()[:16] in REGISTRIES}


def test_no_file_names_a_package_registry() -> None:
    found = {path: hosts for path, text in texts() if (hosts := registry_hosts(text))}
    assert not found


def test_no_file_holds_a_path_of_one_machine() -> None:
    found = [
        f"{path}, line {number}: {line.strip()}"
        for path, text in texts()
        for number, line in enumerate(text.splitlines(), start=1)
        if MACHINE_PATH.search(line)
    ]
    assert not found


def test_these_rules_would_notice() -> None:
    """Planted faults, put together here so that the file itself stays clean."""
    assert registry_hosts("see files." + "pythonhosted" + ".org/x") == {"pythonhosted" + ".org"}
    assert registry_hosts("HTTPS:" + "//Registry." + "npmjs" + ".org/") == {"npmjs" + ".org"}
    assert registry_hosts("preview.models.mesh and www.w3.org") == set()
    for path in ("/home" + "/ann/x", "'/root" + "/x'", "C:" + r"\Users", "file=/tmp" + "/a"):
        assert MACHINE_PATH.search(path), path
    for path in ("tests/tmp/x", "~/work/x", "./home/x", "#!/usr/bin/env bash", "mm/min"):
        assert not MACHINE_PATH.search(path), path
    assert {"pyproject.toml", "tests/test_text_rules.py", ".ci/run"} <= {path for path, _ in texts()}


# The locks.


def pins() -> list[tuple[Requirement, list[str]]]:
    """The requirements in constraints.txt, each with its hashes."""
    lines = [line for line in LOCK.read_text("utf-8").splitlines() if line and not line.startswith("#")]
    found = []
    for entry in "\n".join(lines).replace("\\\n", " ").split("\n"):
        requirement, *hashes = entry.split(" --hash=")
        found.append((Requirement(requirement), [each.strip() for each in hashes]))
    return found


def test_every_pin_is_exact_and_hashed() -> None:
    """pip checks hashes for the whole file as soon as one entry has them; here each entry has."""
    assert len(pins()) > 20
    for requirement, hashes in pins():
        assert re.fullmatch(r"==[\w.]+", str(requirement.specifier)), requirement
        assert requirement.url is None
        assert hashes, requirement
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", each) for each in hashes), requirement


def test_the_lock_names_no_place() -> None:
    text = LOCK.read_text("utf-8")
    assert not ADDRESS.search(text)
    options = [line for line in text.splitlines() if re.match(r"\s*-(?!-hash=)", line)]
    assert not options, options


def test_the_lock_satisfies_the_project() -> None:
    """Each dependency, extra and build requirement of pyproject.toml is pinned inside its own bounds."""
    table = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    project = table["project"]
    wanted = [*project["dependencies"], *table["build-system"]["requires"]]
    for extra in project["optional-dependencies"].values():
        wanted += extra
    for line in wanted:
        requirement = Requirement(line)
        if requirement.name == project["name"]:  # one extra asks for another
            continue
        pinned = [pin for pin, _ in pins() if canonicalize_name(pin.name) == canonicalize_name(requirement.name)]
        assert pinned, f"{requirement} is not in constraints.txt"
        for pin in pinned:
            assert requirement.specifier.contains(str(pin.specifier).removeprefix("=="), prereleases=True), pin


@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13", "3.14"])
def test_the_lock_pins_one_version_for_each_python(python: str) -> None:
    here = {"python_version": python, "python_full_version": f"{python}.0"}
    names = [canonicalize_name(pin.name) for pin, _ in pins() if not pin.marker or pin.marker.evaluate(here)]
    assert len(names) == len(set(names))
    assert {"cadquery", "numpy", "trimesh", "pytest", "hatchling"} <= set(names)


def npm_file(folder: str, name: str) -> dict[str, Any]:
    return json.loads((ROOT / folder / name).read_text("utf-8"))


def test_every_npm_package_is_looked_at() -> None:
    assert {path for path, _ in texts() if path.endswith("package.json")} == {f"{f}/package.json" for f in NPM_FOLDERS}


@pytest.mark.parametrize("folder", NPM_FOLDERS)
def test_npm_packages_ask_for_one_version_each(folder: str) -> None:
    asked = npm_file(folder, "package.json")
    root = npm_file(folder, "package-lock.json")["packages"][""]
    wanted = {**asked["dependencies"], **asked.get("devDependencies", {})}
    for name, version in wanted.items():
        assert re.fullmatch(r"\d+\.\d+\.\d+(?:-[\w.]+)?", version), name
    assert {**root["dependencies"], **root.get("devDependencies", {})} == wanted, "run npm install there"


@pytest.mark.parametrize("folder", NPM_FOLDERS)
def test_npm_locks_name_no_place(folder: str) -> None:
    assert not ADDRESS.search((ROOT / folder / "package-lock.json").read_text("utf-8"))
    packages = npm_file(folder, "package-lock.json")["packages"]
    brought = {name: entry for name, entry in packages.items() if name}
    wanted = npm_file(folder, "package.json")["dependencies"]
    assert brought.keys() >= {f"node_modules/{name}" for name in wanted}
    for name, entry in brought.items():
        assert "resolved" not in entry, name
        assert re.fullmatch(r"sha512-[A-Za-z0-9+/]{86}==", entry["integrity"]), name


@pytest.mark.parametrize("folder", NPM_FOLDERS)
def test_npm_is_told_to_write_such_locks_and_run_nothing(folder: str) -> None:
    told = (ROOT / folder / ".npmrc").read_text("utf-8").splitlines()
    assert {"omit-lockfile-registry-resolved=true", "ignore-scripts=true"} <= set(told)


# The README's two commands, which .ci/run takes from it word for word.


def readme_command(name: str) -> list[list[str]]:
    """The words of each step of the one `a && b && ...` chain in the block after the marker."""
    blocks = re.findall(rf"^<!-- {name} -->\n+```sh\n(.*?)^```$", README.read_text("utf-8"), re.M | re.S)
    assert len(blocks) == 1, f"README.md needs one sh block after <!-- {name} -->, and has {len(blocks)}"
    chain = re.sub(r"&&\s*\n|\\\n", lambda cut: cut[0].rstrip("\\\n") + " ", blocks[0].strip())
    assert "\n" not in chain, f"more than one command: {chain}"
    return [shlex.split(step) for step in chain.split("&&")]


@pytest.mark.parametrize("name", ["build-command", "test-command"])
def test_the_readme_sets_everything_up_with_one_command(name: str) -> None:
    steps = readme_command(name)
    assert steps[0] == ["python3", "-m", "venv", ".venv"]
    assert steps[1] == [".venv/bin/pip", "install", "--require-hashes", "-r", "constraints.txt"]
    assert all(step[0].startswith(".venv/bin/") for step in steps[1:]), "it uses a program outside its environment"


def test_the_build_command_builds_a_scene_that_ships() -> None:
    program, verb, scene, *_ = readme_command("build-command")[-1]
    assert (program, verb) == (".venv/bin/molding", "build")
    assert (ROOT / scene).is_file(), scene


def test_the_test_command_runs_the_tests() -> None:
    *_, validator, tests = readme_command("test-command")
    assert validator == [".venv/bin/npm", "ci", "--prefix", "tests/validator"]
    # All of them, a file at a time on each core: files share what their fixtures build.
    assert tests == [".venv/bin/python", "-m", "pytest", "-n", "auto", "--maxprocesses", "4", "--dist", "loadfile"]
