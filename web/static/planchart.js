// The plan chart: loads the plan once, then filters, moves and highlights it in the page.

import { el, getJson } from "./dom.js";
import { Layout } from "./chart-layout.js";
import { AXIS_HEIGHT, Painter, classFill } from "./chart-draw.js";
import { RowTable } from "./chart-table.js";
import { Details } from "./chart-details.js";
import { followPointer } from "./chart-pointer.js";
import { movable } from "./chart-move.js";

const find = (id) => document.getElementById(id);

class PlanChart {
  constructor(chart) {
    this.chart = chart;
    this.layout = new Layout(chart);
    this.canvas = find("chart");
    this.painter = new Painter(find("axis"), this.canvas, this.layout);
    this.barOf = new Map(chart.bars.map((bar) => [bar.op, bar]));
    this.selected = this.cursor = this.order = this.lit = this.way = null;
    this.choice = {};
    this.details = new Details(chart, {
      close: () => this.clear(),
      open: (op) => this.open(this.barOf.get(op), true),
      order: (index) => this.showOrder(index),
    });
    this.table = new RowTable(chart, (bar) => this.open(bar, true, true));
    this.fillChoices();
    this.filter();
  }

  // ---- choices -----------------------------------------------------------

  fillChoices() {
    const { chart } = this;
    find("f-group").append(...chart.groups.map((name) => el("option", { value: name }, name)));
    find("f-machine").append(...chart.rows.map((row) => el("option", { value: row.name }, row.name)));
    find("order-list").append(...chart.orders.map((order) => el("option", { value: order.number }, order.part)));
    const used = new Set(chart.batches.map((batch) => batch.priority));
    const classes = chart.classes.map((name, n) => [name, n]).filter(([, n]) => used.has(n));
    find("classes").append(
      ...classes.map(([name, n]) => el("li", {}, el("span", { class: `swatch c-${classFill(n)}` }), name)),
    );
  }

  filter() {
    const group = find("f-group").value;
    const machine = find("f-machine").value;
    const order = find("f-order").value.trim().toLowerCase();
    const part = find("f-part").value.trim().toLowerCase();
    const late = find("f-late").checked;
    const { chart } = this;
    const batchFits = chart.batches.map(
      (batch) =>
        (!late || batch.late) &&
        (!part || `${batch.part} ${batch.description}`.toLowerCase().includes(part)) &&
        (!order || batch.orders.some((o) => chart.orders[o].number.toLowerCase().includes(order))),
    );
    this.narrowed = Boolean(order || part || late);
    find("filters-on").hidden = !(this.narrowed || group || machine);
    const rowFits = chart.rows.map((row) => (!group || row.group === group) && (!machine || row.name === machine));
    this.fits = (bar) => batchFits[bar.batch] && rowFits[bar.row];
    this.matching = chart.bars.filter(this.fits);
    const used = new Set(this.matching.map((bar) => bar.row));
    const shown = (row) => rowFits[row] && (!this.narrowed || used.has(row));
    this.height = this.layout.place(shown);
    const note = this.matching.length ? "" : chart.bars.length ? "No operation matches. Clear the filters to see all." : "The plan has no operations.";
    find("chart-note").textContent = note;
    this.draw();
    window.setTimeout(() => this.table.set(this.matching), 0);
  }

