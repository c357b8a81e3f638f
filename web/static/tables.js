// Tables that can be sorted by their headings, searched and cut down to what is late. They are complete without it.

import { counted } from "./dom.js";

const collator = new Intl.Collator("en", { numeric: true, sensitivity: "base" });

function keyOf(row, column) {
  const cell = row.cells[column];
  return cell.dataset.key === undefined ? cell.textContent.trim() : Number(cell.dataset.key);
}

function compare(a, b) {
  return typeof a === "number" && typeof b === "number" ? a - b : collator.compare(String(a), String(b));
}

function sortBy(table, column) {
  const heading = table.tHead.rows[0].cells[column];
  const down = heading.getAttribute("aria-sort") === "ascending";
  for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
  heading.setAttribute("aria-sort", down ? "descending" : "ascending");
  const body = table.tBodies[0];
  const rows = [...body.rows].map((row, at) => ({ row, at, key: keyOf(row, column) }));
  rows.sort((a, b) => (down ? -1 : 1) * compare(a.key, b.key) || a.at - b.at);
  body.append(...rows.map((entry) => entry.row));
}

function makeSortable(table) {
  [...table.tHead.rows[0].cells].forEach((heading, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = heading.textContent;
    button.addEventListener("click", () => sortBy(table, column));
    heading.replaceChildren(button);
  });
}

function filterBy(form, table) {
  const words = form.querySelector("[data-find]").value.toLowerCase().split(/\s+/).filter(Boolean);
  const choices = [...form.querySelectorAll("[data-column]")].filter((choice) => choice.value);
  const late = form.querySelector("[data-late]").checked;
  let shown = 0;
  for (const row of table.tBodies[0].rows) {
    const text = row.textContent.toLowerCase();
    const fits =
      words.every((word) => text.includes(word)) &&
      choices.every((choice) => row.cells[choice.dataset.column].textContent.trim() === choice.value) &&
      (!late || row.classList.contains("late"));
    row.hidden = !fits;
    shown += fits ? 1 : 0;
  }
  const count = document.querySelector(`[data-count="${table.id}"]`);
  const all = table.tBodies[0].rows.length;
  count.textContent = shown === all ? `${counted(all, table.dataset.rows)}.` : `${shown} of ${counted(all, table.dataset.rows)} match.`;
}

for (const table of document.querySelectorAll("table[data-sortable]")) makeSortable(table);
for (const form of document.querySelectorAll("form[data-filters]")) {
  const table = document.getElementById(form.dataset.filters);
  form.addEventListener("input", () => filterBy(form, table));
  form.addEventListener("reset", () => setTimeout(() => filterBy(form, table)));
  form.addEventListener("submit", (event) => event.preventDefault());
}
