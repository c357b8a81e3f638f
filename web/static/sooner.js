// Ways to have an order sooner: sends the form, shows each way as it has been planned, then all in order.

import { counted, el, elapsed, money } from "./dom.js";
import { runFor } from "./runs.js";

const find = (id) => document.getElementById(id);
const form = find("ask");
let ways = [];
let before = []; // changes that a what if has to begin with: an enquiry is an order that the shop does not have

function hurts(way) {
  if (way.hurt.length) return el("ul", { class: "plain" }, ...way.hurt.map((h) => el("li", {}, h.text)));
  return way.moved ? `nobody; ${counted(way.moved, "other order")} ready at another time, none past its promise` : "nobody";
}

function line(way) {
  const gained = way.gained_min === 0 ? "as planned" : `${elapsed(way.gained_min)} ${way.gained_min > 0 ? "sooner" : "later"}`;
  const again = way.alterations.length ? el("a", { class: "noprint", href: `/whatif?changes=${encodeURIComponent(JSON.stringify([...before, ...way.alterations]))}` }, "Ask it as what if") : null;
  return el("tr", {},
    el("td", {}, el("span", { class: `tag ${way.reaches ? "good" : "near"}` }, way.reaches ? "in time" : "not in time")),
    el("th", { scope: "row", class: "what" }, ...way.texts.map((text) => el("div", {}, text)), again),
    el("td", { class: "nowrap" }, way.ready), el("td", { class: "nowrap" }, gained),
    el("td", { class: "num" }, way.hours_min ? (way.hours_min / 60).toFixed(1) : ""),
    el("td", { class: "num" }, way.pence ? money(way.pence) : ""), el("td", { class: "num" }, way.cost_pence ? money(way.cost_pence) : ""),
    el("td", { class: "why" }, hurts(way)));
}

function show() {
  const gaining = ways.filter((way) => !way.nothing);
  const idle = ways.filter((way) => way.nothing);
  const heads = ["", "What", "Ready", "Against the plan", "Extra hours", "Charges, pounds", "Weighs, pounds", "Hurts"];
  find("ways").replaceChildren(el("thead", {}, el("tr", {}, ...heads.map((name) => el("th", { scope: "col" }, name)))), el("tbody", {}, ...gaining.map(line)));
  const reasons = [...new Set(idle.map((way) => way.nothing))];
  find("nothing").replaceChildren(
    ...reasons.map((reason) =>
      el("li", {}, el("strong", {}, `${reason[0].toUpperCase()}${reason.slice(1)}`), el("ul", { class: "plain" }, ...idle.filter((way) => way.nothing === reason).map((way) => el("li", {}, way.texts.join(" ")))))),
  );
  const cautions = [...new Set(gaining.flatMap((way) => way.cautions))];
  find("cautions").replaceChildren(...cautions.map((text) => el("li", {}, text)));
  find("ways").hidden = !gaining.length;
  find("nothing-title").hidden = !idle.length;
  find("cautions-title").hidden = !cautions.length;
  find("result").hidden = false;
}

function take(part) {
  before = part.before;
  if (part.way) {
    ways.push(part.way);
  } else {
    ways = part.all;
    const reached = ways.some((way) => way.reaches);
    const ending = part.already ? "It is planned in time already: nothing was planned." : reached ? "" : "No way that was tried reaches it.";
    find("asked").textContent = `${part.due ? `Order ${part.order}, due ${part.due}` : "The enquiry"}, planned ${part.planned}, wanted by ${part.wanted}. ${ending}`;
    find("noise").textContent = part.noise;
    find("weighing").textContent = part.weighing;
  }
  show();
}

function said(now) {
  if (now.state === "running") return `Planning with: ${now.progress.words ?? "the order first"}, ${now.seconds.toFixed(0)} s`;
  return now.state === "stopped" ? "Stopped: these are the ways so far." : `Planned in ${now.seconds.toFixed(1)} s.`;
}

if (form) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ways = [];
    find("asked").textContent = find("weighing").textContent = find("noise").textContent = "";
    find("result").hidden = true;
    const fields = Object.fromEntries(new FormData(form));
    const question = { ...fields, order: (fields.order ?? "").trim(), pieces: Number(fields.pieces ?? 0), earliest: fields.earliest || null, seconds: Number(fields.seconds) };
    runFor(form.querySelector("button.main"), "/api/sooner", question, said, take);
  });
}
