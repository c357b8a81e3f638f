// The cost curve of one part: setups, stock and outside charges by batch quantity, from the same document that is served as JSON.

import { getJson } from "./dom.js";
import { CONFIG, FONT, LEGEND } from "./plots.js";
import "./tables.js";

const LINES = [
  ["setups", "Setups", "#a3300f", "dash"],
  ["stock", "Stock", "#1f6f6b", "dot"],
  ["outside", "Outside charges", "#7d78b8", "dashdot"],
];

const FROM = 0.25; // of the smallest quantity that is marked: the curve begins there

const pounds = (pence) => pence / 100;
const counted = (pieces) => pieces.toLocaleString("en-GB");

function draw(part) {
  const curve = part.curve.filter((point) => point.quantity >= FROM * Math.min(part.present, part.economic, part.suggested));
  const x = curve.map((point) => point.quantity);
  const total = curve.map((point) => pounds(point.setups + point.stock + point.outside));
  const line = (name, y, color, dash, width) => ({
    type: "scatter", mode: "lines", name, x, y, line: { color, dash, width }, hovertemplate: "%{x}: %{y:,.0f} pounds a year<extra>%{fullData.name}</extra>",
  });
  const traces = [line("All together", total, "#22302f", "solid", 3)];
  for (const [field, name, color, dash] of LINES) {
    const y = curve.map((point) => pounds(point[field]));
    if (y.some((value) => value > 0)) traces.push(line(name, y, color, dash, 2));
  }
  const at = (quantity, text, place) => ({ x: Math.log10(quantity), xref: "x", y: place, yref: "paper", text: `${text} ${counted(quantity)}`, showarrow: false, xanchor: "left", font: { ...FONT, size: 12 }, bgcolor: "#ffffffcc" });
  const upright = (quantity, dash) => ({ type: "line", x0: quantity, x1: quantity, yref: "paper", y0: 0, y1: 1, line: { color: "#22302f", width: 1.5, dash } });
  const marks = [[part.present, "now", "dot", 0.98], [part.economic, "economic", "dash", 0.9], [part.suggested, "suggested", "solid", 0.82]];
  const box = document.getElementById("curve");
  window.Plotly.newPlot(box, traces, {
    title: { text: box.clientWidth < 560 ? part.part : `${part.part} ${part.description}: cost a year by start quantity`, font: { ...FONT, size: 16 }, x: 0.01, xanchor: "left" },
    height: 380, font: FONT, margin: { l: 60, r: 12, t: 48, b: 90 }, dragmode: false, paper_bgcolor: "#fff", plot_bgcolor: "#fff",
    legend: LEGEND,
    shapes: [
      { type: "rect", x0: part.near_from, x1: part.near_to, yref: "paper", y0: 0, y1: 1, fillcolor: "#f4b860", opacity: 0.22, line: { width: 0 } },
      ...marks.map(([quantity, , dash]) => upright(quantity, dash)),
    ],
    annotations: marks.map(([quantity, text, , place]) => at(quantity, text, place)),
    xaxis: { type: "log", title: { text: "pieces started" }, fixedrange: true, automargin: true, gridcolor: "#eeeae0" },
    yaxis: { title: { text: "pounds a year" }, rangemode: "tozero", range: [0, 2.6 * Math.min(...total)], fixedrange: true, gridcolor: "#e2ded3" },
  }, CONFIG);
  const charges = part.charges.filter((charge) => charge.pieces).map((charge) => `the minimum of ${charge.process} is covered from ${counted(charge.pieces)} pieces on`);
  const bars = part.bars ? [`${counted(part.bars.bars)} bars of ${counted(part.bars.a_bar)} parts${part.bars.kg ? `, ${part.bars.kg} kg` : ""}, full at ${counted(part.bars.full)}`] : [];
  document.getElementById("curve-note").textContent =
    `Suggested ${counted(part.suggested)}: ${part.because}. Shaded: up to 5 % dearer. ${[...charges, ...bars].map((text) => `${text[0].toUpperCase()}${text.slice(1)}.`).join(" ")}`;
}

async function start() {
  const view = await getJson("/api/quantities");
  const choice = document.getElementById("part");
  const show = (name) => {
    choice.value = name;
    draw(view.parts.find((part) => part.part === name));
  };
  choice.addEventListener("change", () => show(choice.value));
  for (const button of document.querySelectorAll("[data-part]")) {
    button.addEventListener("click", () => {
      show(button.dataset.part);
      document.getElementById("curve").scrollIntoView({ block: "nearest" });
    });
  }
  show(view.parts.reduce((a, b) => (b.saved_pence > a.saved_pence ? b : a)).part);
  document.body.dataset.drawn = "yes";
}

start();
