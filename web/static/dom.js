// Making elements: all text goes in as text, never as markup.

export function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "onclick") node.addEventListener("click", value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

export function counted(count, one) {
  return `${count} ${count === 1 ? one : `${one}s`}`;
}

export function elapsed(minutes) {
  const size = Math.abs(minutes);
  if (size < 60) return counted(size, "minute");
  if (size < 1440) return counted(Math.round(size / 60), "hour");
  return `${(size / 1440).toFixed(1)} days`;
}

export function money(pence) {
  return (pence / 100).toLocaleString("en-GB", { minimumFractionDigits: 2, maximumFractionDigits: 2 });
}

// An element of a drawing.
export function svg(tag, attributes = {}, text = null) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  if (text !== null) node.textContent = text;
  return node;
}

// What is wrong, a line each, in the page's place for it; null takes it away.
export function tellFaults(fault) {
  const lines = fault === null ? [] : String(fault.message).split("\n");
  const list = el("ul", { class: "faults" }, ...lines.map((line) => el("li", {}, line)));
  document.getElementById("faults").replaceChildren(...(lines.length ? [list] : []));
}

export function getJson(address) {
  return asked(address, {});
}

export function postJson(address, record) {
  return asked(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(record) });
}

export class NoAnswer extends Error {}

async function asked(address, how) {
  let answer, document;
  try {
    answer = await fetch(address, { ...how, headers: { ...how.headers, accept: "application/json" } });
    document = await answer.json();
  } catch {
    throw new NoAnswer("No answer came. Is this device connected, and is the program still running that serves this page?");
  }
  if (!answer.ok) throw new Error(document.error ? document.error.detail : `answer ${answer.status}`);
  return document;
}
