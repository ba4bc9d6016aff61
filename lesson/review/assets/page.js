// The state of the page and what it does; keys.js says what makes it do so.
import { change, part, put, watch } from "./remote.js";
import { rest } from "./sound.js";

const find = (selector, within = document) => within.querySelector(selector);
export const all = (selector, within = document) => [...within.querySelectorAll(selector)];
export const phrase = () => find("#phrase");

let flip = false;
let going = false; // "back to ...": the next position chosen is the answer
let from = ""; // the square a move starts from
let busy = false;
let missed = null; // what the program said of itself meanwhile
let foreign = false; // the last answer came from another window
let quiet = 0; // until then keys do not answer, because what they mean has just changed
const QUIET_MS = 250; // nobody reads a new question and answers it faster (a rule of thumb: reaction times start there)

const state = () => find("#state").dataset;
const span = (element) => [Number(element.dataset.first), Number(element.dataset.last)];

export function say(text) {
  const said = find("#said");
  said.textContent = said.textContent === text ? `${text} ` : text;
}

// -------------------------------------------------------------------------------------------------- choosing words

// Show words on the board and in the card; `at` is a position other than that in which they were said. `unasked`: it is
// not the user who chose them.
export async function choose(first, last, { at = "", focus = "", scroll = true, unasked = false } = {}) {
  const query = new URLSearchParams({ first, last, at, flip: flip ? "yes" : "" });
  const html = await part(`/card?${query}`);
  const offers = () => all(".offer", find("#card")).map((offer) => offer.textContent).join();
  const typed = find("#answer");
  const kept = typed && document.activeElement === typed && phrase() && same(span(phrase()), [first, last])
    ? [typed.value, typed.selectionStart] : null;
  const held = document.activeElement && find("#card").contains(document.activeElement)
    ? document.activeElement.dataset.square || document.activeElement.id : "";
  const before = offers();
  put(find("#card"), html);
  from = "";
  if (unasked && before !== offers()) quiet = performance.now() + QUIET_MS;
  if (kept) {
    const input = find("#answer");
    input.value = kept[0];
    input.focus();
    input.setSelectionRange(kept[1], kept[1]);
  } else if (held) {
    (find(`[data-square="${held}"]`) || document.getElementById(held) || find("#desk")).focus({ preventScroll: true });
  }
  mark(scroll);
  rest();
  if (focus) find(focus)?.focus();
}

const same = (a, b) => a[0] === b[0] && a[1] === b[1];

// Mark the chosen words, question and move, and make them the ones the tab key comes to.
function mark(scroll) {
  const [first, last] = span(phrase());
  const here = phrase().dataset.spot;
  for (const old of all("[aria-current]", find("main"))) old.removeAttribute("aria-current");
  const lit = [
    ["#talk", all("#talk [data-first]").filter((e) => overlaps(span(e), [first, last]))],
    ["#questions", all("#questions .ask").filter((e) => same(span(e), [first, last]))],
    ["#doubts", all("#doubts .doubt").filter((e) => same(span(e), [first, last]))],
    ["#beside", all("#beside .note").filter((e) => e.dataset.spot ? e.dataset.spot === here : same(span(e), [first, last]))],
    ["#tree", all(`#tree [data-spot="${here}"]`)],
  ];
  for (const [room, elements] of lit) {
    for (const element of elements) element.setAttribute("aria-current", "true");
    const lead = elements.find((element) => element.matches("[tabindex]"));
    if (lead) stop(lead, room);
    if (scroll && elements.length) reveal(elements[0]);
  }
}

function overlaps([a, b], [c, d]) {
  return c === d || a === b ? a === c && b === d : a < d && c < b;
}

// One element of a group can be reached with the tab key; arrow keys do the rest.
export function stop(element, room) {
  for (const other of all('[tabindex="0"]', find(room))) other.tabIndex = -1;
  element.tabIndex = 0;
}

function reveal(element) {
  const room = element.closest(".scrolls, section, nav");
  const box = element.getBoundingClientRect();
  const frame = room.getBoundingClientRect();
  if (room.scrollHeight > room.clientHeight + 2 && (box.top < frame.top + 30 || box.bottom > frame.bottom - 30)) {
    room.scrollTop += box.top - frame.top - frame.height / 3;
  }
}

