// Painting the plan on two canvases: the axis, which stays in view, and the rows.

const INK = "#22302f";
const CLOSED = "#e6e2d8";
const GRID = "#cfcabd";
const HEAD = "#efece3";
const FILLS = ["#f0b9a6", "#f6dc9b", "#bcd9d5", "#c9c8ea", "#d5e3b5", "#e4e2dc"];
const EDGES = ["#93452a", "#7d5f12", "#2c625d", "#4a4893", "#4f6a1c", "#65635c"];
const WAY = "#b3400a";
export const AXIS_HEIGHT = 44;
export const classFill = (n) => Math.min(n, FILLS.length - 1);

function sized(canvas, width, height) {
  const ratio = window.devicePixelRatio || 1;
  if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
    canvas.style.height = `${height}px`;
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, width, height);
  return pen;
}

// How days are written where there is only room for one a week.
const weekly = (label, monday) => (monday ? label.split(" ").slice(1).join(" ") : "");

function hatch(pen, background, line, step, slope) {
  const tile = document.createElement("canvas");
  tile.width = tile.height = step;
  const t = tile.getContext("2d");
  t.fillStyle = background;
  t.fillRect(0, 0, step, step);
  t.strokeStyle = line;
  t.lineWidth = 1.3;
  t.beginPath();
  for (const shift of [-step, 0, step]) {
    t.moveTo(shift, slope ? step : 0);
    t.lineTo(shift + (slope ? step : 0), slope ? 0 : step);
  }
  t.stroke();
  return pen.createPattern(tile, "repeat");
}

export class Painter {
  constructor(axis, body, layout) {
    this.axis = axis;
    this.body = body;
    this.layout = layout;
    const pen = body.getContext("2d");
    this.setup = hatch(pen, "#ffffff", "#3b4a48", 6, true);
    this.night = hatch(pen, "#f3f0e8", "#d3cdbe", 5, false);
    const css = getComputedStyle(document.body).fontFamily;
    this.font = (size, weight = "") => `${weight} ${size}px ${css}`.trim();
  }

  // `look`: {bars, dim(bar), cursor, selected, way}
  paint(height, look) {
    const { layout } = this;
    const pen = sized(this.body, layout.width, height);
    this.rows(pen);
    this.dayLines(pen, height, 0);
    this.headings(pen);
    pen.save();
    pen.beginPath();
    pen.rect(layout.names, 0, layout.width - layout.names, height);
    pen.clip();
    for (const bar of look.bars) this.bar(pen, bar, look);
    if (look.way) this.way(pen, look.way);
    for (const bar of [look.selected, look.cursor]) if (bar) this.frame(pen, bar);
    this.now(pen, height);
    pen.restore();
    this.labels(pen, height);
    this.paintAxis();
  }

  rows(pen) {
    const { layout } = this;
    const { chart } = layout;
    chart.rows.forEach((row, index) => {
      const place = layout.rows[index];
      if (!place) return;
      const hours = row.hours === null ? null : chart.hours[row.hours];
      pen.fillStyle = hours ? CLOSED : "#fff";
      pen.fillRect(layout.names, place.y, layout.width - layout.names, place.height - 1);
      if (!hours) return;
      this.windows(pen, place, hours.unattended, this.night);
      this.windows(pen, place, hours.attended, "#fff");
    });
  }

  windows(pen, place, windows, fill) {
    const { layout } = this;
    pen.fillStyle = fill;
    for (const [a, b] of windows) {
      if (b <= layout.from || a >= layout.to) continue;
      const x = Math.max(layout.names, layout.x(a));
      pen.fillRect(x, place.y, layout.x(b) - x, place.height - 1);
    }
  }

  dayLines(pen, height, top) {
    const { layout } = this;
    pen.strokeStyle = GRID;
    pen.lineWidth = 1;
    pen.beginPath();
    for (const day of layout.chart.days) {
      const x = Math.round(layout.x(day.start)) + 0.5;
      if (x < layout.names || x > layout.width) continue;
      pen.moveTo(x, top);
      pen.lineTo(x, height);
    }
    pen.stroke();
  }

  bar(pen, bar, look) {
    const { layout } = this;
    if (bar.end < layout.from || bar.start > layout.to) return;
    const box = layout.box(bar);
    if (!box) return;
    const batch = layout.chart.batches[bar.batch];
    const colour = classFill(batch.priority);
    pen.globalAlpha = look.dim(bar) ? 0.16 : 1;
    pen.fillStyle = EDGES[colour];
    const thin = Math.max(2, box.height * 0.16); // along the foot, where it strikes no label through
    pen.fillRect(box.x, box.y + box.height - thin, box.width, thin);
    for (const part of bar.worked) this.part(pen, box, part, colour);
    if (batch.late) this.late(pen, box);
    if (bar.first_off !== null && box.width > 30) this.firstOff(pen, bar, box);
    if (box.width > 36 && box.height > 9) this.label(pen, bar, batch, box);
    pen.globalAlpha = 1;
  }

