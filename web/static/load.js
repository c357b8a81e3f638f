// Load graphs: every machine by week, and one machine's hours against what there is. Numbers come as they are from
// the same document that is served as JSON; nothing is sent anywhere.

import { getJson } from "./dom.js";

const CONFIG = { displaylogo: false, showSendToCloud: false, displayModeBar: false, responsive: true };
const FONT = { family: "system-ui, 'Segoe UI', Roboto, 'Noto Sans', sans-serif", color: "#22302f", size: 13 };
const SCALE = [[0, "#f6f3ea"], [0.6, "#a9cfc9"], [0.8, "#7fb8b1"], [0.801, "#f4b860"], [0.889, "#ef9d3c"], [0.89, "#c8502a"], [1, "#a3300f"]];
const TOP = 112.5; // per cent at the end of the scale: 90 is at 0.8, 100 at 0.889
const RUN = ["#f0b9a6", "#f6dc9b", "#bcd9d5", "#c9c8ea", "#d5e3b5", "#e4e2dc"];
const PATTERN = ["", "\\", "x", ".", "-", "+"];

const hours = (minutes) => minutes / 60;
const shortWeek = (week) => week.slice(5);

function cellText(cell) {
  if (cell.percent === null) return "shut";
  const number = cell.percent.toFixed(0);
  if (cell.percent > 100) return `<b>! ${number}</b>`;
  return cell.percent >= 90 ? `▲ ${number}` : number;
}

function inkOn(percent) {
  return percent > 100 ? "#fff" : "#22302f";
}

function drawHeat(view, choose) {
  const lines = view.machines;
  const heat = document.getElementById("heat");
  const narrow = heat.clientWidth < 560;
  const annotations = lines.flatMap((line) =>
    line.weeks.map((cell) => ({
      x: shortWeek(cell.week), y: line.name, text: cellText(cell), showarrow: false,
      font: { ...FONT, size: narrow ? 9 : 12, color: inkOn(cell.percent) },
    })),
  );
  const trace = {
    type: "heatmap", x: view.weeks.map(shortWeek), y: lines.map((line) => line.name),
    z: lines.map((line) => line.weeks.map((cell) => (cell.percent === null ? null : Math.min(cell.percent, TOP)))),
    zmin: 0, zmax: TOP, colorscale: SCALE, showscale: false, xgap: 2, ygap: 2,
    customdata: lines.map((line) => line.weeks.map((cell) => cell.percent)),
    hovertemplate: "%{y}, %{x}: %{customdata} %<extra></extra>",
  };
  const layout = {
    height: 60 + 26 * lines.length, margin: { l: narrow ? 56 : 90, r: 8, t: 34, b: 8 }, font: FONT, annotations,
    paper_bgcolor: "#fff", plot_bgcolor: "#fff", dragmode: false,
    xaxis: { side: "top", type: "category", fixedrange: true, ticks: "" },
    yaxis: { autorange: "reversed", type: "category", fixedrange: true, ticks: "" },
  };
  window.Plotly.newPlot(heat, [trace], layout, CONFIG);
  heat.on("plotly_click", (event) => choose(event.points[0].y, event.points[0].x));
}

function drawBars(view, name, week) {
  const cells = view.machines.find((line) => line.name === name).weeks;
  const x = cells.map((cell) => shortWeek(cell.week));
  const bar = (label, values, colour, shape) => ({
    type: "bar", name: label, x, y: values, hovertemplate: "%{x}: %{y:.1f} h<extra>%{fullData.name}</extra>",
    marker: { color: colour, line: { color: "#22302f", width: 0.5 }, pattern: { shape, fillmode: "overlay", fgcolor: "#22302f", fgopacity: 0.55, size: 6, solidity: 0.2 } },
  });
  const traces = [bar("setting", cells.map((cell) => hours(cell.setup_min)), "#ffffff", "/")];
  view.classes.forEach((kind, i) => {
    const values = cells.map((cell) => hours(cell.run_min[kind] || 0));
    if (values.some((value) => value > 0)) traces.push(bar(`run: ${kind}`, values, RUN[i % RUN.length], PATTERN[i % PATTERN.length]));
  });
  const box = document.getElementById("bars");
  const dash = Math.max(6, Math.min(34, (0.5 * box.clientWidth) / cells.length));
  const there = cells.map((cell) => hours(cell.attended_min));
  const night = cells.map((cell) => hours(cell.attended_min + cell.unattended_run_min));
  traces.push({
    type: "scatter", mode: "markers", name: "attended hours there are", x, y: there, hovertemplate: "%{x}: %{y:.1f} h<extra>attended hours</extra>",
    marker: { symbol: "line-ew", size: dash, line: { width: 3, color: "#a3300f" } },
  });
  if (cells.some((cell) => cell.unattended_run_min)) {
    traces.push({
      type: "scatter", mode: "markers", name: "and what runs unattended", x, y: night, hovertemplate: "%{x}: %{y:.1f} h<extra>with unattended running</extra>",
      marker: { symbol: "line-ew", size: dash, line: { width: 2, color: "#7d78b8" } },
    });
  }
  const shown = week ? [{ x: week, y: 1.04, yref: "paper", text: "▼ chosen", showarrow: false, font: { ...FONT, size: 11 } }] : [];
  window.Plotly.react(box, traces, {
    title: { text: `${name}: hours by week`, font: { ...FONT, size: 16 }, x: 0.01, xanchor: "left" },
    barmode: "stack", bargap: 0.35, height: 380, font: FONT, margin: { l: 48, r: 8, t: 60, b: 90 }, dragmode: false, annotations: shown,
    paper_bgcolor: "#fff", plot_bgcolor: "#fff", legend: { orientation: "h", y: -0.15 },
    xaxis: { type: "category", fixedrange: true }, yaxis: { title: { text: "hours" }, fixedrange: true, rangemode: "tozero", gridcolor: "#e2ded3" },
  }, CONFIG);
  const chosen = cells.find((cell) => shortWeek(cell.week) === week);
  document.getElementById("bars-note").textContent = chosen ? sentence(name, chosen) : "";
}

function sentence(name, cell) {
  const run = Object.values(cell.run_min).reduce((sum, minutes) => sum + minutes, 0);
  const part = (minutes) => `${hours(minutes).toFixed(1)} h`;
  const night = cell.unattended_run_min ? `, of it ${part(cell.unattended_run_min)} unattended` : "";
  return `${name} in ${cell.week}: setting ${part(cell.setup_min)}, running ${part(run)}${night}; held and waiting ${part(cell.waiting_min)}; ${part(cell.attended_min)} attended.`;
}

async function start() {
  const view = await getJson("/api/load");
  const machine = document.getElementById("machine");
  const choose = (name, week) => {
    machine.value = name;
    drawBars(view, name, week);
  };
  machine.addEventListener("change", () => choose(machine.value));
  if (!view.machines.length) return;
  drawHeat(view, choose);
  const fullest = view.machines
    .flatMap((line) => line.weeks.map((cell) => ({ name: line.name, cell })))
    .reduce((a, b) => ((b.cell.percent || 0) > (a.cell.percent || 0) ? b : a));
  choose(fullest.name, shortWeek(fullest.cell.week));
  document.body.dataset.drawn = "yes";
}

start().catch((fault) => {
  document.getElementById("bars-note").textContent = `The graphs could not be drawn: ${fault.message}. The tables have the same numbers.`;
});
