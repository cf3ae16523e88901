// Starts the phone's pages: storage first, then the screen of the address, then the line to the office.

import { button, h, notice } from "./dom.js";
import { applyLight, homeScreen, phoneScreen, setLight } from "./home.js";
import { entryScreen, line, outboxScreen } from "./outbox_screen.js";
import { pairScreen, takeCode } from "./pair.js";
import { begin, load, onChange, phone } from "./phone.js";
import { showUnread } from "./safety.js";
import { listen, sync } from "./sending.js";
import * as store from "./store.js";
import { testScreen } from "./test_screen.js";
import * as update from "./update.js";
import { visitScreen } from "./visit_screens.js";

const AGAIN_MS = 60_000;
const main = document.getElementById("main");
const foot = document.getElementById("foot");
const back = document.getElementById("back");
const syncLine = document.getElementById("sync");
let current = "";

const tools = {
  go: (hash) => { location.hash === hash ? draw() : (location.hash = hash); },
  redraw: (focus) => draw({ focus }),
};

function screenOf(hash) {
  const [name, id, part = "", detail = ""] = hash.replace(/^#/, "").split("/");
  if (name === "pair" || (!phone.pairing && !phone.package && name === "")) {
    return pairScreen(tools);
  }
  if (name === "visit") {
    return visitScreen(id, part, detail, tools);
  }
  if (name === "test") {
    return testScreen(id, tools);
  }
  if (name === "outbox") {
    return id ? entryScreen(id, tools) : outboxScreen(tools);
  }
  return name === "phone" ? phoneScreen(tools) : homeScreen(tools);
}

/** Draw the screen of the address. A new screen starts at its heading; the same one keeps its place. */
function draw({ focus } = {}) {
  const fresh = current !== location.hash || focus === undefined;
  const place = main.scrollTop || window.scrollY;
  const held = focus ?? (fresh ? null : document.activeElement?.id || nameOf(document.activeElement));
  current = location.hash;
  const screen = screenOf(location.hash);
  document.title = `${screen.title} - Hearthledger`;
  back.hidden = !screen.back;
  back.href = screen.back ?? "#";
  main.replaceChildren(
    h("h1", { tabindex: "-1", id: "title" }, screen.title),
    screen.lead ? h("p", { class: "lead" }, screen.lead) : "",
    ...screen.body.flat(Infinity).filter(Boolean));
  foot.replaceChildren(...[screen.action ?? []].flat().filter(Boolean));
  foot.hidden = !screen.action;
  screen.shown?.();
  drawLine();
  if (fresh) {
    scrollBack(0);
    document.getElementById("title").focus({ preventScroll: true });
  } else {
    scrollBack(place);
    refocus(held);
  }
}

/** The middle scrolls by itself; on a very low screen the whole page does. */
function scrollBack(place) {
  main.scrollTop = place;
  window.scrollTo(0, place);
}

const nameOf = (element) => (element?.name ? `input[name="${CSS.escape(element.name)}"]:checked` : "");

function refocus(held) {
  const target = !held ? null : held.startsWith("input[") ? document.querySelector(held) : document.getElementById(held);
  target?.focus({ preventScroll: true });
  target?.scrollIntoView({ block: "nearest" });
}

function drawLine() {
  const words = line();
  if (syncLine.textContent !== words) {
    syncLine.textContent = words;
  }
}

/** News redraw a screen that only shows; a form under the hand is left alone. */
function news() {
  drawLine();
  const [name, , part] = location.hash.replace(/^#/, "").split("/");
  const shows = ["", "outbox", "phone"].includes(name) || (name === "visit" && ["", undefined, "tests"].includes(part));
  const typing = document.activeElement?.matches?.("input, select, textarea");
  if (shows && !typing && !document.querySelector("dialog[open]")) {
    draw({ focus: null });
  }
  if (phone.revoked && name !== "" && name !== "pair") {
    tools.go("#");
  }
  showUnread();
}

/** Nothing may be typed that would not be kept. */
function storageFailed() {
  document.title = "Storage failed - Hearthledger";
  back.hidden = true;
  main.replaceChildren(
    h("h1", { tabindex: "-1", id: "title" }, "This phone cannot keep your work"),
    notice("stop", "Stop typing here",
      h("p", {}, "The browser will not save on this phone. Anything typed now would be lost."),
      h("ol", {}, ["Leave private browsing, if it is on.", "Free some space on the phone.", "Then try again.", "If it stays so, use another phone or write on paper, and call the office."].map((one) => h("li", {}, one)))));
  foot.hidden = false;
  foot.replaceChildren(button("Try again", () => location.reload(), { look: "button--main" }));
  document.getElementById("title").focus();
}

async function start() {
  store.onFailure(storageFailed);
  const light = document.getElementById("light");
  light.addEventListener("click", () => setLight(phone.light === "sun" ? "auto" : "sun"));
  try {
    await store.open();
    await begin();
  } catch {
    storageFailed();
    return;
  }
  takeCode();
  applyLight();
  onChange(news);
  window.addEventListener("hashchange", () => {
    takeCode();
    draw();
  });
  document.addEventListener("visibilitychange", async () => {
    // Another window of this page may have written meanwhile.
    if (document.visibilityState === "visible" && !location.hash.startsWith("#test/")) {
      await load();
      news();
    }
  });
  draw();
  showUnread();
  listen();
  setInterval(sync, AGAIN_MS);
  sync();
  update.register().catch(() => {});
}

start();
