// The rows of the chart as a table, some at a time, so that a large plan stays quick.

import { counted, el } from "./dom.js";

const PAGE = 200;

export class RowTable {
  constructor(chart, open) {
    this.chart = chart;
    this.open = open;
    this.body = document.querySelector("#rows tbody");
    this.count = document.querySelector("#rows-count");
    this.more = document.querySelector("#rows-more");
    this.more.addEventListener("click", () => this.show(this.shown + PAGE));
  }

  set(bars) {
    this.bars = [...bars].sort((a, b) => a.row - b.row || a.start - b.start || a.op - b.op);
    this.body.replaceChildren();
    this.shown = 0;
    this.show(PAGE);
  }

  show(upto) {
    const rows = this.bars.slice(this.shown, upto).map((bar) => this.row(bar));
    this.body.append(...rows);
    this.shown += rows.length;
    this.more.hidden = this.shown >= this.bars.length;
    const all = this.chart.bars.length;
    const match = this.bars.length === all ? "" : `${this.bars.length} that match, of `;
    this.count.textContent = `${match}${counted(all, "operation")}; ${this.shown} in the table.`;
  }

  row(bar) {
    const { chart } = this;
    const batch = chart.batches[bar.batch];
    const button = el("button", { type: "button", class: "link", onclick: () => this.open(bar) }, `${batch.name} · ${bar.number}`);
    const orders = batch.orders.map((o) => chart.orders[o].number);
    return el(
      "tr",
      { "data-op": bar.op, class: batch.late ? "late" : null },
      el("th", { scope: "row", class: "nowrap" }, chart.rows[bar.row].name),
      el("td", { class: "nowrap" }, button),
      el("td", {}, batch.part),
      el("td", {}, bar.what),
      el("td", {}, orders.slice(0, 3).join(", ") + (orders.length > 3 ? ` and ${orders.length - 3} more` : "")),
      el("td", { class: "num" }, String(bar.pieces)),
      el("td", { class: "nowrap" }, bar.from_text),
      el("td", { class: "nowrap" }, bar.to_text),
      el("td", {}, bar.waited),
      el("td", {}, batch.late ? el("span", { class: "tag late" }, "late") : ""),
    );
  }
}