export function step(by, selector) {
  const marks = all(selector);
  const [first] = phrase() ? span(phrase()) : [0];
  const now = marks.findIndex((element) => element.getAttribute("aria-current") === "true");
  let next = now + by;
  if (now < 0) {
    next = marks.findIndex((element) => Number(element.dataset.first) >= first);
    if (by < 0) next = (next < 0 ? marks.length : next) - 1;
  }
  const element = marks[Math.min(Math.max(next, 0), marks.length - 1)];
  if (!element) return say("Nothing there.");
  element.focus();
  return take(element);
}

// Words or a move of the tree were chosen.
export function take(element) {
  if (element.matches(".mv, .note[data-spot]")) return visit(element);
  const [first, last] = span(element);
  return choose(first, last);
}

function visit(element) {
  if (going) return answer({ means: "return", at: element.dataset.spot });
  if (element.dataset.first === undefined) {
    const [first, last] = phrase() ? span(phrase()) : [0, 0];
    return choose(first, last, { at: element.dataset.spot });
  }
  const [first, last] = span(element);
  return choose(first, last, { at: element.dataset.spot });
}

// One word more or less at an end of the chosen words.
export function resize(begin, end) {
  const [first, last] = span(phrase());
  if (first + begin < 0 || first + begin > last + end) return;
  choose(first + begin, last + end).then(() => say(`Words: ${find("#phrase h2").textContent.trim()}`));
}

// Words marked with the mouse.
export function chooseSelected() {
  const selection = getSelection();
  if (!selection.rangeCount || selection.isCollapsed) return;
  const ends = [[selection.anchorNode, selection.anchorOffset], [selection.focusNode, selection.focusOffset]];
  const places = ends.map(([node, offset]) => wordAt(node, offset));
  if (places.includes(null)) return;
  const [a, b] = places.sort((x, y) => x.word - y.word);
  const last = b.inside ? b.word + 1 : b.word;
  if (last > a.word) choose(a.word, last, { scroll: false });
}

function wordAt(node, offset) {
  const holder = node.parentElement?.closest("#talk [data-first]");
  if (!holder || node.nodeType !== Node.TEXT_NODE) return null;
  const before = node.data.slice(0, offset);
  const count = (before.match(/\s+(?=\S)/g) || []).length;
  const inside = /\S$/.test(before);
  return { word: Number(holder.dataset.first) + count + (!inside && /\s$/.test(before) ? 1 : 0), inside };
}

// -------------------------------------------------------------------------------------------------------- answering

export async function answer(what) {
  if (!phrase()) return;
  const reply = await send("/answer", {
    shown: Number(phrase().dataset.serial),
    words: span(phrase()),
    means: what.means,
    value: what.value || "",
    at: what.at || "",
    person: what.person || "",
  });
  if (reply && reply.ok) {
    const held = find("main").contains(document.activeElement) ? document.activeElement : null;
    if (held) held.blur();
    await onward(reply.asked);
  }
}

export async function send(address, body = {}) {
  if (busy) return null;
  busy = true;
  try {
    const asked = phrase() ? span(phrase()) : [0, 0];
    const reply = await change(address, { version: Number(state().version), ...body });
    if (reply.main) show(reply.main);
    foreign = foreign && !reply.ok;
    goBack(false);
    say(reply.message || told());
    return { ...reply, asked };
  } catch (error) {
    say(`The program does not answer: ${error.message}. Every answer it took is saved.`);
    return null;
  } finally {
    busy = false;
    if (missed) refresh(missed);
    missed = null;
  }
}

function told() {
  const { changes, left, waiting } = state();
  const rest = `${left} ${left === "1" ? "question" : "questions"} left.`;
  return `${changes || "Saved."} ${rest} ${waiting}`.trim();
}

// After an answer: the next open question, or the words just answered when nothing is open.
async function onward(asked) {
  const next = find("#questions .ask");
  const [first, last] = next ? span(next) : asked;
  await choose(first, last, { unasked: true });
  (next || find("#desk")).focus({ preventScroll: true });
}

