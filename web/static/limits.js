// Asking what a tenth more would save: starts the run, and shows the page anew when it is done.

import { runFor } from "./runs.js";

const form = document.getElementById("ask");

function said({ progress: { share, words } }) {
  return share === undefined ? "Getting ready ..." : `${Math.round(100 * share)} %, ${words}`;
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const fields = Object.fromEntries(new FormData(form));
  const question = { seconds: Number(fields.seconds), most: Number(fields.most) };
  if (!(await runFor(form.querySelector("button.main"), "/api/limits/savings", question, said))) return;
  location.hash = "save-title";
  location.reload();
});
