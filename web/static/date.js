// Asking for a date: sends the form, watches the run, shows each answer as it comes.

import { counted, el, elapsed, postJson } from "./dom.js";
import { waysChart } from "./date-chart.js";
import { runFor } from "./runs.js";
import { askName, keepName } from "./who.js";

const form = document.getElementById("ask");
const answers = document.getElementById("answers");
const keeping = document.getElementById("keeping");
const TITLES = {
  "behind everything": ["Behind everything", "Nothing that is planned moves."],
  "without breaking a promise": ["Without breaking a promise", "Others may move, none past its promise or later than it is already."],
  "by the wanted date": ["For the wanted date", "As near to it as it gets, and then at the least harm to others."],
  "part of it by the wanted date": ["Part of it in time", "As many as can be had with nothing else moved."],
};
const FEW = 6;
const EDGES = 32; // pixels of a card beside what is in it
let question = null;
let run = null; // that answered it

function asked() {
  const fields = Object.fromEntries(new FormData(form));
  for (const name of ["wanted", "earliest"]) fields[name] = fields[name] || null;
  return { ...fields, steps: stepsTyped(), pieces: Number(fields.pieces), sure: Number(fields.sure), seconds: Number(fields.seconds) };
}

// A row counts once anything is typed in it: its kind alone does not.
function stepsTyped() {
  return [...document.querySelectorAll("#steps tbody tr")].map((row) =>
    Object.fromEntries([...row.querySelectorAll("[data-column]")].map((cell) => [cell.dataset.column, cell.value.trim()]).filter(([, text]) => text)))
    .filter((step) => Object.keys(step).length > 1);
}

function addStep() {
  const rows = document.querySelector("#steps tbody");
  rows.append(document.getElementById("step-row").content.cloneNode(true));
  rows.lastElementChild.querySelector("[data-column=operation]").placeholder = 10 * rows.children.length;
}

function againstWanted(reply) {
  if (reply.late_min === null) return null;
  if (reply.late_min <= 0) return el("span", { class: "tag good" }, reply.late_min === 0 ? "on the minute" : `${elapsed(reply.late_min)} before wanted`);
  return el("span", { class: "tag late" }, `${elapsed(reply.late_min)} after wanted`);
}

function lines(title, texts, open = false) {
  if (!texts.length) return null;
  return el("details", { class: "fold", open }, el("summary", {}, title), el("ul", { class: "plain" }, ...texts.map((text) => el("li", {}, text))));
}

function beforeText(moved) {
  if (moved.late_before_min) return `${elapsed(moved.late_before_min)} late`;
  return moved.early_before_min ? `in time (${elapsed(moved.early_before_min)} early)` : "on the minute";
}

function others(reply) {
  if (!reply.moved.length) return el("p", {}, "No other order moves.");
  if (!reply.slips.length) {
    const later = reply.moved.filter((m) => m.later_min >= 1440);
    return el("p", {}, `No promise is broken. ${later.length ? `${counted(later.length, "order")} ready a day or more later than planned, still in time.` : "No order is a day later than planned."}`);
  }
  return el("div", {},
    el("p", {}, el("span", { class: "tag late" }, `${counted(reply.slips.length, "order")} slip${reply.slips.length === 1 ? "s" : ""}`)),
    slipTable(reply.slips.slice(0, FEW)),
    reply.slips.length > FEW ? el("details", { class: "fold" }, el("summary", {}, `${counted(reply.slips.length - FEW, "more order")}`), slipTable(reply.slips.slice(FEW))) : null);
}

function slipTable(slips) {
  const rows = slips.map((m) => el("tr", {}, el("th", { scope: "row", class: "nowrap" }, m.order), el("td", {}, m.customer), el("td", { class: "nowrap" }, m.ready), el("td", {}, `${elapsed(m.late_now_min)} late, was ${beforeText(m)}`)));
  const head = ["Order", "Customer", "Ready", "Past its promise"].map((name) => el("th", { scope: "col" }, name));
  return el("div", { class: "scroll", tabindex: "0" }, el("table", { class: "data" }, el("thead", {}, el("tr", {}, ...head)), el("tbody", {}, ...rows)));
}

