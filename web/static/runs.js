// Runs behind a page: started by what a form asks, watched until they end, with the page's stop button, status line, bar and
// place for faults.

import { getJson, postJson, tellFaults } from "./dom.js";

const EACH_MS = 300;

// Disables `button` meanwhile. `question` is a record, or makes one: what it throws is told like any fault. `say(now)` gives the words of the status line, `part(record)` hears each part of the answer once.
// Gives the run as it ended, or null where it failed; the fault is on the page then.
export async function runFor(button, address, question, say, part = () => {}) {
  const [stop, status, bar] = ["stop", "status", "progress"].map((id) => document.getElementById(id));
  const shown = [stop, bar].filter(Boolean);
  tellFaults(null);
  button.disabled = true;
  try {
    const { run } = await postJson(address, typeof question === "function" ? question() : question);
    stop.onclick = () => postJson(`/api/runs/${run}/stop`, {});
    for (const node of shown) node.hidden = false;
    return await watched(run, (now) => {
      now.parts.forEach(part);
      if (bar) bar.value = now.progress.share ?? 0;
      status.textContent = say(now);
    });
  } catch (fault) {
    status.textContent = "";
    tellFaults(fault);
    return null;
  } finally {
    for (const node of shown) node.hidden = true;
    button.disabled = false;
  }
}

async function watched(run, hear) {
  for (let seen = 0; ; ) {
    const now = await getJson(`/api/runs/${run}?after=${seen}`);
    seen = now.count;
    hear(now);
    if (now.state === "failed") throw new Error(now.failure);
    if (now.state !== "running") return now;
    await new Promise((done) => setTimeout(done, EACH_MS));
  }
}
