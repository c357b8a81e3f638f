// Risk bands: from one draw in ten to nine in ten, against the due time. On the orders page they are asked for once the
// page is there, because they take a moment to work out.

import { el, getJson, svg } from "./dom.js";

const DAY = 1440;
const REACH = 10; // days to each side of the due time
const WIDTH = 148;
const HEIGHT = 18;

function place(minutes) {
  const days = Math.max(-REACH, Math.min(REACH, minutes / DAY));
  return 4 + ((days + REACH) / (2 * REACH)) * (WIDTH - 8);
}

function told(minutes) {
  const days = Math.abs(minutes) / DAY;
  const amount = days >= 1 ? `${days.toFixed(1)} days` : `${Math.round(days * 24)} h`;
  return minutes > 0 ? `${amount} late` : `${amount} early`;
}

function band(early, likely, late) {
  const text = `One draw in ten ${told(early)} or sooner, half ${told(likely)} or sooner, nine in ten ${told(late)} or sooner.`;
  const picture = svg("svg", { class: "riskband", width: WIDTH, height: HEIGHT, viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": text });
  picture.append(svg("title", {}, text));
  const middle = HEIGHT / 2;
  picture.append(svg("line", { class: "axis-line", x1: 2, x2: WIDTH - 2, y1: middle, y2: middle }));
  const from = place(early);
  picture.append(svg("rect", { class: late > 0 ? "some-late" : "in-time", x: from, y: middle - 4, width: Math.max(2, place(late) - from), height: 8 }));
  picture.append(svg("line", { class: "due", x1: place(0), x2: place(0), y1: 0, y2: HEIGHT }));
  picture.append(svg("circle", { class: "half", cx: place(likely), cy: middle, r: 2.6 }));
  if (late > REACH * DAY) picture.append(svg("path", { class: "half", d: `M${WIDTH - 6} ${middle - 4}l5 4l-5 4z` }));
  if (early < -REACH * DAY) picture.append(svg("path", { class: "half", d: `M6 ${middle - 4}l-5 4l5 4z` }));
  return picture;
}

for (const cell of document.querySelectorAll("td.band")) {
  cell.replaceChildren(band(Number(cell.dataset.early), Number(cell.dataset.likely), Number(cell.dataset.late)));
}

function fillChance(cell, row) {
  const chance = el("a", { href: "/risk", class: "chance" }, row.chance);
  cell.dataset.key = row.on_time;
  cell.replaceChildren(chance, " ", band(row.early_min - row.due_min, row.likely_min - row.due_min, row.late_min - row.due_min));
}

const cells = [...document.querySelectorAll("td[data-chance]")];
if (cells.length) {
  getJson("/api/risk")
    .then((answer) => {
      const rows = new Map(answer.orders.map((row) => [row.order, row]));
      for (const cell of cells) if (rows.has(cell.dataset.chance)) fillChance(cell, rows.get(cell.dataset.chance));
    })
    .catch(() => cells.forEach((cell) => cell.replaceChildren("not known")))
    .finally(() => document.documentElement.setAttribute("data-risk", "shown"));
}
