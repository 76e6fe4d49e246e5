// SPDX-License-Identifier: MIT
// On every page: the worker that keeps pages for when there is no signal, and what waits to be sent.
import { showWaiting, sendAll } from "./waiting.js";

if ("serviceWorker" in navigator) {
  navigator.serviceWorker.register("/worker.js").catch(() => {});
}
document.getElementById("leave")?.addEventListener("submit", () => {
  globalThis.caches?.delete("pages");
});
showWaiting();
sendAll();
addEventListener("online", sendAll);
addEventListener("storage", showWaiting);
setInterval(sendAll, 15000);
