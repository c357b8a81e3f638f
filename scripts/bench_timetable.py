"""How quickly a list is timed.

Usage: python scripts/bench_timetable.py [--shop FOLDER] [--times N]

Times a first plan's list of the shop (the sample shop unless told): in full, from the middle, from the last place; then
trials of the list search. Also says how long it took to get ready, and the memory used.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from memory import memory_mb

from planner.main_job import read_work
from planner.search import get_ready
from planner.search.climb import Climber
from planner.search.dispatch import RULES, dispatch
from planner.timetable import Timetable

SAMPLE = Path(__file__).resolve().parent.parent / "sample_shop"


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--shop", type=Path, default=SAMPLE)
    ask.add_argument("--times", type=int, default=200)
    given = ask.parse_args()
    began = time.perf_counter()
    get_ready()
    print(f"ready after {time.perf_counter() - began:.1f} s")
    _, work = read_work(given.shop)
    table = Timetable(work)
    sequence = dispatch(table, RULES[0])
    choice = table.choice.copy()
    table.reset()
    climber = Climber(table, sequence, choice, 1)
    sequence, choice = climber.sequence, climber.choice
    for name, k in (("all", 0), ("the second half", len(sequence) // 2), ("the last", len(sequence) - 1)):
        began = time.perf_counter()
        for _ in range(given.times):
            table.retime(sequence, choice, k)
        each = (time.perf_counter() - began) / given.times
        print(f"timing {name:16} of {len(sequence):6,} operations {each * 1e3:8.3f} ms, {1 / each:10,.0f} a second")
    began = time.perf_counter()
    climber.run(20 * given.times)
    print(f"list search {20 * given.times / (time.perf_counter() - began):10,.0f} trials a second")
    used = memory_mb()
    print(f"memory {used:,.0f} MB" if used is not None else "memory: the system does not tell")


if __name__ == "__main__":
    main()
