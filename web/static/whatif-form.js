// The fields of a change: made from what the server says of each kind.

import { el } from "./dom.js";

const DAYS = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
const HINTS = {
  names: "names, with commas",
  dates: "2027-07-10, 2027-07-12..2027-07-16",
  window: "06:00-12:00",
  due: "2027-07-10 or 2027-07-10 12:00",
  moment: "2027-07-10 12:00",
  time: "15:00",
  percent: "12.5",
  pence: "45.00",
};

export class ChangeForm {
  constructor(kind, place, names) {
    this.kind = kind;
    this.place = place;
    this.names = names;
    this.kinds = [];
    kind.addEventListener("change", () => this.lay());
  }

  offer(kinds) {
    this.kinds = kinds;
    this.kind.replaceChildren(...kinds.map((k) => el("option", { value: k.kind }, k.title)));
    this.lay();
  }

  get chosen() {
    return this.kinds.find((k) => k.kind === this.kind.value);
  }

  lay() {
    this.lists = [];
    this.place.replaceChildren(...this.chosen.fields.map((field) => this.field(field)));
    this.names.replaceWith((this.names = el("span", { hidden: true }, ...this.lists)));
  }

  field(field) {
    const label = field.word ? `${field.word} ${field.label}` : field.label;
    return el("label", {}, label, this.input(field), el("span", { class: "note" }, field.needed ? field.meaning : `${field.meaning}; may be left out`));
  }

  input(field) {
    if (field.type === "weekday") return el("select", { name: field.name, required: field.needed }, ...DAYS.map((day) => el("option", {}, day)));
    const common = { name: field.name, required: field.needed, maxlength: 300 };
    if (field.type === "date") return el("input", { ...common, type: "date" });
    if (field.type === "time") return el("input", { ...common, type: "time" });
    if (field.type === "whole" || field.type === "positive") return el("input", { ...common, type: "number", min: field.type === "whole" ? 0 : 1, step: 1 });
    if (field.type === "name" && field.names.length) return this.named(field, common);
    const hint = field.type === "names" && field.names.length ? field.names.slice(0, 3).join(", ") : HINTS[field.type];
    return el("input", { ...common, placeholder: hint ?? null, list: field.type === "names" ? this.list(field) : null });
  }

  // Few names are a choice; many are typed, with a list to pick from.
  named(field, common) {
    if (field.names.length > 30) return el("input", { ...common, list: this.list(field) });
    const empty = field.needed ? [] : [el("option", { value: "" }, "")];
    return el("select", { name: field.name, required: field.needed }, ...empty, ...field.names.map((name) => el("option", {}, name)));
  }

  list(field) {
    const id = `names-${field.name}`;
    this.lists.push(el("datalist", { id }, ...field.names.map((name) => el("option", { value: name }))));
    return id;
  }

  texts() {
    const inputs = [...this.place.querySelectorAll("input, select")];
    const filled = inputs.filter((input) => input.value.trim()).map((input) => [input.name, input.value.trim()]);
    return { kind: this.kind.value, ...Object.fromEntries(filled) };
  }

  empty() {
    for (const input of this.place.querySelectorAll("input")) input.value = "";
  }
}
