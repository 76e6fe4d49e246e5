// SPDX-License-Identifier: MIT
// Large keys for a number; a keyboard does as well.
export function showPads(root = document) {
  for (const pad of root.querySelectorAll(".pad")) {
    const input = root.querySelector(`#${pad.dataset.for}`);
    pad.hidden = false;
    if (matchMedia("(pointer: coarse)").matches) input.inputMode = "none";
    pad.addEventListener("click", (event) => {
      const key = event.target.closest("button")?.dataset.key;
      if (!key) return;
      input.value = key === "⌫" ? input.value.slice(0, -1) : input.value + key;
      input.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }
}
