// Booking, undoing, planning from now, yes and no: sends what was entered and shows what came of it.

import { el, getJson, postJson } from "./dom.js";
import { askName, keepName, nameIn } from "./who.js";

const who = document.getElementById("who");
const status = document.getElementById("status");
const faults = document.getElementById("faults");

if (who) {
  askName(who);
  who.addEventListener("change", () => keepName(who));
  document.getElementById("who-form").addEventListener("submit", (event) => event.preventDefault());
}
const told = sessionStorage.getItem("batchwright-told");
if (told && status) status.textContent = told;
sessionStorage.removeItem("batchwright-told");

function name() {
  const given = nameIn(who);
  keepName(who);
  return given;
}

function show(fault) {
  faults.replaceChildren(el("ul", { class: "faults" }, ...String(fault.message).split("\n").map((line) => el("li", {}, line))));
  faults.scrollIntoView({ block: "nearest" });
}

// What was entered is told on the page as it is afterwards.
async function send(address, record, button) {
  faults.replaceChildren();
  button.disabled = true;
  try {
    const said = await postJson(address, { ...record, who: name() });
    sessionStorage.setItem("batchwright-told", said.words);
    location.reload();
  } catch (fault) {
    show(fault);
    button.disabled = false;
  }
}

for (const button of document.querySelectorAll("[data-send]")) {
  const number = button.dataset.number ? Number(button.dataset.number) : null;
  button.addEventListener("click", () => send(button.dataset.send, { number }, button));
}

// What happened: the fields that each kind of event has.
const happened = document.getElementById("event");
if (happened) {
  const kind = happened.elements.what;
  const offer = () => {
    const [of, ...fields] = kind.selectedOptions[0].dataset.fields.split(" ");
    happened.elements.subject.setAttribute("list", `names-${of}`);
    for (const label of happened.querySelectorAll("[data-field]")) label.hidden = !fields.includes(label.dataset.field);
  };
  kind.addEventListener("change", offer);
  offer();
  happened.addEventListener("submit", (event) => {
    event.preventDefault();
    const record = { what: kind.value, subject: happened.elements.subject.value.trim() };
    for (const label of happened.querySelectorAll("[data-field]:not([hidden])")) {
      const { value } = label.querySelector("input, select");
      if (value !== "") record[label.dataset.field] = label.dataset.field === "quantity" ? Number(value) : value;
    }
    send("/api/events", record, event.submitter);
  });
}

const COUNTS = { good: "good", scrap: "scrap", rework: "rework", "came back": "scrap", "first-off failed": "scrap", finish: "good", stop: "good" };

for (const form of document.querySelectorAll("form.book")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const what = event.submitter.value;
    const record = { what, batch: form.dataset.batch, operation: Number(form.dataset.operation), machine: what === "start" ? form.dataset.machine : "" };
    const pieces = form.elements.pieces ? form.elements.pieces.value : "";
    if (pieces !== "" && COUNTS[what]) record[COUNTS[what]] = Number(pieces);
    if (event.submitter.dataset.tornDown) record.torn_down = true;
    send("/api/bookings", record, event.submitter);
  });
}

const replan = document.getElementById("replan");
if (replan) {
  const stop = document.getElementById("stop");
  const bar = document.getElementById("progress");
  replan.addEventListener("click", async () => {
    faults.replaceChildren();
    replan.disabled = true;
    try {
      const { run } = await postJson("/api/replan", { who: name(), seconds: Number(replan.dataset.seconds) });
      stop.hidden = bar.hidden = false;
      stop.onclick = () => postJson(`/api/runs/${run}/stop`, {});
      await watch(run, bar);
    } catch (fault) {
      status.textContent = "";
      show(fault);
    } finally {
      stop.hidden = bar.hidden = true;
      replan.disabled = false;
    }
  });
}

async function watch(run, bar) {
  for (;;) {
    const now = await getJson(`/api/runs/${run}?after=0`);
    bar.value = now.progress.share || 0;
    status.textContent = now.state === "running" ? `Planning, ${now.seconds.toFixed(0)} s ...` : "";
    if (now.state === "failed") throw new Error(now.failure);
    if (now.state !== "running") {
      const [found] = now.parts;
      sessionStorage.setItem("batchwright-told", found && found.plan ? `Plan ${found.plan} waits for a decision.` : "No plan was found.");
      location.reload();
      return;
    }
    await new Promise((done) => setTimeout(done, 300));
  }
}
