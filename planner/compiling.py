"""Compiled functions, and where their machine code is kept between runs.

numba keeps machine code by the file of the function and does not notice when another file changes whose functions
went into it. Here it is kept by a fingerprint of every source that is compiled and of all that those import, whose
constants go into it too, so that code of an older version is never run.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import numba
from numba import njit

HERE = Path(__file__).parent
A_DAY_SEC = 86_400
COMPILED = ("timetable/*.py", "search/*.py", "risk/*.py")  # where compiled functions are
IMPORTED = re.compile(rb"^from planner\.([\w.]+) import", re.MULTILINE)


def _sources() -> dict[str, bytes]:
    """What is compiled, and what that imports: text by file."""
    found: dict[str, bytes] = {}
    asked = [
        file for pattern in COMPILED for file in HERE.glob(pattern) if b"planner.compiling import" in file.read_bytes()
    ]
    while asked:
        file = asked.pop()
        name = file.relative_to(HERE).as_posix()
        if name not in found and file.is_file():
            found[name] = file.read_bytes()
            at = [HERE / module.decode().replace(".", "/") for module in IMPORTED.findall(found[name])]
            asked += [file for path in at for file in (path.with_suffix(".py"), path / "__init__.py")]
    return found


def _fingerprint() -> str:
    seen = hashlib.sha256(numba.__version__.encode())
    for name, text in sorted(_sources().items()):
        seen.update(name.encode() + b"\0" + text)
    return seen.hexdigest()[:16]


def _keep_machine_code(folder: Path, name: str) -> bool:
    """Keep it in ``folder / name`` and remove what older versions left there. False where that cannot be written."""
    try:
        (folder / name).mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    for old in folder.glob("compiled-*"):
        if old.name != name and time.time() - old.stat().st_mtime > A_DAY_SEC:  # a younger one may be in use
            shutil.rmtree(old, ignore_errors=True)
    numba.config.CACHE_DIR = str(folder / name)  # type: ignore[attr-defined]
    return True


_name = f"compiled-{_fingerprint()}"
_keep_machine_code(HERE / "__pycache__", _name) or _keep_machine_code(Path.home() / ".batchwright", _name)

allocating = njit(cache=True, nogil=True)
"""For compiled functions that make arrays. Other threads go on meanwhile, as with all that are called from outside."""

compiled: Callable = njit(cache=True, nogil=True, _nrt=False)  # type: ignore[call-overload]
"""For all others. Without reference counts: counting every array of Data and State up and down at each call took seven
times as long as the work itself. What is compiled so must not make arrays, slices of arrays included."""

inner: Callable = njit(cache=True, _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True)  # type: ignore[call-overload]
"""As ``compiled``, for what only other compiled functions call: quicker to compile."""
