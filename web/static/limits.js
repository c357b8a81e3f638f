// Asking what a tenth more would save: starts the run, watches it, and shows the page anew when it is done.

import { el, getJson, postJson } from "./dom.js";

const form = document.getElementById("ask");
const status = document.getElementById("status");
const stop = document.getElementById("stop");

async function watch(run) {
  for (;;) {
    const now = await getJson(`/api/runs/${run}?after=0`);
    const { share, words } = now.progress;
    status.textContent = share === undefined ? "Getting ready ..." : `${Math.round(100 * share)} %, ${words}`;
    if (now.state === "failed") throw new Error(now.failure);
    if (now.state !== "running") return;
    await new Promise((done) => setTimeout(done, 400));
  }
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button.main");
  button.disabled = true;
  document.getElementById("faults").replaceChildren();
  try {
    const fields = Object.fromEntries(new FormData(form));
    const { run } = await postJson("/api/limits/savings", { seconds: Number(fields.seconds), most: Number(fields.most) });
    stop.hidden = false;
    stop.onclick = () => postJson(`/api/runs/${run}/stop`, {});
    await watch(run);
    location.hash = "save-title";
    location.reload();
  } catch (fault) {
    status.textContent = "";
    document.getElementById("faults").replaceChildren(el("p", { class: "card warn" }, fault.message));
  } finally {
    stop.hidden = true;
    button.disabled = false;
  }
});
