// SPDX-License-Identifier: MIT
// Readings that wait on this phone: one entry of localStorage each, so that nothing is rewritten.
const PREFIX = "reading:";
const TOLD = "verdict:";
const PATIENCE_MS = 10000;

export function waiting() {
  return entries(PREFIX);
}

// Verdicts, other than a pass, on readings that waited; each stays until somebody has read it.
export function told() {
  return entries(TOLD);
}

export function tellLater({ body }, { outcome, reason }) {
  const { subject, kind, value, against, at } = body;
  const item = { subject, kind, value, against, outcome, reason };
  localStorage.setItem(`${TOLD}${at}:${body.id}`, JSON.stringify(item));
}

// Takes a reading or a verdict off the phone.
export function drop(item) {
  localStorage.removeItem(item.key);
}

// Drops what this phone keeps of the record: the session ended, or the codes were changed. Readings
// that wait stay until they are sent or deleted, and verdicts until somebody has read them.
export function forget() {
  globalThis.caches?.delete("pages");
  sessionStorage.clear();
}

function entries(prefix) {
  return Object.keys(localStorage)
    .filter((key) => key.startsWith(prefix))
    .sort()
    .map((key) => ({ key, ...JSON.parse(localStorage.getItem(key)) }));
}

export function keep(item) {
  const key = item.key ?? `${PREFIX}${item.body.at}:${String(nextNumber()).padStart(8, "0")}:${item.body.id}`;
  localStorage.setItem(key, JSON.stringify({ ...item, key: undefined }));
  return { ...item, key };
}

function nextNumber() {
  const number = Number(localStorage.getItem("number") ?? 0) + 1;
  localStorage.setItem("number", String(number));
  return number;
}

export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

let token = document.querySelector("meta[name=form-token]")?.content ?? "";

export async function post(path, body, headers = {}) {
  const send = () =>
    fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Form-Token": token, ...headers },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  const answer = await send();
  if (answer.status !== 403) return answer;
  const session = await fetch("/api/session", { signal: AbortSignal.timeout(PATIENCE_MS) });
  if (!session.ok) return session;
  token = (await session.json()).form_token;
  return send();
}

// What became of it: "stored", "wrong", "changed", "retired", "denied" or "unreached".
export async function send(item) {
  const headers = item.seen ? { "If-Match": `"${item.seen}"` } : {};
  let answer, document;
  try {
    answer = await post("/api/readings", item.body, headers);
    document = await answer.json();
  } catch {
    return { outcome: "unreached" };
  }
  if (answer.ok) return { outcome: "stored", document };
  if (answer.status === 412) return { outcome: "changed", document };
  if (answer.status === 401) forget();
  if (answer.status === 401 || answer.status === 403) return { outcome: "denied", document };
  if (answer.status === 422 && document.now?.retired) return { outcome: "retired", document };
  if ([400, 409, 413, 422].includes(answer.status)) return { outcome: "wrong", document };
  return { outcome: "unreached" };
}
