// Both plans on one canvas, drawn like the plan chart: two strips a machine, what stands the same in both pale.

import { el } from "./dom.js";
import { Layout } from "./chart-layout.js";
import { Painter } from "./chart-draw.js";
import { followPointer } from "./chart-pointer.js";

const find = (id) => document.getElementById(id);

export class BothPlans {
  constructor() {
    this.canvas = find("chart");
    this.lit = null;
    if (!this.canvas) return;
    for (const id of ["only-moved", "only-order"]) find(id).addEventListener("change", () => this.place());
    for (const button of document.querySelectorAll("[data-view]")) button.addEventListener("click", () => this.view(button.dataset.view));
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    followPointer(this.canvas, this);
    new ResizeObserver(() => this.draw()).observe(this.canvas);
  }

  set({ chart, moved, first_after: firstAfter }) {
    this.chart = chart;
    this.moved = new Set(moved);
    this.firstAfter = firstAfter;
    this.layout = new Layout(chart);
    this.painter = new Painter(find("axis"), this.canvas, this.layout);
    this.selected = null;
    const numbers = [...new Set(chart.orders.map((order) => order.number))].sort();
    find("only-order").replaceChildren(el("option", { value: "" }, "all"), ...numbers.map((number) => el("option", {}, number)));
    this.place();
    return this;
  }

  // Which rows and bars are on show; a machine's two strips stay together.
  place() {
    if (!this.chart) return;
    const number = find("only-order").value;
    const feeds = (bar) => this.chart.batches[bar.batch].orders.some((o) => this.chart.orders[o].number === number);
    this.fits = (bar) => (number ? feeds(bar) : this.moved.has(bar.op));
    const only = find("only-moved").checked || number;
    const used = new Set(this.chart.bars.filter(this.fits).map((bar) => bar.row >> 1));
    this.height = this.layout.place((row) => !only || !used.size || used.has(row >> 1));
    this.draw();
  }

  draw() {
    if (!this.chart || this.waiting) return;
    this.waiting = true;
    window.requestAnimationFrame(() => {
      this.waiting = false;
      this.layout.width = this.canvas.clientWidth;
      this.painter.paint(this.height, { bars: this.chart.bars, dim: (bar) => !this.fits(bar), selected: this.selected, cursor: null, way: null });
      this.canvas.dataset.drawn = "yes";
    });
  }

  barAt(x, y) {
    if (!this.chart || x < this.layout.names) return null;
    return this.chart.bars.find((bar) => {
      const box = this.layout.box(bar);
      return box && x >= box.x - 2 && x <= box.x + box.width + 2 && y >= box.y && y <= box.y + box.height;
    }) ?? null;
  }

  open(bar) {
    this.selected = bar;
    const batch = this.chart.batches[bar.batch];
    const orders = batch.orders.map((o) => `${this.chart.orders[o].number}: ${this.chart.orders[o].text}`).join("; ");
    const side = bar.op < this.firstAfter ? "As it is" : "Changed";
    find("chart-note").textContent = `${side}: ${batch.name} step ${bar.number}, ${bar.what}, ${batch.part}, ${bar.from_text} to ${bar.to_text}. Waited for ${bar.waited}. ${orders || "For stock."}`;
    this.draw();
  }

  key(event) {
    if (!this.chart || event.ctrlKey || event.metaKey || event.altKey) return;
    const size = this.layout.to - this.layout.from;
    const acts = { ArrowLeft: () => this.layout.pan(-size / 8), ArrowRight: () => this.layout.pan(size / 8), "+": () => this.layout.zoom(0.7), "-": () => this.layout.zoom(1 / 0.7), Home: () => this.layout.twoWeeks() };
    if (!acts[event.key]) return;
    event.preventDefault();
    acts[event.key]();
    this.draw();
  }

  view(name) {
    if (!this.chart) return;
    const { layout } = this;
    const size = layout.to - layout.from;
    const views = { earlier: () => layout.pan(-size / 2), later: () => layout.pan(size / 2), in: () => layout.zoom(0.6), out: () => layout.zoom(1 / 0.6), weeks: () => layout.twoWeeks(), all: () => layout.look(layout.span[0], layout.span[1]) };
    views[name]();
    this.draw();
  }
}