  // ---- drawing -----------------------------------------------------------

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    window.requestAnimationFrame(() => {
      this.waiting = false;
      this.paint();
    });
  }

  paint() {
    const began = performance.now();
    this.layout.width = this.canvas.clientWidth;
    const lit = this.lit;
    this.painter.paint(this.height, {
      bars: this.chart.bars,
      dim: (bar) => !this.fits(bar) || (lit !== null && !lit.has(bar.batch)),
      selected: this.selected,
      cursor: this.cursor,
      way: this.way,
    });
    this.paintMs = performance.now() - began;
    this.drawnMs ??= performance.now();
    this.canvas.dataset.drawn = "yes";
  }

  // Batches of the order on show, and the lines that join their steps.
  light(order, batch) {
    const { chart } = this;
    const own = order === null ? [batch] : chart.batches.flatMap((b, n) => (b.orders.includes(order) ? [n] : []));
    this.lit = new Set(own);
    const bars = chart.bars.filter((bar) => this.lit.has(bar.batch));
    const pairs = bars.filter((bar) => this.barOf.has(bar.next_op)).map((bar) => [bar, this.barOf.get(bar.next_op)]);
    const links = chart.links.map(([a, b]) => [this.barOf.get(a), this.barOf.get(b)]);
    this.way = { steps: pairs, links: links.filter(([a, b]) => a && b && this.lit.has(a.batch) && this.lit.has(b.batch)) };
    return bars;
  }

  // ---- what is on show ----------------------------------------------------

  open(bar, focus = false, scroll = false) {
    if (!bar) return;
    const orders = this.chart.batches[bar.batch].orders;
    const order = orders.includes(this.order) ? this.order : orders.length ? orders[0] : null;
    this.order = order;
    this.selected = this.cursor = bar;
    this.light(order, bar.batch);
    this.bring(bar, scroll);
    this.details.operation(bar.op, focus);
    this.remember({ op: bar.op });
  }

  showOrder(index) {
    this.order = index;
    this.selected = this.cursor = null;
    const bars = this.light(index, null);
    if (bars.length) {
      const from = Math.min(...bars.map((bar) => bar.start));
      const to = Math.max(...bars.map((bar) => bar.end));
      this.layout.look(Math.min(from, Math.max(0, to - 28 * 1440)) - 720, to + 720);
    }
    this.details.forOrder(index, bars, true);
    this.remember({ order: this.chart.orders[index].number });
    this.draw();
  }

  clear() {
    this.selected = this.order = this.lit = this.way = null;
    this.details.hide();
    this.remember({});
    this.canvas.focus({ preventScroll: true });
    this.draw();
  }

  // Move so that the bar is in view.
  bring(bar, scroll = false) {
    const { layout } = this;
    const size = layout.to - layout.from;
    if (bar.start < layout.from || bar.start > layout.to - size * 0.1) layout.look(bar.start - size * 0.2, bar.start + size * 0.8);
    const box = layout.box(bar);
    if (box) {
      const y = this.canvas.getBoundingClientRect().top + box.y;
      if (scroll || y < AXIS_HEIGHT || y + box.height > window.innerHeight) window.scrollBy(0, y - window.innerHeight * 0.35);
    }
    this.draw();
  }

  // The address opens what is on show: the machine, and the order or operation chosen.
  remember(choice = this.choice) {
    this.choice = choice;
    const machine = find("f-machine").value;
    const query = new URLSearchParams(machine ? { machine, ...choice } : choice).toString();
    window.history.replaceState(null, "", query ? `?${query}` : window.location.pathname);
  }

  // ---- finding bars -------------------------------------------------------

  // The bar at a point of the canvas; short bars may be missed by 3 pixels.
  barAt(x, y) {
    let best = null;
    let nearest = 3.01;
    for (const bar of this.chart.bars) {
      if (bar.end < this.layout.from || bar.start > this.layout.to || !this.fits(bar)) continue;
      const box = this.layout.box(bar);
      if (!box || y < box.y - 1 || y > box.y + box.height + 1) continue;
      const away = Math.max(box.x - x, x - box.x - box.width, 0);
      if (away < nearest) [best, nearest] = [bar, away];
    }
    return x < this.layout.names ? null : best;
  }

  // For tests: the bar's box in the window, or null where it is not in view.
  boxOf(op) {
    const bar = this.barOf.get(op);
    const box = bar && this.layout.box(bar);
    if (!box || box.x > this.layout.width || box.x + box.width < this.layout.names) return null;
    const corner = this.canvas.getBoundingClientRect();
    return { x: corner.x + box.x, y: corner.y + box.y, width: box.width, height: box.height };
  }

  // ---- keys ----------------------------------------------------------------

  step(key) {
    const { layout } = this;
    const shown = this.matching.filter((bar) => layout.rows[bar.row]);
    if (!shown.length) return;
    if (!this.cursor || !this.fits(this.cursor)) {
      this.cursor = shown.find((bar) => bar.end > layout.from) ?? shown[0];
    } else {
      const now = this.cursor;
      const across = key === "ArrowRight" ? 1 : key === "ArrowLeft" ? -1 : 0;
      const near = across ? this.beside(shown, now, across) : this.above(shown, now, key === "ArrowDown" ? 1 : -1);
      this.cursor = near ?? now;
    }
    this.bring(this.cursor);
    const { cursor: bar, chart } = this;
    const batch = chart.batches[bar.batch];
    find("chart-note").textContent = `${chart.rows[bar.row].name}: ${batch.name} step ${bar.number}, ${batch.part}, ${bar.from_text} to ${bar.to_text}${batch.late ? ", late" : ""}`;
  }

  beside(shown, now, way) {
    const row = shown.filter((bar) => bar.row === now.row).sort((a, b) => a.start - b.start || a.op - b.op);
    return row[row.indexOf(now) + way];
  }

  above(shown, now, way) {
    const rows = [...new Set(shown.map((bar) => bar.row))].sort((a, b) => a - b);
    const row = rows[rows.indexOf(now.row) + way];
    const distance = (bar) => Math.abs(bar.start - now.start);
    return shown.filter((bar) => bar.row === row).reduce((a, b) => (a && distance(a) <= distance(b) ? a : b), null);
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const size = this.layout.to - this.layout.from;
    const actions = {
      ArrowLeft: () => this.layout.pan(-size / 8),
      ArrowRight: () => this.layout.pan(size / 8),
      "+": () => this.layout.zoom(0.7),
      "=": () => this.layout.zoom(0.7),
      "-": () => this.layout.zoom(1 / 0.7),
      Home: () => this.layout.twoWeeks(),
      Enter: () => this.open(this.cursor, true),
      Escape: () => this.clear(),
    };
    const act = event.shiftKey && event.key.startsWith("Arrow") ? () => this.step(event.key) : actions[event.key];
    if (!act) return;
    event.preventDefault();
    act();
    this.draw();
  }

  view(name) {
    const { layout } = this;
    const size = layout.to - layout.from;
    const views = {
      earlier: () => layout.pan(-size / 2),
      later: () => layout.pan(size / 2),
      in: () => layout.zoom(0.6),
      out: () => layout.zoom(1 / 0.6),
      weeks: () => layout.twoWeeks(),
      all: () => layout.look(layout.span[0], layout.span[1]),
    };
    views[name]();
    this.draw();
  }
}

