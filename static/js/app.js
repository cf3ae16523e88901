// Small helps for every page: double-submit guard, focus on the error summary, copy buttons.

const BUSY_AFTER_MS = 1000;
const COPIED_FOR_MS = 3000;

function release(form) {
  delete form.dataset.sending;
  for (const button of form.querySelectorAll("[aria-busy]")) {
    button.removeAttribute("aria-busy");
    if (button.dataset.word) {
      button.textContent = button.dataset.word;
    }
  }
}

function guard(event) {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") {
    return;
  }
  if (form.dataset.sending) {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  form.dataset.sending = "yes";
  const button = event.submitter;
  if (!button || button.tagName !== "BUTTON") {
    return;
  }
  button.setAttribute("aria-busy", "true");
  setTimeout(() => {
    if (form.dataset.sending) {
      button.dataset.word = button.textContent;
      button.textContent = button.dataset.busyWord || "Sending…";
    }
  }, BUSY_AFTER_MS);
}

async function copy(button) {
  const source = document.getElementById(button.dataset.copy);
  const status = document.getElementById(button.dataset.copyStatus);
  const word = await navigator.clipboard.writeText(source.textContent.trim()).then(
    () => "Copied.",
    () => "Not copied. Select the text and copy it by hand.",
  );
  if (status) {
    status.textContent = word;
    setTimeout(() => { status.textContent = ""; }, COPIED_FOR_MS);
  }
}

function focusSummary(root) {
  root.querySelector("[data-error-summary]")?.focus();
}

document.addEventListener("submit", guard);
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-copy]");
  if (button) {
    copy(button);
  }
});

// A page brought back by the Back button must accept a new submission.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) {
    document.querySelectorAll("form[data-sending]").forEach(release);
  }
});
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.target.closest("form");
  if (form) {
    release(form);
  }
});
document.addEventListener("htmx:afterSwap", (event) => focusSummary(event.target));

focusSummary(document);