function card(reply) {
  const [title, meaning] = TITLES[reply.way];
  const sure = reply.safe ? el("p", {}, `Likely ${reply.likely}; ${reply.sure_percent} % sure: `, el("strong", {}, reply.safe), ".") : null;
  const chance = reply.chance_wanted === null ? null : el("p", {}, `Chance of the wanted date: ${Math.round(100 * reply.chance_wanted)} %.`);
  return el("article", { class: `card answer${reply.slips.length ? " warn" : ""}`, "data-way": reply.way },
    el("h2", {}, title), el("p", {}, meaning),
    el("p", { class: "date" }, el("span", { class: "big" }, reply.ready), `${reply.pieces.toLocaleString("en-GB")} pieces, as planned`),
    el("p", { class: "marks" }, againstWanted(reply), reply.proved_earliest ? el("span", { class: "tag good" }, "none is earlier") : null),
    sure, chance, others(reply), waysChart(reply.used, answers.clientWidth - EDGES),
    reply.why ? el("p", {}, reply.why.sentence) : null, reply.why ? lines("Where the time goes", reply.why.causes.map((cause) => cause.text)) : null, lines("Its kit, the latest first", reply.kit.map((k) => k.text)));
}

function show(part) {
  if (part.all) {
    document.getElementById("assumptions").replaceChildren(...part.all.assumptions.map((line) => el("li", {}, line)));
    document.getElementById("more").hidden = false;
    for (const [way, own] of Object.entries(part.all.own)) {
      const rests = lines("This one alone rests on", own, true);
      if (rests) answers.querySelector(`[data-way="${way}"]`)?.append(rests);
    }
    for (const note of part.all.notes) answers.append(el("p", { class: "card warn" }, note));
    if (keeping) {
      keeping.elements.answer.replaceChildren(...Object.keys(part.all.own).map((way) => el("option", { value: way }, TITLES[way][0])));
      document.getElementById("keep").hidden = false;
    }
    if (question.like || question.steps.length) {
      answers.append(el("p", { class: "card noprint" }, "What would bring it forward is worked out for parts of the tables only: keep this as an order, and it can be asked of that."));
    } else {
      const fields = { part: question.part, pieces: question.pieces, by: question.wanted ?? "", earliest: question.earliest ?? "" };
      answers.append(el("p", { class: "card noprint" }, el("a", { href: `/sooner?${new URLSearchParams(fields)}` }, "What would bring it forward?"), " Extra hours, another machine, two halves, a special collection: each really planned."));
    }
    return;
  }
  const old = answers.querySelector(`[data-way="${part.way}"]`);
  if (part.better) {
    const line = el("p", { class: "card answer", "data-way": part.way }, `${TITLES[part.way][0]}: `, el("strong", {}, part.better), " so far, still looking.");
    old ? old.replaceWith(line) : answers.append(line);
    return;
  }
  old ? old.replaceWith(card(part.reply)) : answers.append(card(part.reply));
}

function said(now) {
  run = now.number;
  if (now.state === "running") return `Working it out, ${now.seconds.toFixed(0)} s ...`;
  return now.state === "stopped" ? "Stopped: these are the answers so far." : `Answered in ${now.seconds.toFixed(1)} s.`;
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  answers.replaceChildren();
  document.getElementById("more").hidden = true;
  if (keeping) document.getElementById("keep").hidden = true;
  question = asked();
  run = null;
  runFor(form.querySelector("button.main"), "/api/date", question, said, show);
});

document.getElementById("add-step")?.addEventListener("click", addStep);

if (keeping) {
  askName(keeping.elements.who);
  keeping.addEventListener("submit", async (event) => {
    event.preventDefault();
    const kept = document.getElementById("kept");
    const fields = Object.fromEntries(new FormData(keeping));
    try {
      const answer = await postJson("/api/date/keep", { ...question, answer: fields.answer, number: fields.number, promise: fields.promise || null, hold_until: fields.hold_until || null, who: fields.who ?? "", run });
      keepName(keeping.elements.who);
      kept.textContent = answer.note;
    } catch (fault) {
      kept.textContent = fault.message;
    }
  });
}
