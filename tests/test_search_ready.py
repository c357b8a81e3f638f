"""What is compiled is compiled before the clock of a search starts."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from numba.core.dispatcher import Dispatcher

from planner.main_job import make_plan
from planner.search import get_ready

HERE = Path(__file__).parent


def made() -> set[tuple[str, str]]:
    """Module, function and types of all machine code that there is in this process."""
    return {
        (f"{f.py_func.__module__}.{f.py_func.__name__}", str(types))
        for name, module in list(sys.modules.items())
        if name.startswith("planner")
        for f in vars(module).values()
        if isinstance(f, Dispatcher)
        for types in f.signatures
    }


def made_late() -> list[str]:
    """Functions that are compiled only while plans are made: everything that the tiny shop and the sample shop need."""
    get_ready()
    before = made()
    tiny, sample = HERE / "data" / "tiny_shop", HERE.parent / "sample_shop"
    make_plan(sample, trials=50)
    make_plan(tiny, trials=50)
    make_plan(tiny, seconds=3.0)  # with a limit of time, and long enough for a second list search
    return sorted(function for function, _ in made() - before)


def test_no_code_is_made_while_the_clock_runs() -> None:
    """In a process of its own: here other tests may have had it made."""
    done = subprocess.run([sys.executable, __file__], capture_output=True, text=True, timeout=600, check=False)
    assert (done.stdout, done.stderr) == ("", "")


if __name__ == "__main__":
    print("\n".join(made_late()), end="")