function wire(plan) {
  const { canvas } = plan;
  const filters = find("filters");
  const narrowDown = () => {
    plan.filter();
    plan.remember();
  };
  filters.addEventListener("input", narrowDown);
  filters.addEventListener("reset", () => window.setTimeout(narrowDown, 0));
  filters.addEventListener("submit", (event) => event.preventDefault());
  for (const button of document.querySelectorAll("[data-view]")) {
    button.addEventListener("click", () => plan.view(button.dataset.view));
  }
  canvas.addEventListener("keydown", (event) => plan.key(event));
  find("details").addEventListener("keydown", (event) => event.key === "Escape" && plan.clear());
  followPointer(canvas, plan);
  new ResizeObserver(() => plan.draw()).observe(canvas);
}

// On a narrow screen filters and legend are folded away, so that the chart is in sight.
function foldOn(narrow) {
  const fold = () => (find("tools").open = !narrow.matches);
  narrow.addEventListener("change", fold);
  fold();
}

// `?machine=` filters; `?order=` and `?op=` show one order or operation, wherever other pages link to it.
function openFromAddress(plan) {
  const query = new URLSearchParams(window.location.search);
  const asked = (name, found, act) => {
    if (!query.has(name)) return;
    if (found) act();
    else find("chart-note").textContent = `The plan has no ${name === "op" ? "operation" : name} ${query.get(name)}.`;
  };
  const { chart } = plan;
  const machine = query.get("machine");
  asked("machine", chart.rows.some((row) => row.name === machine), () => {
    find("f-machine").value = machine;
    plan.filter();
  });
  const order = chart.orders.findIndex((o) => o.number === query.get("order"));
  asked("order", order >= 0, () => plan.showOrder(order));
  const bar = plan.barOf.get(Number(query.get("op")));
  asked("op", bar, () => plan.open(bar));
}

foldOn(window.matchMedia("(max-width: 40rem)"));
try {
  const plan = new PlanChart(await getJson("/api/plan"));
  movable(plan); // before what follows the pointer: a bar that is dragged does not move the chart
  wire(plan);
  openFromAddress(plan);
  window.planChart = plan;
} catch (fault) {
  find("chart-note").textContent = `The plan could not be loaded: ${fault.message}`;
  throw fault;
}
