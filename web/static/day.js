// Booking, undoing, batches left alone, planning from now, yes and no: sends what was entered and shows what came of it.

import { NoAnswer, postJson, tellFaults } from "./dom.js";
import { runFor } from "./runs.js";
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
  tellFaults(fault);
  faults.scrollIntoView({ block: "nearest" });
}

// Each button's mark, by which the shop knows what it was sent already; made without crypto.randomUUID, which needs https.
const marks = new Map();
function markOf(button) {
  if (!marks.has(button)) marks.set(button, Array.from(crypto.getRandomValues(new Uint32Array(4)), (part) => part.toString(36)).join("-"));
  return marks.get(button);
}

// What was entered is told on the page as it is afterwards.
async function send(address, record, button) {
  tellFaults(null);
  button.disabled = true;
  try {
    const said = await postJson(address, { ...record, who: name(), sent: markOf(button) });
    sessionStorage.setItem("batchwright-told", said.words);
    location.reload();
  } catch (fault) {
    if (fault instanceof NoAnswer) fault.message += "\nIt may have been entered: send it again, it is entered once only.";
    show(fault);
    button.disabled = false;
  }
}

for (const button of document.querySelectorAll("[data-send]")) {
  const { send: address, number, ...said } = button.dataset;
  button.addEventListener("click", () => send(address, number ? { ...said, number: Number(number) } : said, button));
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

// Who says a name that is among the people is taken to do it themselves, until they say otherwise.
function offerSelf() {
  for (const choice of document.querySelectorAll("form.book select[name=person]")) {
    if ([...choice.options].some((one) => one.value === who.value.trim())) choice.value = who.value.trim();
  }
}
if (who) {
  offerSelf();
  who.addEventListener("change", offerSelf);
}

for (const form of document.querySelectorAll("form.book")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const what = event.submitter.value;
    const record = { what, batch: form.dataset.batch, operation: Number(form.dataset.operation), machine: what === "start" ? form.dataset.machine : "" };
    const pieces = form.elements.pieces ? form.elements.pieces.value : "";
    if (pieces !== "" && COUNTS[what]) record[COUNTS[what]] = Number(pieces);
    if (form.elements.person) record.person = form.elements.person.value;
    if (event.submitter.dataset.tornDown) record.torn_down = true;
    send("/api/bookings", record, event.submitter);
  });
}

const replan = document.getElementById("replan");
if (replan) {
  replan.addEventListener("click", async () => {
    let plan = null;
    const ended = await runFor(replan, "/api/replan", () => ({ who: name(), seconds: Number(replan.dataset.seconds) }),
      (now) => (now.state === "running" ? `Planning, ${now.seconds.toFixed(0)} s, ${now.progress.phase ?? "getting ready"} ...` : ""), (found) => { plan = found.plan; });
    if (!ended) return;
    sessionStorage.setItem("batchwright-told", plan ? `Plan ${plan} waits for a decision.` : "No plan was found.");
    location.reload();
  });
}
