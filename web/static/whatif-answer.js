// The comparison as sentences and tables.

import { counted, el, elapsed, money } from "./dom.js";

const find = (id) => document.getElementById(id);
const WORSE = ["newly late", "later"];
const BETTER = ["saved", "earlier"];

const number = (value) => value.toLocaleString("en-GB");
const items = (place, lines) => place.replaceChildren(...lines.map((line) => el("li", {}, line)));

function table(place, heads, rows) {
  const head = heads.map(([name, kind]) => el("th", { scope: "col", class: kind || null }, name));
  place.replaceChildren(el("thead", {}, el("tr", {}, ...head)), el("tbody", {}, ...rows));
}

function totals({ planned, before, after, short }) {
  const rows = [
    ["Orders late", "late_orders", number],
    ["Late, all orders", "late_min", elapsed],
    ["Cost, first tier (weighted minutes late)", "cost_first", number],
    ["Setting, hours", "setup_min", (minutes) => number(Math.round(minutes / 60))],
    ["Outside charges, pounds", "charges_pence", money],
  ];
  const unproven = short ? ", unproven" : "";
  table(find("totals"), [["What", ""], ["The plan", "num"], [`Planned again${unproven}`, "num"], [`Changed${unproven}`, "num"]],
    rows.map(([name, field, shown]) => el("tr", {}, el("th", { scope: "row" }, name), ...[planned, before, after].map((side) => el("td", { class: "num" }, shown(side[field]))))));
}

function tag(what, differs) {
  if (what === "same") return el("span", { class: "soft nowrap" }, differs ? "within the noise" : "the same");
  return el("span", { class: `tag ${WORSE.includes(what) ? "late" : BETTER.includes(what) ? "good" : "near"}` }, what === "saved" ? "no longer late" : what);
}

function moment(text, late) {
  return el("td", { class: "nowrap" }, text || "not in it", late ? el("span", { class: "soft" }, `, ${elapsed(late)} late`) : null);
}

function order(o) {
  const by = o.later_min ? `${elapsed(o.later_min)} ${o.later_min > 0 ? "later" : "earlier"}` : "";
  return el("tr", { class: o.late_after_min ? "late" : null }, el("th", { scope: "row", class: "nowrap" }, o.order), el("td", {}, o.customer), el("td", {}, o.priority), el("td", { class: "nowrap" }, o.due), moment(o.before, o.late_before_min), moment(o.after, o.late_after_min), el("td", { class: "nowrap" }, by), el("td", { class: "nowrap" }, tag(o.what, o.later_min)));
}

export function showAnswer(answer) {
  items(find("verdict"), answer.verdict);
  items(find("cautions"), answer.cautions);
  find("cautions-part").hidden = !answer.cautions.length;
  totals(answer);
  find("orders-part").hidden = Boolean(answer.short);
  const shown = answer.orders.filter((o) => o.what !== "same" || o.late_before_min || o.late_after_min);
  table(find("orders"), ["Order", "Customer", "Class", "Due", "As it is", "Changed", "By", "What"].map((name) => [name, ""]), shown.map(order));
  find("others").textContent = `${counted(answer.orders.length - shown.length, "other order")} in time in both plans, with no difference beyond the noise of the search.`;
}
