// Where an enquiry would run: one line a machine or outside firm, bars to scale, days along the top.

import { svg } from "./dom.js";

const ROW = 22;
const LEFT = 118;
const NARROWEST = 300;
const WIDEST = 640;

// "Tue 6 Jul 2027 06:56" of the first bar gives the day names: minutes are counted from there.
function dayMarks(used, first, last, x) {
  const marks = [];
  const seen = new Set();
  const days = (last - first) / 1440;
  const each = Math.max(1, Math.ceil(days / 8));
  for (const u of used) {
    const [weekday, day, month, , time] = u.start.split(" ");
    const [hours, minutes] = time.split(":").map(Number);
    const midnight = u.start_min - hours * 60 - minutes;
    const nth = Math.round((midnight - first) / 1440 / each);
    if (seen.has(nth)) continue;
    seen.add(nth);
    marks.push([Math.max(x(first), x(midnight)), `${weekday} ${day} ${month}`]);
  }
  return marks;
}

// `room`: pixels there are for it; on a narrow page it is drawn narrower, not smaller.
export function waysChart(used, room) {
  if (!used.length) return null;
  const width = Math.max(NARROWEST, Math.min(WIDEST, room));
  const names = [...new Set(used.map((u) => u.on || "waiting"))];
  const first = Math.min(...used.map((u) => u.start_min));
  const last = Math.max(...used.map((u) => u.end_min));
  const x = (minute) => LEFT + ((minute - first) / Math.max(1, last - first)) * (width - LEFT - 4);
  const height = 22 + names.length * ROW;
  const chart = svg("svg", { viewBox: `0 0 ${width} ${height}`, class: "ways", role: "img", "aria-label": `Where it runs: ${names.join(", ")}` });
  let free = 0;
  for (const [at, text] of dayMarks(used, first, last, x).sort((a, b) => a[0] - b[0])) {
    chart.append(svg("line", { x1: at, x2: at, y1: 16, y2: height, class: "day" }));
    if (at < free || at > width - 60) continue;
    chart.append(svg("text", { x: at + 2, y: 12 }, text));
    free = at + 76;
  }
  names.forEach((name, row) => {
    const y = 20 + row * ROW;
    chart.append(svg("text", { x: 0, y: y + 14 }, name.length > 17 ? `${name.slice(0, 16)}…` : name));
    for (const u of used.filter((v) => (v.on || "waiting") === name)) {
      const bar = svg("rect", { x: x(u.start_min), y, width: Math.max(2, x(u.end_min) - x(u.start_min)), height: ROW - 6, class: "bar" });
      bar.append(svg("title", {}, `${u.batch} op ${u.operation} ${u.description}: ${u.start} to ${u.end}`));
      chart.append(bar);
    }
  });
  return chart;
}
