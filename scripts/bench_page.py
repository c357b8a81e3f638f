"""How quickly the plan chart draws in a real Chromium, on a made-up shop; and how quickly pages answer while a plan runs.

Usage: python scripts/bench_page.py [--operations N] [--runs N] [--chromium PATH]
       python scripts/bench_page.py --planning [--seconds S] [--requests N]
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from page_server import WIDE, browser, served, watched
from web_fixtures import made_plan, made_work

from web.app import create_app

HERE = Path(__file__).resolve().parent.parent
FRAMES = """async () => {
  const plan = window.planChart, times = [];
  for (let i = 0; i < 60; i += 1) {
    const began = performance.now();
    plan.layout.pan(i < 30 ? 120 : -120);
    plan.paint();
    times.push(performance.now() - began);
    await new Promise((done) => requestAnimationFrame(done));
  }
  return times.sort((a, b) => a - b);
}"""
LOOKED_AT = ("/", "/today", "/booking?at=M1")


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--operations", type=int, default=3000)
    ask.add_argument("--runs", type=int, default=3)
    ask.add_argument("--chromium", default=shutil.which("chromium"), help="the browser to use")
    ask.add_argument("--planning", action="store_true", help="time pages of the sample shop while a plan runs instead")
    ask.add_argument("--seconds", type=float, default=20, help="how long that plan runs")
    ask.add_argument("--requests", type=int, default=30, help="of each page")
    given = ask.parse_args()
    if given.planning:
        while_planning(given.seconds, given.requests)
    elif given.chromium is None:
        print("Skipped: no Chromium was found; name it with --chromium PATH.")
    else:
        draw_charts(given.operations, given.runs, given.chromium)


def draw_charts(operations: int, times: int, chromium: str) -> None:
    work = made_work(operations, max(15, operations // 100))
    plan = made_plan(work)
    with served(create_app(work, plan)) as base, browser(chromium) as found:
        runs = []
        for _ in range(times):
            with watched(found, base, WIDE) as page:
                page.goto(f"{base}/plan")
                page.wait_for_function("() => window.planChart && window.planChart.drawnMs")
                drawn = page.evaluate(
                    "() => { const t = performance.now(); window.planChart.filter(); window.planChart.paint(); return performance.now() - t; }"
                )
                loaded = page.evaluate("() => window.planChart.drawnMs")
                size = page.evaluate(
                    "() => performance.getEntriesByType('resource').find(e => e.name.endsWith('/api/plan')).encodedBodySize"
                )
                frames = page.evaluate(FRAMES)
                runs.append((loaded, drawn, statistics.median(frames), frames[int(len(frames) * 0.95)], size))
    names = (
        "drawn after opening, ms",
        "filter and draw again, ms",
        "frame, ms",
        "slow frame (95 %), ms",
        "document, bytes",
    )
    print(f"{len(plan.steps)} operations, medians of {times} runs")
    for name, values in zip(names, zip(*runs, strict=True), strict=True):
        print(f"  {name:28} {statistics.median(values):10,.1f}")


# --- pages while a plan runs --------------------------------------------------------------------------


def while_planning(seconds: float, requests: int) -> None:
    """Serve the sample shop from a store, and ask for its pages, first with nothing else to do and then with a plan under way."""
    with tempfile.TemporaryDirectory() as folder:
        place = str(Path(folder) / "shop.db")
        command(["store", "sample_shop", place])
        command(["replan", place, "--trials", "2000", "--accept", "--json"])
        words = [sys.executable, "-m", "planner", "serve", place, "--port", "0"]
        with subprocess.Popen(words, cwd=HERE, stdout=subprocess.PIPE, text=True) as server:
            try:
                time_pages(address_of(server), seconds, requests)
            finally:
                server.terminate()


def command(words: list[str]) -> None:
    subprocess.run([sys.executable, "-m", "planner", *words], cwd=HERE, check=True, stdout=subprocess.DEVNULL)


def address_of(server: subprocess.Popen[str]) -> str:
    assert server.stdout is not None
    for line in server.stdout:
        if found := re.search(r"http://\S+?(?=/)", line):
            for _ in range(200):
                try:
                    urlopen(f"{found[0]}/static/site.css").close()
                    return found[0]
                except OSError:
                    time.sleep(0.1)
    raise SystemExit("The server did not start.")


def time_pages(base: str, seconds: float, requests: int) -> None:
    for path in LOOKED_AT:
        ask_for(base + path)
    time.sleep(10)  # what a fresh server works out beforehand
    print_times("with nothing else to do", base, requests, lambda: True)
    began = time.perf_counter()
    run = ask_for(f"{base}/api/replan", {"who": "bench", "seconds": seconds})["run"]
    while running(base, run) and not progress(base, run):
        time.sleep(0.02)
    print(f"the plan begins to search {time.perf_counter() - began:.1f} s after it was asked for")
    print_times(f"while a plan of {seconds:g} s runs", base, requests, lambda: running(base, run))
    while running(base, run):
        time.sleep(0.1)
    print(f"the plan is there {time.perf_counter() - began:.1f} s after it was asked for")


def print_times(when: str, base: str, requests: int, goes_on: Any) -> None:
    print(when)
    took: dict[str, list[float]] = {path: [] for path in LOOKED_AT}
    for _ in range(requests):
        for path, times in took.items():
            began = time.perf_counter()
            ask_for(base + path)
            if goes_on():
                times.append(1000 * (time.perf_counter() - began))
    for path, times in took.items():
        if times:
            print(
                f"  {path:16} {len(times):3} requests, median {statistics.median(times):7.0f} ms, worst {max(times):7.0f} ms"
            )


def running(base: str, run: int) -> bool:
    return ask_for(f"{base}/api/runs/{run}")["state"] == "running"


def progress(base: str, run: int) -> bool:
    return "share" in ask_for(f"{base}/api/runs/{run}")["progress"]


def ask_for(address: str, record: dict[str, Any] | None = None) -> Any:
    data = None if record is None else json.dumps(record).encode()
    with urlopen(Request(address, data, {"content-type": "application/json"})) as answer:
        text = answer.read()
    return json.loads(text) if "/api/" in address else text


if __name__ == "__main__":
    main()
