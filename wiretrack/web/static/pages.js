// SPDX-License-Identifier: MIT
// On every page: the worker that keeps pages for when there is no signal, and what waits to be sent.
import { forget, waiting } from "./queue.js";
import { showWaiting, sendAll } from "./waiting.js";

if ("serviceWorker" in navigator) {
  navigator.serviceWorker.register("/worker.js").catch(() => {});
}
document.getElementById("leave")?.addEventListener("submit", (event) => {
  const unsent = waiting().length;
  const told = `${unsent} ${unsent === 1 ? "reading is" : "readings are"} not sent. Sign out and delete them?`;
  if (unsent && !confirm(told)) return event.preventDefault();
  forget();
  localStorage.clear();
});
showWaiting();
sendAll();
addEventListener("online", sendAll);
addEventListener("storage", showWaiting);
setInterval(sendAll, 15000);