function show(html) {
  const held = find("#main").contains(document.activeElement) ? document.activeElement.id : "";
  const scrolled = all("#main section, #main nav").map((room) => [room.id, room.scrollTop]);
  put(find("#main"), html);
  for (const [id, top] of scrolled) document.getElementById(id).scrollTop = top;
  if (held) document.getElementById(held)?.focus({ preventScroll: true });
  buttons();
  if (phrase()) mark(false);
}

function buttons() {
  find("#undo").disabled = !state().undo;
  find("#redo").disabled = !state().redo;
}

// The lesson was made again, or another window answered.
async function refresh(now) {
  const { version, serial, waiting } = state();
  const share = find("#state .share");
  if (share && now.read) share.textContent = now.read; // not in a live region: nobody wants to hear it count
  const unchanged = Number(version) === now.version && Number(serial) === now.serial;
  if (busy) missed = now;
  if (busy || (unchanged && Boolean(waiting) === Boolean(now.read))) return;
  foreign = foreign || Number(version) !== now.version;
  show(await part("/main"));
  if (phrase()) {
    const [first, last] = span(phrase());
    const { spot, home } = phrase().dataset;
    const still = document.getElementById(`t${spot}`) && spot !== home ? spot : "";
    const count = Math.max(...all("#talk [data-last]").map((e) => Number(e.dataset.last)), 0);
    const asked = phrase().dataset.question && !all("#questions .ask").some((e) => same(span(e), [first, last]));
    const next = find("#questions .ask");
    if (asked && next && find("#answer") !== document.activeElement) await choose(...span(next), { unasked: true });
    else await choose(Math.min(first, count), Math.min(last, count), { at: still, scroll: false, unasked: true });
  }
  say(foreign ? `Another window has answered; this one shows it now. ${told()}` : told());
}

// ------------------------------------------------------------------------------------------------------------ board

export function goBack(on) {
  going = on;
  document.body.classList.toggle("going", on);
  if (on) {
    say("Back to where? Choose a move in the study, or step along with the arrow keys; Enter takes the position shown.");
    (find('#tree [aria-current="true"]') || find("#tree .mv"))?.focus();
  }
}

export const goingBack = () => going;

export function turn() {
  flip = !flip;
  const [first, last] = span(phrase());
  return choose(first, last, { at: phrase().dataset.spot, scroll: false });
}

export function home() {
  const [first, last] = span(phrase());
  return choose(first, last);
}

// While going back a click takes the position shown; else the first click lifts a man and the second puts it down.
export function press(square) {
  if (going) return answer({ means: "return", at: phrase().dataset.spot });
  const name = square.dataset.square;
  const legal = JSON.parse(phrase().dataset.legal);
  const moves = from ? Object.keys(legal).filter((uci) => uci.startsWith(from + name)) : [];
  lift("");
  if (moves.length) {
    const uci = moves.find((move) => move.endsWith("q")) || moves[0];
    return answer({ means: "move", value: uci, at: phrase().dataset.spot });
  }
  const there = Object.entries(legal).filter(([uci]) => uci.startsWith(name));
  if (!there.length) return say(`No move starts from ${name}.`);
  lift(name);
  return say(`${square.getAttribute("aria-label")}: ${there.map(([, san]) => san).join(", ")}`);
}

function lift(name) {
  from = name;
  const targets = Object.keys(JSON.parse(phrase().dataset.legal)).filter((uci) => name && uci.startsWith(name));
  for (const square of all("#board .square")) {
    square.classList.toggle("lifted", square.dataset.square === name);
    square.classList.toggle("reach", targets.some((uci) => uci.slice(2, 4) === square.dataset.square));
  }
}

export const ready = () => !busy && performance.now() > quiet;

// ------------------------------------------------------------------------------------------------------------ start

export async function begin() {
  buttons();
  const first = find("#questions .ask") || find("#talk .st") || find("#talk [data-first]");
  await (first ? take(first) : choose(0, 0));
  watch(refresh, () => say("The connection to the program is gone; it is tried again."));
}
