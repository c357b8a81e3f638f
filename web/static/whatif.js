// What if: collects changes, has them planned, watches the run, shows the comparison.

import { el, getJson, postJson, tellFaults } from "./dom.js";
import { runFor } from "./runs.js";
import { ChangeForm } from "./whatif-form.js";
import { showAnswer } from "./whatif-answer.js";
import { BothPlans } from "./whatif-chart.js";

const find = (id) => document.getElementById(id);
let changes = []; // as the server gave them back: {texts, text, said, caution}
let kept = {};

// ---- what is said ----------------------------------------------------------

async function guarded(act) {
  tellFaults(null);
  try {
    await act();
  } catch (fault) {
    tellFaults(fault);
  }
}

function showChanges() {
  find("no-changes").hidden = changes.length > 0;
  find("changes").replaceChildren(
    ...changes.map((change, n) =>
      el("li", {}, change.text, " ", el("button", { type: "button", class: "noprint", "aria-label": `Leave out: ${change.text}`, onclick: () => leaveOut(n) }, "Leave out"), change.caution ? el("p", { class: "note" }, change.caution) : null)),
  );
}

function leaveOut(n) {
  changes = changes.filter((_, at) => at !== n);
  showChanges();
}

// All changes are checked together: each against the shop as those before it left it.
async function put(texts) {
  changes = await postJson("/api/whatif/changes", { changes: texts });
  showChanges();
}

// ---- kept questions ---------------------------------------------------------

function showKept(found) {
  kept = found;
  const names = Object.keys(found);
  find("kept").replaceChildren(...(names.length ? names : [""]).map((name) => el("option", { value: name }, name || "none")));
  find("take").disabled = find("forget").disabled = !names.length;
}

function wireKept() {
  find("take").addEventListener("click", () => guarded(async () => {
    const name = find("kept").value;
    await put(kept[name].map((change) => change.texts));
    find("name").value = name;
  }));
  find("forget").addEventListener("click", () => guarded(async () => showKept(await postJson("/api/whatif/named/forget", { name: find("kept").value }))));
  find("keep").addEventListener("click", () => guarded(async () => {
    const name = find("name").value.trim();
    if (!name) throw new Error("Write a name for these changes first.");
    if (!changes.length) throw new Error("Add a change first: there is nothing to keep.");
    showKept(await postJson("/api/whatif/named", { name, changes: changes.map((change) => change.texts) }));
    find("kept").value = name;
    find("status").textContent = `Kept as ${name}. Tables and plan stay as they are.`;
  }));
}

// ---- asking -----------------------------------------------------------------

function show(part) {
  find("result").hidden = false;
  showAnswer(part.answer);
  window.bothPlans = both.set(part.chart);
}

function said(now) {
  if (now.state === "running") return `${now.progress.words ?? "getting ready"}, ${now.seconds.toFixed(0)} s`;
  return now.state === "stopped" ? "Stopped: searched for less long than asked." : `Planned in ${now.seconds.toFixed(1)} s.`;
}

function ask(seconds) {
  find("result").hidden = true;
  runFor(find("question").querySelector("button.main"), "/api/whatif", { changes: changes.map((change) => change.texts), seconds }, said, show);
}

// ---- setting up -------------------------------------------------------------

const both = new BothPlans();
if (find("add")) {
  const form = new ChangeForm(find("kind"), find("fields"), find("names"));
  find("add").addEventListener("submit", (event) => {
    event.preventDefault();
    guarded(async () => {
      await put([...changes.map((change) => change.texts), form.texts()]);
      form.empty();
    });
  });
  find("question").addEventListener("submit", (event) => {
    event.preventDefault();
    ask(Number(new FormData(find("question")).get("seconds")));
  });
  find("clear").addEventListener("click", () => {
    changes = [];
    find("result").hidden = true;
    find("status").textContent = "";
    showChanges();
  });
  form.offer(await getJson("/api/whatif/kinds"));
  if (find("kept")) {
    wireKept();
    guarded(async () => showKept(await getJson("/api/whatif/named")));
  }
  showChanges();
  const given = new URLSearchParams(window.location.search).get("changes");
  if (given) guarded(() => put(JSON.parse(given)));
}
