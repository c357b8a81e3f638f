// The panel beside the chart: all about one operation, or one order.

import { el, getJson } from "./dom.js";

export class Details {
  // `actions`: {close(), open(op), order(index)}
  constructor(chart, actions) {
    this.chart = chart;
    this.actions = actions;
    this.panel = document.querySelector("#details");
    this.wanted = null;
  }

  hide() {
    this.wanted = null;
    this.panel.hidden = true;
  }

  async operation(op, focus) {
    this.wanted = op;
    let page;
    try {
      page = await getJson(`/api/operations/${op}?plan=${this.chart.plan}`);
    } catch (fault) {
      page = { title: "No details", late: false, facts: [{ name: "Reason", text: fault.message }], orders: [], way: [] };
    }
    if (this.wanted !== op) return;
    this.show(page.title, page.late, focus, [
      el("dl", { class: "facts" }, ...page.facts.flatMap((f) => [el("dt", {}, f.name), el("dd", {}, f.text)])),
      page.orders.length ? el("h3", {}, page.orders.length > 1 ? "Feeds the orders" : "Feeds the order") : el("p", {}, "Feeds no order: for stock."),
      ...page.orders.map((order) => this.order(order)),
      page.way.length ? el("h3", {}, "Way of the batch") : null,
      el("ol", { class: "way" }, ...page.way.map((step) => this.step(step, op))),
    ]);
  }

  forOrder(index, bars, focus) {
    const order = this.chart.orders[index];
    this.wanted = null;
    const batches = [...new Set(bars.map((bar) => bar.batch))];
    this.show(`Order ${order.number}`, order.late, focus, [
      el("dl", { class: "facts" }, el("dt", {}, "Customer"), el("dd", {}, order.customer), el("dt", {}, "Part"), el("dd", {}, order.part), el("dt", {}, "Class"), el("dd", {}, order.priority)),
      el("p", {}, order.text),
      bars.length ? el("h3", {}, "Its batches") : el("p", {}, "Nothing left to make for it."),
      el("ol", { class: "way" }, ...batches.map((b) => this.batch(b, bars))),
    ]);
  }

  batch(index, bars) {
    const batch = this.chart.batches[index];
    const first = bars.find((bar) => bar.batch === index);
    const open = () => this.actions.open(first.op);
    return el("li", {}, el("button", { type: "button", onclick: open }, batch.name), ` ${batch.part}, from ${first.from_text}`);
  }

  order(order) {
    const press = () => this.actions.order(order.index);
    return el(
      "p",
      {},
      el("button", { type: "button", onclick: press }, `Show ${order.number}`),
      " ",
      order.late ? el("span", { class: "tag late" }, "late") : null,
      ` ${order.text}`,
    );
  }

  step(step, current) {
    const text = `${step.number} ${step.what}`;
    const name = step.op === null || step.op === current ? text : el("button", { type: "button", onclick: () => this.actions.open(step.op) }, text);
    const when = step.op === null ? " done" : ` ${step.place}${step.place ? ", " : ""}${step.from_text} to ${step.to_text}`;
    return el("li", { "aria-current": step.op === current ? "step" : null }, name, when);
  }

  show(title, late, focus, parts) {
    const heading = el("h2", { tabindex: "-1" }, title, late ? " " : "", late ? el("span", { class: "tag late" }, "late") : null);
    const close = el("button", { type: "button", class: "close", "aria-label": "Close details", onclick: () => this.actions.close() }, "✕");
    this.panel.replaceChildren(close, heading, ...parts.filter(Boolean));
    this.panel.classList.toggle("late", late);
    this.panel.hidden = false;
    this.panel.scrollTop = 0;
    if (focus) heading.focus();
  }
}
