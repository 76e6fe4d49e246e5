// SPDX-License-Identifier: MIT
// A ring-out or a search: shows what the server says is next, on every phone alike, and keeps an
// answer that couldn't be sent until it is.
import { showPads } from "./pad.js";

const PAUSE_MS = 1000;
const PATIENCE_MS = 8000;
// A tap so soon after a change was meant for what stood there before (common practice).
const DEAD_MS = 700;
const place = document.getElementById("step");
const signal = document.getElementById("signal");
const base = place.dataset.base;
const PENDING = place.dataset.pending;
let busy = false;
let ready = 0;

const before = document.getElementById("before");
if (before && place.querySelector(".do") && !sessionStorage.getItem(before.dataset.visit)) {
  before.open = true;
  before.addEventListener("toggle", () => {
    if (!before.open) sessionStorage.setItem(before.dataset.visit, "read");
  });
}
const voice = document.querySelector(".voice");
const aloud = document.getElementById("aloud");
const box = document.getElementById("place");
if (voice) {
  voice.hidden = false;
  aloud.checked = localStorage.getItem("aloud") === "1";
  aloud.addEventListener("change", () => {
    localStorage.setItem("aloud", aloud.checked ? "1" : "");
    tell();
  });
  box.value = localStorage.getItem(`box:${base}`) ?? "";
  box.addEventListener("change", () => {
    localStorage.setItem(`box:${base}`, box.value);
    tell();
  });
  tell();
}
showPads(place);
rest();
place.addEventListener("submit", (event) => {
  event.preventDefault();
  if (isTooSoon(event.target)) return;
  const data = new FormData(event.target, event.submitter);
  answer({ path: new URL(event.target.action).pathname, fields: [...data] });
});
addEventListener("keydown", (event) => {
  const key = event.key.toLowerCase();
  if (event.repeat || event.target.matches("input, select, textarea") || event.ctrlKey || event.altKey || event.metaKey) return;
  if (key === "c" || key === "o") place.querySelector(`.pair .main[value="${key}"]`)?.click();
});
loop();

async function loop() {
  const pending = localStorage.getItem(PENDING);
  if (pending) await answer(JSON.parse(pending));
  else if (document.visibilityState === "visible" && !busy) await look();
  setTimeout(loop, PAUSE_MS);
}

async function look() {
  const shown = place.firstElementChild?.dataset.version ?? place.dataset.version;
  try {
    const found = await fetch(`${base}/step`, {
      headers: { "If-None-Match": `"${shown}"` }, signal: AbortSignal.timeout(PATIENCE_MS), cache: "no-store",
    });
    signal.hidden = true;
    if (found.status === 200 && !busy) showAround(await found.text());
    if (found.status === 401) location.reload();
  } catch {
    signal.hidden = false;
  }
}

async function answer(given) {
  if (busy) return;
  busy = true;
  localStorage.setItem(PENDING, JSON.stringify(given));
  for (const button of place.querySelectorAll("button")) button.setAttribute("aria-busy", "true");
  try {
    const token = document.querySelector("meta[name=form-token]").content;
    const sent = await fetch(given.path, {
      method: "POST", body: new URLSearchParams(given.fields),
      headers: { "X-Part": "step", "X-Form-Token": token }, signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (sent.status >= 500) throw new Error("try again");
    localStorage.removeItem(PENDING);
    signal.hidden = true;
    if (sent.status === 401 || sent.status === 403) location.reload();
    else show(await sent.text());
  } catch {
    signal.hidden = false;
  } finally {
    busy = false;
    for (const button of place.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
  }
}

// Ohms are typed after the change, as it empties their field; so they are meant for this step.
function isTooSoon(form) {
  return performance.now() < ready && form.matches(".answer") && !form.elements.ohms?.value;
}

function rest() {
  ready = performance.now() + DEAD_MS;
  const buttons = place.querySelectorAll(".answer button:not([type=button], .field *)");
  for (const button of buttons) button.setAttribute("aria-disabled", "true");
  setTimeout(() => {
    for (const button of buttons) button.removeAttribute("aria-disabled");
  }, DEAD_MS);
}

// Says the step that stands, with a tone before it; at the other box only that one waits.
function tell() {
  const step = place.querySelector(".stand");
  if (!voice || !step) return;
  const crew = step.dataset.crew === "2";
  document.getElementById("where").hidden = !crew;
  const elsewhere = Boolean(crew && box.value && step.dataset.place && step.dataset.place !== box.value);
  for (const line of step.querySelectorAll(".elsewhere")) line.hidden = !elsewhere;
  step.classList.toggle("waits", elsewhere);
  if (!aloud.checked) return;
  tone(place.querySelector(".fault") ? 220 : 880);
  if (!("speechSynthesis" in window)) return;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(elsewhere ? "Wait." : step.dataset.say);
  words.lang = document.documentElement.lang;
  speechSynthesis.speak(words);
}

function tone(hertz) {
  if (!("AudioContext" in window)) return;
  const sound = new AudioContext();
  const note = sound.createOscillator();
  note.frequency.value = hertz;
  note.connect(sound.destination);
  note.onended = () => sound.close();
  note.start();
  note.stop(sound.currentTime + 0.12);
}

function show(html) {
  place.innerHTML = html;
  showPads(place);
  tell();
  rest();
  if (before && place.querySelector(".do")) before.open = false;
  const wrong = place.querySelector("details[open] [aria-invalid]");
  if (wrong) return wrong.focus();
  place.querySelector("h1")?.focus({ preventScroll: true });
  scrollTo(0, 0);
}

// Shows what others did, and leaves what is being typed into the gear's form as it is.
function showAround(html) {
  const before = place.querySelector(".gear[open]");
  const typed = before ? [...before.querySelectorAll("input, select")].filter(isChanged) : [];
  const focused = before?.contains(document.activeElement) ? document.activeElement : null;
  show(html);
  const after = place.querySelector(".gear");
  if (!after || (!typed.length && !focused)) return;
  after.open = true;
  for (const one of typed) {
    const now = same(after, one);
    if (!now) continue;
    if (one.matches("[type=radio], [type=checkbox]")) now.checked = one.checked;
    else now.value = one.value;
  }
  (focused && same(after, focused))?.focus();
}

function isChanged(input) {
  if (input.matches("[type=hidden]")) return false;
  if (input.matches("[type=radio], [type=checkbox]")) return input.checked !== input.defaultChecked;
  if (input.matches("select")) return !(input.options[input.selectedIndex].defaultSelected || !input.selectedIndex);
  return input.value !== input.defaultValue;
}

function same(within, input) {
  const tail = input.matches("[type=radio]") ? `[value="${input.value}"]` : "";
  return within.querySelector(input.name ? `[name="${input.name}"]${tail}` : input.localName);
}
