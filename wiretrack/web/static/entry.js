// SPDX-License-Identifier: MIT
// One reading: typed, kept on the phone first, then sent. Works on a plan's page and on its own.
import { keep, drop, send, newId } from "./queue.js";
import { showWaiting, sendAll } from "./waiting.js";
import { showPads } from "./pad.js";

const form = document.getElementById("reading");
const entry = document.getElementById("entry");
const outcome = document.getElementById("outcome");
const plan = document.getElementById("plan");
const KEPT = ["instrument", "leads", "temp"];
const ENTRIES = JSON.parse(form?.dataset.entries ?? "{}"); // how each kind of reading is typed
const OWN_FIELDS = new Set(Object.values(ENTRIES).flatMap((entry) => entry.fields)); // not of every kind
const shownKept = new Map(); // the step of each reading that this page says is kept
let lastTold = null;
let step = form?.dataset.subject ? { dataset: form.dataset } : null;

if (form) {
  showPads(form);
  const more = form.querySelector(".more");
  more.open = Boolean(more.querySelector(".fault"));
  recall();
  fit();
  form.addEventListener("submit", store);
  document.getElementById("back")?.addEventListener("click", showPlan);
  for (const link of document.querySelectorAll(".step")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      open(link);
    });
  }
  for (const guard of document.querySelectorAll(".guard")) {
    guard.querySelector(".confirm").addEventListener("click", () => {
      sessionStorage.setItem(visit(guard.dataset.kind), "done");
      open(step);
    });
  }
  const tick = form.querySelector("[name=cautions]");
  if (tick) {
    tick.checked ||= sessionStorage.getItem(visit(form.dataset.kind)) === "done";
    tick.closest("details").open = !tick.checked;
    tick.addEventListener("change", () => {
      if (tick.checked) sessionStorage.setItem(visit(form.dataset.kind), "done");
    });
  }
}

function visit(kind) {
  return `cautions:${form.dataset.circuit}:${kind}`;
}

function open(link) {
  step = link;
  const { kind, subject, against, voltage } = link.dataset;
  const guarded = ENTRIES[kind].guarded && sessionStorage.getItem(visit(kind)) !== "done";
  for (const guard of entry.querySelectorAll(".guard")) {
    guard.hidden = !guarded || guard.dataset.kind !== kind;
  }
  form.hidden = guarded;
  outcome.hidden = true;
  clearFaults();
  form.reset();
  recall();
  form.elements.against.value = against;
  form.elements.test_voltage.value = voltage;
  form.querySelector(`[name=prefix][value="${ENTRIES[kind].prefix}"]`).checked = true;
  fit();
  const title = document.getElementById("entry-title");
  title.textContent = `${kind} ${subject}${against ? ` to ${against}` : ""}${voltage ? `, ${voltage}` : ""}`;
  plan.hidden = true;
  entry.hidden = false;
  entry.scrollIntoView();
  (guarded ? title : form.elements.value).focus();
}

function showPlan() {
  entry.hidden = true;
  plan.hidden = false;
  step?.focus?.();
}

// Units, minus and the fields that this kind of reading has.
function fit() {
  const entry = ENTRIES[step?.dataset.kind];
  if (!entry) return;
  for (const unit of form.querySelectorAll(".unit")) unit.textContent = entry.symbol;
  form.querySelector(".sign").hidden = !entry.signed;
  form.elements.against.placeholder = entry.against;
  for (const name of OWN_FIELDS) {
    const shown = entry.fields.includes(name);
    form.elements[name].closest(".field").hidden = !shown;
    if (!shown) form.elements[name].value = "";
  }
}

function recall() {
  for (const name of KEPT) {
    const before = sessionStorage.getItem(`${step?.dataset.kind}:${name}`);
    if (before && !form.elements[name].value) form.elements[name].value = before;
  }
}

function valueText() {
  const number = form.elements.value.value.trim();
  const over = form.elements.over.checked;
  if (!number) return over ? "OL" : "";
  const { unit } = ENTRIES[step.dataset.kind];
  const prefix = form.querySelector("[name=prefix]:checked")?.value ?? "";
  const minus = form.elements.minus.checked && !number.startsWith("-") ? "-" : "";
  const full = /^[-+]?[0-9.,]+$/.test(number) ? `${minus}${number} ${prefix}${unit}` : number;
  return over && !full.startsWith(">") ? `>${full}` : full;
}

