// How many fit in each month, as bars; the table has the same numbers.

import { getJson } from "./dom.js";
import { CONFIG, FONT, LEGEND } from "./plots.js";

async function start() {
  const view = await getJson("/api/months");
  const box = document.getElementById("fit");
  if (!box || !view.made.length) return;
  const x = view.made.map((month) => month.month);
  const edge = { color: "#22302f", width: 0.5 };
  const bars = (name, values, color, shape) => ({
    type: "bar", name, x, y: values, hovertemplate: "%{x}: %{y:.0f}<extra>%{fullData.name}</extra>",
    marker: { color, line: edge, pattern: { shape, fillmode: "overlay", fgcolor: "#22302f", fgopacity: 0.5, size: 6, solidity: 0.2 } },
  });
  const traces = [
    bars("in own hours", view.made.map((month) => month.in_own_hours), "#bcd9d5", ""),
    bars("more with overtime and work sent out", view.made.map((month) => Math.max(0, month.with_more - month.in_own_hours)), "#f6dc9b", "/"),
    {
      type: "scatter", mode: "markers", name: "wanted", x, y: view.made.map((month) => month.wanted), hovertemplate: "%{x}: %{y}<extra>wanted</extra>",
      marker: { symbol: "line-ew", size: Math.max(8, Math.min(40, (0.6 * box.clientWidth) / x.length)), line: { width: 3, color: "#a3300f" } },
    },
  ];
  window.Plotly.newPlot(box, traces, {
    barmode: "stack", bargap: 0.3, height: 340, font: FONT, margin: { l: 52, r: 8, t: 16, b: 84 }, dragmode: false,
    paper_bgcolor: "#fff", plot_bgcolor: "#fff", legend: LEGEND,
    xaxis: { type: "category", fixedrange: true, automargin: true }, yaxis: { title: { text: "pieces" }, fixedrange: true, rangemode: "tozero", gridcolor: "#e2ded3" },
  }, CONFIG);
  document.body.dataset.drawn = "yes";
}

start();
