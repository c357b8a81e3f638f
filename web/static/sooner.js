// Ways to have an order sooner: sends the form, shows each way as it has been planned, then all in order.

import { counted, el, getJson, postJson } from "./dom.js";

const find = (id) => document.getElementById(id);
const form = find("ask");
let ways = [];

function elapsed(minutes) {
  const size = Math.abs(minutes);
  if (size < 60) return counted(size, "minute");
  if (size < 1440) return counted(Math.round(size / 60), "hour");
  return `${(size / 1440).toFixed(1)} days`;
}

const money = (pence) => (pence / 100).toLocaleString("en-GB", { minimumFractionDigits: 2, maximumFractionDigits: 2 });

function hurts(way) {
  if (way.hurt.length) return el("ul", { class: "plain" }, ...way.hurt.map((h) => el("li", {}, h.text)));
  return way.moved ? `nobody; ${counted(way.moved, "other order")} ready at another time, none past its promise` : "nobody";
}

function line(way) {
  const gained = way.gained_min === 0 ? "as planned" : `${elapsed(way.gained_min)} ${way.gained_min > 0 ? "sooner" : "later"}`;
  const again = way.alterations.length ? el("a", { class: "noprint", href: `/whatif?changes=${encodeURIComponent(JSON.stringify(way.alterations))}` }, "Ask it as what if") : null;
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
  find("nothing-title").hidden = !idle.length;
  find("cautions-title").hidden = !cautions.length;
  find("result").hidden = false;
}

function take(part) {
  if (part.way) {
    ways.push(part.way);
  } else {
    ways = part.all;
    const reached = ways.some((way) => way.reaches);
    find("asked").textContent = `${part.due ? `Order ${part.order}, due ${part.due}` : "The enquiry"}, planned ${part.planned}, wanted by ${part.wanted}. ${reached ? "" : "No way that was tried reaches it."}`;
    find("weighing").textContent = part.weighing;
  }
  show();
}

async function watch(run) {
  for (let seen = 0; ; ) {
    const now = await getJson(`/api/runs/${run}?after=${seen}`);
    now.parts.forEach(take);
    seen = now.count;
    find("progress").value = now.progress.share ?? 0;
    find("status").textContent = now.state === "running" ? `Planning with: ${now.progress.words ?? "the order first"}, ${now.seconds.toFixed(0)} s` : now.state === "stopped" ? "Stopped: these are the ways so far." : `Planned in ${now.seconds.toFixed(1)} s.`;
    if (now.state === "failed") throw new Error(now.failure);
    if (now.state !== "running") return;
    await new Promise((done) => setTimeout(done, 300));
  }
}

if (form) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const main = form.querySelector("button.main");
    ways = [];
    find("faults").replaceChildren();
    find("asked").textContent = find("weighing").textContent = "";
    find("result").hidden = main.disabled = true;
    try {
      const fields = Object.fromEntries(new FormData(form));
      const { run } = await postJson("/api/sooner", { ...fields, order: (fields.order ?? "").trim(), pieces: Number(fields.pieces ?? 0), earliest: fields.earliest || null, seconds: Number(fields.seconds) });
      find("stop").hidden = find("progress").hidden = false;
      find("stop").onclick = () => postJson(`/api/runs/${run}/stop`, {});
      await watch(run);
    } catch (fault) {
      find("faults").replaceChildren(el("ul", { class: "faults" }, el("li", {}, fault.message)));
      find("status").textContent = "";
    } finally {
      find("stop").hidden = find("progress").hidden = true;
      main.disabled = false;
    }
  });
}