  part(pen, box, [what, a, b], colour) {
    const { layout } = this;
    if (b < layout.from || a > layout.to) return;
    const x = layout.x(a);
    const width = Math.max(1, layout.x(b) - x);
    pen.fillStyle = what === "setup" ? this.setup : what === "check" ? "#fff" : FILLS[colour];
    pen.fillRect(x, box.y, width, box.height);
    if (width > 3) {
      pen.strokeStyle = EDGES[colour];
      pen.lineWidth = 1;
      pen.setLineDash(what === "away" || what === "wait" ? [2, 2] : []);
      pen.strokeRect(x + 0.5, box.y + 0.5, width - 1, box.height - 1);
      pen.setLineDash([]);
    }
  }

  late(pen, box) {
    pen.strokeStyle = "#000";
    pen.lineWidth = 1.6;
    if (box.width > 6) {
      pen.setLineDash([4, 3]);
      pen.strokeRect(box.x + 0.8, box.y + 0.8, box.width - 1.6, box.height - 1.6);
      pen.setLineDash([]);
    }
    const size = Math.min(8, box.width, box.height);
    pen.fillStyle = "#000";
    pen.beginPath();
    pen.moveTo(box.x + box.width - size, box.y);
    pen.lineTo(box.x + box.width, box.y);
    pen.lineTo(box.x + box.width, box.y + size);
    pen.fill();
  }

  firstOff(pen, bar, box) {
    const x = this.layout.x(bar.first_off);
    const y = box.y + box.height - 1;
    pen.fillStyle = "#fff";
    pen.strokeStyle = INK;
    pen.lineWidth = 1.2;
    pen.beginPath();
    pen.arc(x, y, 4.8, 0, 7);
    pen.fill();
    pen.stroke();
    pen.fillStyle = INK;
    pen.font = this.font(7.5, "bold");
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText("1", x, y + 0.5);
  }

  label(pen, bar, batch, box) {
    const { layout } = this;
    const left = Math.max(box.x, layout.names) + 4;
    const room = box.x + box.width - left - 8;
    if (room < 24) return;
    pen.save();
    pen.beginPath();
    pen.rect(left - 2, box.y, room + 4, box.height);
    pen.clip();
    pen.font = this.font(box.height > 16 ? 11.5 : 10);
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    pen.lineJoin = "round";
    pen.strokeStyle = "#fff";
    pen.lineWidth = 3.5;
    pen.fillStyle = "#101918";
    const text = `${batch.late ? "late " : ""}${batch.name}·${bar.number}${room > 110 ? ` ${batch.part}` : ""}`;
    const y = box.y + box.height * (box.height > 16 ? 0.4 : 0.5); // above the pauses and the first-off mark
    pen.strokeText(text, left, y);
    pen.fillText(text, left, y);
    pen.restore();
  }

  // `way`: {steps: [[bar, bar]], links: [[bar, bar]]}
  way(pen, way) {
    for (const [pairs, width, dash] of [[way.links, 1.3, [5, 3]], [way.steps, 2.2, []]]) {
      for (const [a, b] of pairs) {
        const from = this.layout.box(a);
        const to = this.layout.box(b);
        if (!from || !to) continue;
        const x1 = from.x + from.width;
        const y1 = from.y + from.height / 2;
        const y2 = to.y + to.height / 2;
        const bend = Math.max(14, Math.abs(to.x - x1) / 2.5);
        const line = (colour, thick) => {
          pen.strokeStyle = colour;
          pen.lineWidth = thick;
          pen.beginPath();
          pen.moveTo(x1, y1);
          pen.bezierCurveTo(x1 + bend, y1, to.x - bend, y2, to.x, y2);
          pen.stroke();
        };
        line("#ffffffc0", width + 2.5);
        pen.setLineDash(dash);
        line(WAY, width);
        pen.setLineDash([]);
        pen.fillStyle = WAY;
        pen.beginPath();
        pen.arc(to.x, y2, 3, 0, 7);
        pen.fill();
      }
    }
  }

  frame(pen, bar) {
    const box = this.layout.box(bar);
    if (!box) return;
    pen.strokeStyle = "#fff";
    pen.lineWidth = 5;
    pen.strokeRect(box.x - 2, box.y - 2, box.width + 4, box.height + 4);
    pen.strokeStyle = WAY;
    pen.lineWidth = 3;
    pen.strokeRect(box.x - 2, box.y - 2, box.width + 4, box.height + 4);
  }

  now(pen, height, top = 0) {
    const x = this.layout.x(0);
    pen.strokeStyle = "#0a5cad";
    pen.lineWidth = 2;
    pen.setLineDash([2, 4]);
    pen.beginPath();
    pen.moveTo(x, top);
    pen.lineTo(x, height);
    pen.stroke();
    pen.setLineDash([]);
  }

