// Keys, clicks and forms -> what the page does.
import { all, answer, begin, choose, chooseSelected, goBack, goingBack, home, phrase, press, ready, resize, send, step,
  stop, take, turn } from "./page.js";
import { hear, slower } from "./sound.js";

const find = (selector) => document.querySelector(selector);
const single = find("#single");
single.checked = localStorage.getItem("single keys") !== "off";
single.addEventListener("change", () => localStorage.setItem("single keys", single.checked ? "on" : "off"));

function offer(element) {
  return answer(element.dataset);
}

function digit(key) {
  const button = all("#card .offer").find((element) => element.getAttribute("aria-keyshortcuts") === key);
  if (button) offer(button);
}

const keys = {
  n: () => step(1, "#questions .ask"),
  p: () => step(-1, "#questions .ask"),
  t: () => find("#answer")?.focus(),
  b: () => goBack(!goingBack()),
  u: () => send("/undo").then(again),
  r: () => send("/redo").then(again),
  f: turn,
  l: hear,
  s: slower,
  o: () => digit("o"),
  ".": () => resize(0, 1),
  ",": () => resize(0, -1),
  ":": () => resize(1, 0), // what Shift makes of "." and "," is another sign on every keyboard
  ">": () => resize(1, 0),
  ";": () => resize(-1, 0),
  "<": () => resize(-1, 0),
  "?": help,
};

// After undo or redo: the same words, as they are now.
function again(reply) {
  return reply && phrase() && choose(Number(phrase().dataset.first), Number(phrase().dataset.last), { scroll: false });
}

function help() {
  find("#help").showModal();
}

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.isComposing || find("#help").open) return;
  const writing = event.target.matches("input:not([type=checkbox]), select, textarea");
  if (event.key === "Escape") {
    if (goingBack()) goBack(false);
    if (writing) find("#desk").focus();
    return;
  }
  if ((event.ctrlKey || event.metaKey) && !writing && "zy".includes(event.key.toLowerCase())) {
    event.preventDefault();
    (event.key.toLowerCase() === "y" || event.shiftKey ? keys.r : keys.u)();
    return;
  }
  if (writing || event.ctrlKey || event.metaKey || event.target.matches("audio, video")) return;
  if (arrow(event)) return;
  if ((event.key === "Enter" || event.key === " ") && event.target.matches('[role="button"]')) {
    event.preventDefault();
    (event.target.matches(".square") ? press : take)(event.target);
    return;
  }
  if (!single.checked || event.repeat) return;
  if (/^\d$/.test(event.key)) {
    event.preventDefault();
    if (ready()) digit(event.key);
  } else if (keys[event.key] && !(event.key === " ")) {
    event.preventDefault();
    keys[event.key]();
  }
});

// Arrow keys move inside the group that has the focus; elsewhere they walk through the marked words.
function arrow(event) {
  const step8 = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: 8, ArrowUp: -8 }[event.key];
  if (!step8) return false;
  const square = event.target.closest("#board .square");
  const move = event.target.closest("#tree .mv");
  if (square) {
    const squares = all("#board .square");
    const at = squares.indexOf(square);
    const next = squares[at + step8];
    if (next && (Math.abs(step8) === 8 || Math.floor(at / 8) === Math.floor((at + step8) / 8))) move_to(next, "#board");
  } else if (move) {
    const moves = all("#tree .mv");
    const next = moves[moves.indexOf(move) + Math.sign(step8)];
    if (next) {
      move_to(next, "#tree");
      const { first, last } = goingBack() || next.dataset.first === undefined ? phrase().dataset : next.dataset;
      choose(Number(first), Number(last), { at: next.dataset.spot, scroll: false });
    }
  } else if (event.target.closest("#questions .ask")) {
    step(Math.sign(step8), "#questions .ask");
  } else if (event.target.closest("#doubts .doubt")) {
    step(Math.sign(step8), "#doubts .doubt");
  } else if (event.target.closest("#beside .note")) {
    const notes = all("#beside .note");
    const next = notes[notes.indexOf(event.target.closest(".note")) + Math.sign(step8)];
    if (next) {
      move_to(next, "#beside");
      take(next);
    }
  } else if (Math.abs(step8) === 1) {
    step(step8, "#talk .st");
  } else {
    return false;
  }
  event.preventDefault();
  return true;
}

function move_to(element, room) {
  stop(element, room);
  element.focus();
}

document.addEventListener("click", (event) => {
  const target = event.target.closest("button, .square, .st");
  if (!target) return;
  if (target.matches(".square")) press(target);
  else if (target.matches(".offer")) offer(target);
  else if (target.matches(".st, .ask, .doubt, .note, .mv")) take(target);
  else if (target.id === "back") goBack(!goingBack());
  else if (target.id === "home") home();
  else if (target.id === "undo") keys.u();
  else if (target.id === "redo") keys.r();
  else if (target.id === "listen") hear();
  else if (target.id === "export") send("/export");
  else if (target.id === "help-open") help();
  else if (target.id === "help-close") find("#help").close();
});

document.addEventListener("mouseup", (event) => {
  if (event.target.closest("#talk")) chooseSelected();
});

document.addEventListener("submit", (event) => {
  event.preventDefault();
  const form = event.target;
  if (form.id === "typed") {
    answer({ means: "typed", value: form.elements.answer.value, at: phrase().dataset.spot });
  } else {
    const { value, person } = form.elements;
    const at = form.dataset.means === "title" ? phrase().dataset.spot : "";
    answer({ means: form.dataset.means, value: value.value, person: person ? person.value : "", at });
  }
});

begin();
