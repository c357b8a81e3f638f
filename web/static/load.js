// Load graphs: every machine (or group, skill, ...) by week or day, one line's hours against what there is, and the batches
// behind a cell. Numbers come as they are from the same document that is served as JSON; nothing is sent anywhere.

import { el, getJson } from "./dom.js";
import { CONFIG, FONT, LEGEND } from "./plots.js";

const SCALE = [[0, "#f6f3ea"], [0.6, "#a9cfc9"], [0.8, "#7fb8b1"], [0.801, "#f4b860"], [0.889, "#ef9d3c"], [0.89, "#c8502a"], [1, "#a3300f"]];
const FIXED = { ...CONFIG, responsive: false }; // widths are worked out here: see whenRoomChanges
const TOP = 112.5; // per cent at the end of the scale: 90 is at 0.8, 100 at 0.889
const RUN = ["#f0b9a6", "#f6dc9b", "#bcd9d5", "#c9c8ea", "#d5e3b5", "#e4e2dc"];
const PATTERN = ["", "\\", "x", ".", "-", "+"];

const hours = (minutes) => minutes / 60;
const needed = (cell) => cell.setup_min + cell.check_min + Object.values(cell.run_min).reduce((sum, minutes) => sum + minutes, 0);
const LEAST_CELL = 40; // pixels: where there are more periods than fit, the picture scrolls sideways

function cellText(cell) {
  if (cell.percent === null) return needed(cell) ? `<b>! ${hours(needed(cell)).toFixed(0)} h</b>` : cell.week === "overdue" ? "" : "shut";
  const number = cell.percent.toFixed(0);
  if (cell.percent > 100) return `<b>! ${number}</b>`;
  return cell.percent >= 90 ? `▲ ${number}` : number;
}

// What a cell is coloured by: its percentage, or the end of the scale where work falls into no hours at all.
function shade(cell) {
  if (cell.percent === null) return needed(cell) ? TOP : null;
  return Math.min(cell.percent, TOP);
}

function drawHeat(view, kind, choose) {
  const lines = view[kind];
  const heat = document.getElementById("heat");
  const room = heat.parentElement.clientWidth;
  const narrow = room < 560;
  const longest = Math.max(...lines.map((line) => line.name.length));
  const left = Math.min(narrow ? 110 : 180, 24 + 7 * longest);
  const width = Math.max(room - 2, view.weeks.length > 14 || narrow ? left + LEAST_CELL * view.weeks.length : 0);
  heat.style.width = `${width}px`;
  const top = view.by === "day" ? 76 : 48;
  const over = (cell) => (cell.percent ?? (needed(cell) ? TOP : 0)) > 100;
  const size = narrow || view.weeks.length > 14 ? 10 : 12;
  // text of the trace, not annotations: quick with years of weeks. One trace has one colour of text, so there are two.
  const layer = (shown, color, more) => ({
    type: "heatmap", x: view.weeks, y: lines.map((line) => line.name), zmin: 0, zmax: TOP, colorscale: SCALE, showscale: false, xgap: 2, ygap: 2,
    text: lines.map((line) => line.weeks.map((cell) => (shown(cell) ? cellText(cell) : ""))), texttemplate: "%{text}", textfont: { ...FONT, size, color }, ...more,
  });
  const traces = [
    layer((cell) => !over(cell), FONT.color, {
      z: lines.map((line) => line.weeks.map(shade)),
      customdata: lines.map((line) => line.weeks.map((cell) => (cell.percent === null ? `${hours(needed(cell)).toFixed(1)} h` : `${cell.percent} %`))),
      hovertemplate: "%{y}, %{x}: %{customdata}<extra></extra>",
    }),
    layer(over, "#fff", { z: lines.map((line) => line.weeks.map((cell) => (over(cell) ? shade(cell) : null))), hoverinfo: "skip" }),
  ];
  const layout = {
    height: top + 26 + 26 * lines.length, width, margin: { l: left, r: 8, t: top, b: 8 }, font: FONT,
    paper_bgcolor: "#fff", plot_bgcolor: "#fff", dragmode: false,
    xaxis: { ...periods(view), side: "top", ticks: "", tickangle: view.by === "day" ? -60 : 0 },
    yaxis: { autorange: "reversed", type: "category", fixedrange: true, ticks: "" },
  };
  window.Plotly.newPlot(heat, traces, layout, FIXED);
  heat.removeAllListeners("plotly_click");
  heat.on("plotly_click", (event) => choose(event.points[0].y, event.points[0].x));
}

// An axis of weeks or days: known by the whole date, as the same week comes again each year, and told shortly.
function periods(view) {
  return { type: "category", fixedrange: true, tickvals: view.weeks, ticktext: view.headings.map((text) => text.replace(/ (?=\d{4}$)/, "<br>")) };
}