  // Strips behind the bars, so that lines of an order's way run over them unbroken.
  headings(pen) {
    const { layout } = this;
    pen.fillStyle = HEAD;
    for (const heading of layout.headings) pen.fillRect(0, heading.y, layout.width, 19);
  }

  // Names of groups and rows, over whatever reaches into their column.
  labels(pen, height) {
    const { layout } = this;
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, layout.names, height);
    pen.textBaseline = "middle";
    pen.textAlign = "left";
    pen.font = this.font(11.5, "600");
    for (const heading of layout.headings) {
      pen.fillStyle = HEAD;
      pen.fillRect(0, heading.y, layout.names, 19);
      pen.fillStyle = "#1d3a3f";
      pen.fillText(heading.text, 6, heading.y + 10);
    }
    pen.font = this.font(12.5);
    pen.fillStyle = INK;
    layout.chart.rows.forEach((row, index) => {
      const place = layout.rows[index];
      if (place) this.rowName(pen, row.name, place);
    });
    pen.strokeStyle = GRID;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(layout.names + 0.5, 0);
    pen.lineTo(layout.names + 0.5, height);
    pen.stroke();
  }

  // One line, or one line a word where a row of many lanes has the height for it.
  rowName(pen, name, place) {
    const room = this.layout.names - 12;
    const wraps = pen.measureText(name).width > room && place.height > 45;
    const lines = wraps ? name.split(" ") : [name];
    lines.slice(0, Math.floor(place.height / 15)).forEach((line, n) => pen.fillText(this.fit(pen, line, room), 8, place.y + 15 + n * 15));
  }

  fit(pen, text, room) {
    if (pen.measureText(text).width <= room) return text;
    let size = text.length;
    while (size > 1 && pen.measureText(`${text.slice(0, size)}…`).width > room) size -= 1;
    return `${text.slice(0, size)}…`;
  }

  paintAxis() {
    const { layout } = this;
    const pen = sized(this.axis, layout.width, AXIS_HEIGHT);
    pen.save();
    pen.beginPath();
    pen.rect(layout.names, 0, layout.width - layout.names, AXIS_HEIGHT);
    pen.clip();
    this.dayLines(pen, AXIS_HEIGHT, 18);
    pen.fillStyle = INK;
    pen.textBaseline = "middle";
    pen.textAlign = "left";
    this.dayNames(pen);
    this.hourNames(pen);
    const x = layout.x(0);
    this.now(pen, AXIS_HEIGHT, 32); // below the names of weeks and days
    pen.fillStyle = "#0a5cad";
    pen.font = this.font(10.5, "600");
    if (x > layout.names - 60) pen.fillText("plan start", Math.max(x, layout.names) + 4, AXIS_HEIGHT - 7);
    pen.restore();
  }

  dayNames(pen) {
    const { layout } = this;
    const { days } = layout.chart;
    const dayWidth = layout.scale * 1440;
    const write = this.dayWriter(pen, dayWidth);
    days.forEach((day, n) => {
      const x = Math.max(layout.x(day.start), layout.names) + 4;
      const end = layout.x(days[n + 1] ? days[n + 1].start : day.start + 1440);
      if (end < layout.names || x > layout.width) return;
      const monday = day.label.startsWith("Mon");
      if (monday || n === 0) {
        pen.font = this.font(11.5, "600");
        if (dayWidth > 12) pen.fillText(day.week.replace("-", " "), layout.x(day.start) + 4, 9);
      }
      pen.font = this.font(11);
      const text = write(day.label, monday);
      if (pen.measureText(text).width + 4 < end - x || text === weekly(day.label, monday)) pen.fillText(text, x, 25);
    });
  }

  // One way to write all days: the fullest that fits a day's width; only Mondays where none does.
  dayWriter(pen, dayWidth) {
    pen.font = this.font(11);
    const ways = [
      (label) => label,
      (label) => label.split(" ").slice(0, 2).join(" "),
      (label) => label.split(" ")[1],
    ];
    const fits = (way) => pen.measureText(way("Wed 28 Mar")).width + 8 < dayWidth;
    return ways.find(fits) ?? weekly;
  }

  hourNames(pen) {
    const { layout } = this;
    const step = [1, 2, 3, 6].find((h) => layout.scale * 60 * h > 38);
    if (!step) return;
    pen.font = this.font(10);
    pen.fillStyle = "#4c5a58";
    for (const mark of layout.chart.hour_marks) {
      if (mark.hour % step || mark.at < layout.from || mark.at > layout.to) continue;
      const x = layout.x(mark.at);
      pen.fillRect(x, AXIS_HEIGHT - 4, 1, 4);
      if (Math.abs(mark.at) * layout.scale < 60 && mark.at < layout.from + 70 / layout.scale + 480) continue;
      pen.fillText(`${String(mark.hour).padStart(2, "0")}:00`, x + 2, AXIS_HEIGHT - 8);
    }
  }
}
