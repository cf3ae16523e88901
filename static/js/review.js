// One key a step in the review queue; the keys rest while someone types. The undo strip steps back after ten seconds.

const PROMINENT_MS = 10000;
const ARROWS = { ArrowRight: "j", ArrowLeft: "k" };

function isTyping(target) {
  return target.closest("input, textarea, select, [contenteditable]") !== null;
}

function isScrollable(target) {
  return target.closest(".table-scroll, pre") !== null;
}

function onKey(event) {
  const page = document.querySelector("[data-review], [data-undo]");
  if (!page || event.ctrlKey || event.metaKey || event.altKey || event.repeat) {
    return;
  }
  if (isTyping(event.target)) {
    if (event.key === "Escape") {
      event.target.blur();
    }
    return;
  }
  if (event.key in ARROWS && isScrollable(event.target)) {
    return;
  }
  const key = ARROWS[event.key] || event.key;
  if (key === "r") {
    const reason = document.getElementById("id_reason");
    if (reason) {
      event.preventDefault();
      reason.focus();
    }
    return;
  }
  const control = /^[jkasu]$/.test(key) && document.querySelector(`[data-key="${key}"]`);
  if (control) {
    event.preventDefault();
    control.click();
  }
}

function stepBack() {
  for (const strip of document.querySelectorAll("[data-undo]:not(.undo--past)")) {
    setTimeout(() => strip.classList.add("undo--past"), PROMINENT_MS);
  }
}

// After a step without a reload the reader stands at the top of the new page.
function arrive() {
  if (!document.querySelector("[data-error-summary]")) {
    document.getElementById("main")?.focus({ preventScroll: true });
  }
  stepBack();
}

document.addEventListener("keydown", onKey);
document.addEventListener("htmx:afterSettle", arrive);
stepBack();
