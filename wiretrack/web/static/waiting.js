// SPDX-License-Identifier: MIT
// What waits on this phone, counted on every page; sent in order; what can't be is decided by people.
import { waiting, keep, drop, send } from "./queue.js";

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
      if (outcome === "stored") drop(item);
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

export function showWaiting(note) {
  if (!panel) return;
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
  const { subject, kind, value, against } = item.body;
  const line = element("li", `${subject} ${kind}${against ? ` to ${against}` : ""}: ${value}`);
  if (!item.held) return line;
  line.append(element("p", item.told, "fault"));
  if (item.held === "changed" && item.now) line.append(both(item.facts ?? {}, item.now));
  if (item.held === "changed") line.append(button("Store it all the same", () => again({ ...item, seen: null })));
  else line.append(button("Try again", () => again(item)));
  line.append(button("Throw it away", () => { drop(item); showWaiting(); }));
  return line;
}

function again(item) {
  keep({ ...item, held: undefined, told: undefined, now: undefined });
  sendAll();
}

function both(then, now) {
  const place = (end) => [end.enclosure, end.terminal].filter(Boolean).join(" ");
  const today = { ...now, from: place(now.ends[0]), to: place(now.ends[1]) };
  const list = element("dl", "");
  for (const name of ["circuit", "function", "size", "colour", "length_m", "from", "to"]) {
    if ((then[name] ?? "") === (today[name] ?? "")) continue;
    list.append(element("dt", name), element("dd", `then ${then[name] ?? "unknown"}, now ${today[name] ?? "unknown"}`));
  }
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
