// What goes to the program and comes back. Nothing here or elsewhere asks any other machine.

// The one place where text becomes markup: pages of our own server, in which every word of the talk is escaped.
const own = window.trustedTypes
  ? window.trustedTypes.createPolicy("lesson", { createHTML: (html) => html })
  : { createHTML: (html) => html };

export function put(element, html) {
  element.innerHTML = own.createHTML(html);
}

export async function part(address) {
  const response = await fetch(address, { cache: "no-store" });
  if (!response.ok) throw new Error((await response.text()).trim());
  return response.text();
}

export async function change(address, body) {
  const response = await fetch(address, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
  const type = response.headers.get("content-type") || "";
  const reply = type.startsWith("application/json") ? await response.json() : { message: (await response.text()).trim() };
  return { ...reply, ok: response.ok };
}

// Calls back with {version, serial} now and whenever they change; the browser connects again by itself.
export function watch(changed, lost) {
  const source = new EventSource("/events");
  source.onmessage = (event) => changed(JSON.parse(event.data));
  source.onerror = lost;
}
