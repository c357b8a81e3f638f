"""The scripts' environment is made once, kept, and made anew only when the project's needs change."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPTS = Path(__file__).parent.parent / "scripts"


@pytest.fixture
def environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The module, working on an empty project folder."""
    spec = importlib.util.spec_from_file_location("environment_under_test", SCRIPTS / "environment.py")
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    (tmp_path / "pyproject.toml").write_text("one", "utf-8")
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "stamp.json")
    return module


@pytest.fixture
def commands(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What is run, besides asking for pip's version; making the environment puts a Python there."""
    found: list[list[str]] = []

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess:
        if command[-1] != "--version":
            found.append(command)
        if "venv" in command:
            environment.python().parent.mkdir(parents=True)
            environment.python().touch()
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(environment.subprocess, "run", run)
    return found


def what(commands: list[list[str]]) -> list[str]:
    """'venv', or what pip installs; the list is emptied."""
    words = ["venv" if "venv" in command else command[-1] for command in commands]
    commands.clear()
    return words


def test_a_second_start_installs_nothing(environment: ModuleType, commands: list[list[str]]) -> None:
    environment.ready()
    assert what(commands) == ["venv", "."]
    environment.ready()
    assert what(commands) == []


def test_a_changed_project_file_is_installed_again(environment: ModuleType, commands: list[list[str]]) -> None:
    environment.ready()
    what(commands)
    (environment.ROOT / "pyproject.toml").write_text("two", "utf-8")
    environment.ready()
    assert what(commands) == ["."]


def test_further_packages_come_once_and_stay(environment: ModuleType, commands: list[list[str]]) -> None:
    environment.ready()
    what(commands)
    environment.ready("test")
    assert what(commands) == [".[test]"]
    environment.ready()
    environment.ready("test")
    assert what(commands) == []


def test_a_failed_installation_is_tried_again(
    environment: ModuleType, commands: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    environment.ready()
    (environment.ROOT / "pyproject.toml").write_text("two", "utf-8")
    works = environment.subprocess.run
    monkeypatch.setattr(
        environment.subprocess, "run", lambda c, **_: subprocess.CompletedProcess(c, c[-1] != "--version")
    )
    with pytest.raises(SystemExit, match="package index"):
        environment.ready()
    monkeypatch.setattr(environment.subprocess, "run", works)
    what(commands)
    environment.ready()
    assert what(commands) == ["."]


def test_an_older_python_is_told_so(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(environment.sys, "version_info", (3, 10, 9))
    with pytest.raises(SystemExit, match=r"3\.11 or later"):
        environment.ready()


def test_the_exit_code_is_handed_over(environment: ModuleType) -> None:
    assert environment.hand_over([sys.executable, "-c", "raise SystemExit(3)"]) == 3
