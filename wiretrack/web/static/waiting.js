// SPDX-License-Identifier: MIT
// What waits on this phone, counted on every page; sent in order; what can't be is decided by people.
import { waiting, keep, drop, send, told, tellLater } from "./queue.js";

const panel = document.getElementById("waiting");
let sending = false;

export async function sendAll() {
  if (sending || !panel) return;
  sending = true;
  let note = "";
  try {
    for (const item of waiting()) {
      if (item.held) continue;
      const { outcome, document: found } = await send(item);
      if (outcome === "stored") stored(item, found.verdict);
      else if (outcome === "denied") {
        note = "Sign in again to send them.";
        break;
      } else if (outcome === "unreached") {
        note = "They go out when the server can be reached.";
        break;
      } else keep({ ...item, held: outcome, told: found.error, now: found.now ?? null });
    }
  } finally {
    sending = false;
    showWaiting(note);
  }
}

// A reading that waited is stored: nobody may be left to think that it passed.
function stored(item, verdict) {
  if (verdict.outcome !== "pass") tellLater(item, verdict);
  drop(item);
  document.dispatchEvent(new CustomEvent("reading-stored", { detail: { id: item.body.id, verdict } }));
}

function showVerdicts() {
  const items = told();
  document.getElementById("verdicts").hidden = items.length === 0;
  document.getElementById("verdicts-list").replaceChildren(...items.map(judged));
}

function judged(item) {
  const line = element("li", "");
  line.append(element("strong", item.outcome, `verdict ${item.outcome}`), ` ${said(item)}`);
  line.append(element("p", item.reason));
  line.append(button("I have read it", () => { drop(item); showVerdicts(); }));
  return line;
}

function said({ subject, kind, value, against }) {
  return `${subject} ${kind}${against ? ` to ${against}` : ""}: ${value}`;
}

export function showWaiting(note) {
  if (!panel) return;
  showVerdicts();
  const items = waiting();
  panel.hidden = items.length === 0;
  document.getElementById("waiting-reload").hidden = "serviceWorker" in navigator;
  document.getElementById("waiting-title").textContent =
    items.length === 1 ? "1 reading waits on this phone" : `${items.length} readings wait on this phone`;
  if (typeof note === "string") document.getElementById("waiting-note").textContent = note;
  if (items.some((item) => item.held)) document.getElementById("waiting-more").open = true;
  document.getElementById("waiting-list").replaceChildren(...items.map(shown));
}

document.getElementById("waiting-send")?.addEventListener("click", sendAll);

function shown(item) {
  const line = element("li", said(item.body));
  if (!item.held) return line;
  line.append(element("p", item.told, "fault"));
  if (item.now) line.append(both(item.facts ?? {}, item.now));
  if (item.held === "changed") line.append(button("Save it", () => again({ ...item, seen: null })));
  else line.append(...followers(item), button("Try again", () => again(item)));
  line.append(button("Delete it", () => { drop(item); showWaiting(); }));
  return line;
}

// What was read after its conductor was gone may be a reading of what is in its place.
function followers(item) {
  const { subject, note } = item.body;
  return (item.held === "retired" ? item.now.retired.in_its_place : []).map((tag) => {
    const told = [note, `Logged for ${subject}, which was retired.`].filter(Boolean).join(" ");
    return button(`Store it for ${tag}`, () => again({ ...item, seen: null, body: { ...item.body, subject: tag, note: told } }));
  });
}

function again(item) {
  keep({ ...item, held: undefined, told: undefined, now: undefined });
  sendAll();
}

function both(then, now) {
  const place = (end) => [end.enclosure, end.terminal].filter(Boolean).join(" ");
  const gone = now.retired;
  const state = gone ? `retired: ${gone.became}, ${gone.at.slice(0, 10)}` : "in use";
  const today = { ...(now.facts ?? now), state };
  if (now.ends) [today.from, today.to] = now.ends.map(place);
  const before = { state: "in use", ...then };
  const list = element("dl", "");
  for (const name of new Set(["state", ...Object.keys(then)])) {
    if ((before[name] ?? "") === (today[name] ?? "")) continue;
    list.append(element("dt", name), element("dd", `then ${before[name] ?? "unknown"}, now ${today[name] ?? "unknown"}`));
  }
  if (gone?.in_its_place.length) list.append(element("dt", "replaced by"), element("dd", gone.in_its_place.join(", ")));
  return list;
}

function element(name, text, kind = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

function button(text, action) {
  const made = element("button", text);
  made.type = "button";
  made.addEventListener("click", action);
  return made;
}
