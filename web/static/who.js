// Whose entry it is: asked once, kept in this browser.

const KEPT = "batchwright-who";

export function askName(field) {
  if (field) field.value = localStorage.getItem(KEPT) || "";
}

export function keepName(field) {
  if (field) localStorage.setItem(KEPT, field.value.trim());
}

export function nameIn(field) {
  if (!field.value.trim()) {
    field.focus();
    throw new Error("Say your name first: it stands beside what is entered.");
  }
  return field.value.trim();
}
