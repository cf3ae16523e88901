// The service worker: offline start, and new versions that wait until they are asked in.

import { changed } from "./phone.js";

let waiting = null;
let asked = false;

export const isWaiting = () => waiting !== null;

export async function register() {
  if (!("serviceWorker" in navigator)) {
    return;
  }
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    // Only after a tap: nothing reloads under the hand.
    if (asked) {
      location.reload();
    }
  });
  const registration = await navigator.serviceWorker.register("/field/sw.js", { scope: "/field/", updateViaCache: "none" });
  watch(registration);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible" && navigator.onLine) {
      registration.update().catch(() => {});
    }
  });
}

function watch(registration) {
  const look = () => {
    if (registration.waiting && navigator.serviceWorker.controller) {
      waiting = registration.waiting;
      changed();
    }
  };
  look();
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", look);
  });
}

export function use() {
  asked = true;
  waiting?.postMessage("use");
}
