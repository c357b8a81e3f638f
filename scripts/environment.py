"""Makes and keeps the project's own environment; needs nothing but Python itself."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / "batchwright-installed.json"
OLDEST = (3, 11)


def inside() -> bool:
    """Does this Python belong to the project's environment?"""
    return Path(sys.prefix).resolve() == VENV.resolve()


def python() -> Path:
    """The environment's Python."""
    return VENV / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")


def ready(extra: str = "") -> Path:
    """Make the environment if there is none, install when ``pyproject.toml`` has changed; returns its Python.

    ``extra`` is a named set of further packages; what is installed already stays.
    """
    if sys.version_info < OLDEST:
        sys.exit(f"Python {OLDEST[0]}.{OLDEST[1]} or later is needed; this is {sys.version.split()[0]}.")
    wanted = {"project": _digest(), "extras": sorted({extra, *_extras()} - {""})}
    if python().exists() and _stamp() == wanted:
        return python()
    if not _has_pip():
        print("Making .venv ...", flush=True)
        _run([sys.executable, "-m", "venv", str(VENV)], "On Debian, 'apt install python3-venv' brings what is missing.")
    print("Installing (once; later starts skip this) ...", flush=True)
    what = f".[{','.join(wanted['extras'])}]" if wanted["extras"] else "."
    command = [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", what]
    _run(command, "Is there a way to the package index from here?")
    STAMP.write_text(json.dumps(wanted), encoding="utf-8")
    return python()


def hand_over(command: list[str]) -> int:
    """Run a command to its end; Ctrl-C is the command's to answer, which gets it as well."""
    child = subprocess.Popen(command)
    while True:
        try:
            return child.wait()
        except KeyboardInterrupt:
            continue


def _digest() -> str:
    """What the installation depends on: the project file and where the project is."""
    text = (ROOT / "pyproject.toml").read_bytes() + str(ROOT).encode()
    return hashlib.sha256(text).hexdigest()


def _stamp() -> dict[str, object]:
    try:
        return json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}


def _extras() -> list[str]:
    extras = _stamp().get("extras", [])
    return [str(name) for name in extras] if isinstance(extras, list) else []


def _has_pip() -> bool:
    if not python().exists():
        return False
    return subprocess.run([str(python()), "-m", "pip", "--version"], capture_output=True).returncode == 0


def _run(command: list[str], hint: str) -> None:
    if subprocess.run(command, cwd=ROOT).returncode != 0:
        sys.exit(f"That did not work. {hint}")