async function store(event) {
  event.preventDefault();
  clearFaults();
  const body = { id: newId(), kind: step.dataset.kind, subject: step.dataset.subject, value: valueText(), at: takenAt() };
  for (const { name, value } of form.querySelectorAll(".more [name]")) {
    if (value.trim()) body[name] = value.trim();
  }
  const person = document.querySelector("meta[name=person]")?.content;
  if (person && !body.by) body.by = person; // whoever sends it later may be somebody else
  for (const name of KEPT) sessionStorage.setItem(`${body.kind}:${name}`, form.elements[name].value);
  const facts = JSON.parse(step.dataset.facts ?? "{}");
  const item = keep({ body, seen: step.dataset.seen || null, facts });
  const submit = form.querySelector("button.main");
  submit.setAttribute("aria-busy", "true");
  const result = await send(item);
  submit.removeAttribute("aria-busy");
  const late = result.outcome === "retired" && form.elements.at;
  const field = late ? "at" : result.outcome === "wrong" && result.document.field;
  if (field && placeOf(field)) {
    drop(item);
    showFault(field, result.document.error);
  } else settle(item, result);
  showWaiting(result.outcome === "unreached" ? "They go out when the server can be reached." : "");
}

function settle(item, { outcome: became, document: found }) {
  if (became === "stored") {
    drop(item);
    tellVerdict(found.verdict);
    mark(found.verdict.outcome, step);
  } else if (became === "unreached" || became === "denied") {
    tell("kept", "Kept on this phone. It goes out by itself when the server can be reached.");
    mark("kept", step);
    shownKept.set(item.body.id, step);
    lastTold = item.body.id;
  } else {
    keep({ ...item, held: became, told: found.error, now: found.now ?? null });
    tell("kept", found.error);
  }
  form.reset();
  recall();
  // A reading is corrected once; from a plan's page one goes back to the plan.
  form.hidden = Boolean(form.elements.supersedes || document.getElementById("back"));
  document.getElementById("back")?.focus();
  sendAll();
}

// What was kept is stored now: the page says so, in place of "kept".
document.addEventListener("reading-stored", ({ detail: { id, verdict } }) => {
  if (!shownKept.has(id)) return;
  mark(verdict.outcome, shownKept.get(id));
  if (id === lastTold && !outcome.hidden) tellVerdict(verdict);
});

function tellVerdict({ outcome: word, reason, source }) {
  tell(word, `${reason}. Limit from ${source}`);
}

function tell(word, text) {
  lastTold = null;
  const verdict = document.createElement("strong");
  verdict.className = `verdict ${word === "kept" ? "doubt" : word}`;
  verdict.textContent = word;
  const reason = document.createElement("p");
  reason.textContent = text;
  outcome.replaceChildren(verdict, reason);
  outcome.hidden = false;
  outcome.scrollIntoView({ block: "nearest" });
}

function mark(word, link) {
  if (!link?.classList) return;
  link.classList.add("taken");
  link.querySelector(".result").textContent = word;
}

// Where a fault of a field is shown; of one that can't be seen, nowhere.
function placeOf(field) {
  return (form.elements[field] ?? form.elements.value).closest(".field");
}

function showFault(field, text) {
  const input = form.elements[field] ?? form.elements.value;
  const line = document.createElement("p");
  line.className = "fault";
  line.id = `fault-${field}`;
  line.textContent = text;
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", line.id);
  input.closest(".field").after(line);
  input.closest("details")?.setAttribute("open", "");
  input.focus();
}

function clearFaults() {
  for (const line of form.querySelectorAll("p.fault")) line.remove();
  for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
}

// When it was read: as typed into the form of a conductor that is gone, else now.
function takenAt() {
  const typed = new Date(form.elements.at?.value ?? "");
  return stamp(Number.isNaN(typed.getTime()) ? new Date() : typed);
}

function stamp(date) {
  const offset = -date.getTimezoneOffset();
  const two = (number) => String(Math.trunc(Math.abs(number))).padStart(2, "0");
  const local = new Date(date.getTime() + offset * 60000).toISOString().slice(0, 19);
  return `${local}${offset < 0 ? "-" : "+"}${two(offset / 60)}:${two(offset % 60)}`;
}