function drawBars(view, kind, name, week) {
  const cells = view[kind].find((line) => line.name === name).weeks;
  const x = view.weeks;
  const bar = (label, values, colour, shape) => ({
    type: "bar", name: label, x, y: values, hovertemplate: "%{x}: %{y:.1f} h<extra>%{fullData.name}</extra>",
    marker: { color: colour, line: { color: "#22302f", width: 0.5 }, pattern: { shape, fillmode: "overlay", fgcolor: "#22302f", fgopacity: 0.55, size: 6, solidity: 0.2 } },
  });
  const traces = [bar("setting", cells.map((cell) => hours(cell.setup_min)), "#ffffff", "/")];
  view.classes.forEach((kind, i) => {
    const values = cells.map((cell) => hours(cell.run_min[kind] || 0));
    if (values.some((value) => value > 0)) traces.push(bar(`run: ${kind}`, values, RUN[i % RUN.length], PATTERN[i % PATTERN.length]));
  });
  if (cells.some((cell) => cell.check_min)) traces.push(bar("first-offs", cells.map((cell) => hours(cell.check_min)), "#e4e2dc", "|"));
  const box = document.getElementById("bars");
  const room = box.parentElement.clientWidth;
  box.style.width = `${Math.max(room - 2, cells.length > 20 ? 26 * cells.length : 0)}px`;
  const dash = Math.max(6, Math.min(34, (0.5 * box.clientWidth) / cells.length));
  const there = cells.map((cell) => hours(cell.effective_min));
  const night = cells.map((cell) => hours(cell.effective_min + cell.unattended_run_min));
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
    title: { text: `${name}: hours by ${view.by}`, font: { ...FONT, size: 16 }, x: 0, xanchor: "left", pad: { l: 14 } },
    barmode: "stack", bargap: 0.35, height: 380, width: box.clientWidth, font: FONT, margin: { l: 48, r: 8, t: 60, b: 90 }, dragmode: false, annotations: shown,
    paper_bgcolor: "#fff", plot_bgcolor: "#fff", legend: LEGEND,
    xaxis: { ...periods(view), automargin: true, range: [-0.6, cells.length - 0.4] }, yaxis: { title: { text: "hours" }, fixedrange: true, rangemode: "tozero", gridcolor: "#e2ded3" },
  }, FIXED);
  const chosen = cells.find((cell) => cell.week === week);
  if (chosen) box.parentElement.scrollLeft = ((cells.indexOf(chosen) + 0.5) / cells.length) * box.clientWidth - room / 2;
  document.getElementById("bars-note").textContent = chosen ? sentence(view, name, chosen) : "";
  document.getElementById("behind").replaceChildren(...(chosen ? behind(chosen) : []));
}

// The batches of a cell, those that ask most first.
function behind(cell) {
  if (!cell.batches.length) return [];
  const all = needed(cell);
  const rows = cell.batches.map((share) =>
    el("tr", {}, el("th", { scope: "row", class: "nowrap" }, share.batch), el("td", { class: "num" }, `${hours(share.amount).toFixed(1)} h`), el("td", { class: "num" }, `${Math.round((100 * share.amount) / all)} %`)));
  const head = ["Batch", "Hours", "Share"].map((word, i) => el("th", { scope: "col", class: i ? "num" : "" }, word));
  return [el("details", { class: "fold printed", open: true }, el("summary", {}, el("h2", {}, `${cell.name}, ${cell.week}: ${rows.length === 1 ? "one batch" : `${rows.length} batches`}`)),
    el("table", { class: "data narrow" }, el("thead", {}, el("tr", {}, ...head)), el("tbody", {}, ...rows)))];
}

function sentence(view, name, cell) {
  const run = Object.values(cell.run_min).reduce((sum, minutes) => sum + minutes, 0);
  const part = (minutes) => `${hours(minutes).toFixed(1)} h`;
  const night = cell.unattended_run_min ? `, of it ${part(cell.unattended_run_min)} unattended` : "";
  const check = cell.check_min ? `, first-offs ${part(cell.check_min)}` : "";
  const waiting = view.view === "planned" ? `; held and waiting ${part(cell.waiting_min)}` : "";
  const counted = cell.effective_min === cell.attended_min ? "" : `, of which ${part(cell.effective_min)} count after availability and performance`;
  return `${name} in ${cell.week}: setting ${part(cell.setup_min)}, running ${part(run)}${night}${check}${waiting}; own product ${part(cell.own_min)}, core work ${part(needed(cell) - cell.own_min)}; released already ${part(cell.released_min)} of ${part(needed(cell))}; ${part(cell.attended_min)} attended${counted}.`;
}

// Both graphs are as wide as there is room when they are drawn: once more where a window is made wider or a phone turned.
function whenRoomChanges(box, draw) {
  let room = box.clientWidth;
  new ResizeObserver(() => {
    if (box.clientWidth === room) return;
    room = box.clientWidth;
    draw();
  }).observe(box);
}

async function start() {
  const view = await getJson(`/api/load${location.search}`);
  const machine = document.getElementById("machine");
  const kind = document.getElementById("kind");
  let chosen = [];
  const choose = (name, week) => {
    chosen = [name, week];
    machine.value = name;
    drawBars(view, kind.value, name, week);
  };
  const show = () => {
    const lines = view[kind.value];
    if (!lines.length) return;
    machine.replaceChildren(...lines.map((line) => el("option", {}, line.name)));
    drawHeat(view, kind.value, choose);
    const fullest = lines
      .flatMap((line) => line.weeks.map((cell) => ({ name: line.name, cell })))
      .reduce((a, b) => ((b.cell.percent || 0) > (a.cell.percent || 0) ? b : a));
    choose(fullest.name, fullest.cell.week);
  };
  machine.addEventListener("change", () => choose(machine.value));
  kind.addEventListener("change", show);
  show();
  whenRoomChanges(document.getElementById("heat").parentElement, () => {
    if (!view[kind.value].length) return;
    drawHeat(view, kind.value, choose);
    choose(...chosen);
  });
  document.body.dataset.drawn = "yes";
}

start().catch((fault) => {
  document.getElementById("bars-note").textContent = `The graphs could not be drawn: ${fault.message}. The tables have the same numbers.`;
});
