// Moving a step by hand: drag its bar to another time or machine, or say it in the form; it tells what that breaks and changes.

import { el, postJson } from "./dom.js";
import { askName, keepName, nameIn } from "./who.js";

const ROUND = 15; // minutes to which a drag is rounded
const LEAST = 6; // pixels: a press that wanders less is a click
const form = document.getElementById("move");
const dragging = document.getElementById("move-drag");
const told = document.getElementById("move-told");
const who = document.getElementById("who");

const two = (n) => String(n).padStart(2, "0");

// Minutes from the plan start to what a field for a local moment holds, by the page's own days: the browser's zone plays no part.
function localText(chart, minute) {
  const day = [...chart.days].reverse().find((d) => d.start <= minute) ?? chart.days[0];
  const mark = [...chart.hour_marks].reverse().find((m) => m.at <= minute && m.at >= day.start);
  const [hour, from] = mark ? [mark.hour, mark.at] : [0, day.start];
  const rest = minute - from;
  return `${day.iso}T${two((hour + Math.floor(rest / 60)) % 24)}:${two(((rest % 60) + 60) % 60)}`;
}

function choose(plan, bar) {
  if (!bar) return;
  const batch = plan.chart.batches[bar.batch];
  form.elements.batch.value = batch.name;
  form.elements.operation.value = bar.number;
  const machines = [...form.elements.machine.options].map((option) => option.value);
  form.elements.machine.value = machines.includes(plan.chart.rows[bar.row].name) ? plan.chart.rows[bar.row].name : "";
  form.elements.until.value = localText(plan.chart, Math.max(0, bar.start));
}

async function send(record) {
  told.replaceChildren(el("p", { role: "status" }, "Timing the plan again ..."));
  try {
    const said = await postJson("/api/decisions", { ...record, who: nameIn(who) });
    keepName(who);
    told.replaceChildren(
      el("p", {}, said.words),
      said.breaks.length ? el("details", { class: "fold", open: true }, el("summary", {}, "As the plan stands, that breaks"), el("ul", { class: "plain" }, ...said.breaks.map((line) => el("li", {}, line)))) : null,
      said.changes ? el("p", {}, "Timed again:") : null,
      said.changes ? el("ul", { class: "plain" }, ...said.changes.map((line) => el("li", {}, line))) : null,
      el("p", {}, said.plan ? el("a", { href: "/today" }, `Plan ${said.plan} waits: look at it and decide`) : "No plan was kept."),
    );
  } catch (fault) {
    told.replaceChildren(el("ul", { class: "faults" }, el("li", {}, fault.message)));
  }
}

function dragOn(plan) {
  const canvas = plan.canvas;
  const ghost = el("div", { class: "ghost", hidden: true });
  canvas.parentElement.append(ghost);
  let held = null;
  const at = (event) => {
    const corner = canvas.getBoundingClientRect();
    return { x: event.clientX - corner.x, y: event.clientY - corner.y };
  };
  const rowAt = (y) => plan.layout.rows.findIndex((row) => row && y >= row.y && y < row.y + row.height);

  canvas.addEventListener("pointerdown", (event) => {
    const point = at(event);
    const bar = dragging.checked && event.button === 0 ? plan.barAt(point.x, point.y) : null;
    if (!bar || bar.start <= 0) return;
    event.stopImmediatePropagation();
    canvas.setPointerCapture(event.pointerId);
    held = { bar, point, by: plan.layout.minute(point.x) - bar.start, start: bar.start, row: bar.row, moved: false };
  }, { capture: true });

  canvas.addEventListener("pointermove", (event) => {
    if (!held) return;
    event.stopImmediatePropagation();
    const point = at(event);
    if (!held.moved && Math.hypot(point.x - held.point.x, point.y - held.point.y) < LEAST) return;
    const row = rowAt(point.y);
    held.start = Math.max(0, Math.round((plan.layout.minute(point.x) - held.by) / ROUND) * ROUND);
    held.row = row >= 0 ? row : held.row;
    held.moved = true;
    const place = plan.layout.rows[held.row];
    ghost.hidden = false;
    ghost.textContent = `${plan.chart.rows[held.row].name} ${localText(plan.chart, held.start).replace("T", " ")}`;
    ghost.style.setProperty("left", `${canvas.offsetLeft + plan.layout.x(held.start)}px`);
    ghost.style.setProperty("top", `${canvas.offsetTop + place.y}px`);
    ghost.style.setProperty("width", `${Math.max(30, (held.bar.end - held.bar.start) * plan.layout.scale)}px`);
  }, { capture: true });

  const drop = (event) => {
    if (!held) return;
    event.stopImmediatePropagation();
    const { bar, start, row, moved } = held;
    held = null;
    ghost.hidden = true;
    if (event.type !== "pointerup" || !moved) return plan.open(bar);
    choose(plan, bar);
    form.elements.what.value = "move";
    form.elements.machine.value = plan.chart.rows[row].name;
    form.elements.until.value = localText(plan.chart, start);
    form.requestSubmit();
  };
  canvas.addEventListener("pointerup", drop, { capture: true });
  canvas.addEventListener("pointercancel", drop, { capture: true });
}

export function movable(plan) {
  if (!form) return;
  askName(who);
  const open = plan.open.bind(plan);
  plan.open = (bar, ...rest) => {
    open(bar, ...rest);
    choose(plan, bar);
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const fields = Object.fromEntries(new FormData(form));
    send({ ...fields, operation: Number(fields.operation), until: fields.until || null });
  });
  dragOn(plan);
}
