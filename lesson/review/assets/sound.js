// The recording: just the seconds around the chosen words, slower on request, and the text follows it.

const BEFORE_S = 0.7; // a listener needs the run-up
const AFTER_S = 0.9;
const SLOW = 0.65; // slower than this, voices fall apart in the browsers' stretching (tried by ear on a synthetic voice)

const player = document.querySelector("#player");
const slow = document.querySelector("#slow");
const follow = document.querySelector("#follow");
let until = null;
let lit = [];

export function rest() {
  const button = document.querySelector("#listen");
  if (button) button.disabled = document.querySelector("#phrase").dataset.start === "";
}

export function hear() {
  const { start, end } = document.querySelector("#phrase").dataset;
  if (!player || start === "") return;
  until = Number(end) / 1000 + AFTER_S;
  player.playbackRate = slow.checked ? SLOW : 1;
  player.currentTime = Math.max(0, Number(start) / 1000 - BEFORE_S);
  player.play().catch((error) => {
    until = null;
    document.querySelector("#said").textContent = `The recording cannot be played: ${error.message}`;
  });
}

export function slower() {
  if (!player) return;
  slow.checked = !slow.checked;
  player.playbackRate = slow.checked ? SLOW : 1;
}

function spoken() {
  const now = player.currentTime * 1000;
  const here = follow.checked && !player.paused
    ? [...document.querySelectorAll("#talk [data-start]")].filter((e) => e.dataset.start <= now && now < e.dataset.end)
    : [];
  for (const element of lit) element.classList.remove("spoken");
  for (const element of here) element.classList.add("spoken");
  if (here.length && here[0] !== lit[0]) here[0].scrollIntoView({ block: "nearest" });
  lit = here;
}

function watch() {
  if (until !== null && player.currentTime >= until) {
    player.pause();
    until = null;
  }
  spoken();
  if (!player.paused) requestAnimationFrame(watch);
}

if (player) {
  player.addEventListener("play", watch);
  player.addEventListener("pause", spoken);
  player.addEventListener("seeking", () => {
    if (until !== null && player.currentTime > until) until = null;
  });
  slow.addEventListener("change", () => { player.playbackRate = slow.checked ? SLOW : 1; });
}
