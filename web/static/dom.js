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

export function getJson(address) {
  return asked(address, {});
}

export function postJson(address, record) {
  return asked(address, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(record) });
}

async function asked(address, how) {
  const answer = await fetch(address, { ...how, headers: { ...how.headers, accept: "application/json" } });
  const document = await answer.json();
  if (!answer.ok) throw new Error(document.error ? document.error.detail : `answer ${answer.status}`);
  return document;
}
