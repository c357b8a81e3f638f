"""How quickly the plan chart draws in a real Chromium, on a made-up shop.

Usage: python scripts/bench_page.py [--operations N] [--runs N] [--chromium PATH]
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from page_server import WIDE, browser, served, watched
from web_fixtures import made_plan, made_work

from web.app import create_app

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


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--operations", type=int, default=3000)
    ask.add_argument("--runs", type=int, default=3)
    ask.add_argument("--chromium", default=shutil.which("chromium"), help="the browser to use")
    given = ask.parse_args()
    if given.chromium is None:
        print("Skipped: no Chromium was found; name it with --chromium PATH.")
        return
    work = made_work(given.operations, max(15, given.operations // 100))
    plan = made_plan(work)
    with served(create_app(work, plan)) as base, browser(given.chromium) as found:
        runs = []
        for _ in range(given.runs):
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
    print(f"{len(plan.steps)} operations, medians of {given.runs} runs")
    for name, values in zip(names, zip(*runs, strict=True), strict=True):
        print(f"  {name:28} {statistics.median(values):10,.1f}")


if __name__ == "__main__":
    main()
