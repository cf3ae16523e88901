// Photos: made small and free of hidden data on the phone, kept with their measure or test, sent last.

import { button, h, selectField, tab, textField } from "./dom.js";
import { entryOf, stateWords } from "./outbox.js";
import { dropEntry, phone, photoOf, queuePhoto } from "./phone.js";
import { sync } from "./sending.js";
import { momentWords, sizeWords, zoned } from "./words.js";

export const LONGEST_SIDE = 2048;
export const MOST_BYTES = 700_000;
const THUMBNAIL = 240;
const QUALITIES = [0.82, 0.7, 0.58, 0.45, 0.35];
const SHRINK = 0.8;
const SMALLEST_SIDE = 320;
const TYPE = "image/jpeg";

export class NotAPicture extends Error {}

/** Drawn anew, so that nothing but pixels is left: no place, no time, no name of the phone. */
export async function shrunk(file) {
  let bitmap;
  try {
    bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw new NotAPicture("This file is no picture the phone can open. Take it again.");
  }
  const longest = Math.max(bitmap.width, bitmap.height);
  for (let side = Math.min(LONGEST_SIDE, longest); side >= Math.min(SMALLEST_SIDE, longest); side = Math.floor(side * SHRINK)) {
    const canvas = drawn(bitmap, side / longest);
    for (const quality of QUALITIES) {
      const blob = await new Promise((resolve) => { canvas.toBlob(resolve, TYPE, quality); });
      if (blob && blob.size <= MOST_BYTES) {
        bitmap.close();
        return blob;
      }
    }
  }
  throw new NotAPicture("This picture cannot be made small enough. Take it again.");
}

function drawn(bitmap, scale, canvas = document.createElement("canvas")) {
  canvas.width = Math.max(1, Math.round(bitmap.width * scale));
  canvas.height = Math.max(1, Math.round(bitmap.height * scale));
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return canvas;
}

/** What a photo may show: the visit as a whole, or one of its tests. */
function subjects(facts) {
  const own = facts.entries.filter((one) => one.sort === "run" && one.visit === facts.visit.id);
  return [["", "The house or a measure"], ...own.map((one) => [one.key, one.title])];
}

export function photoList(facts, tools) {
  const taken = phone.entries
    .filter((one) => one.sort === "photo" && one.visit === facts.visit.id)
    .sort((a, b) => b.made_at - a.made_at);
  const chosen = { caption: "", test: "" };
  const said = h("p", { role: "status", class: "said", id: "photo-said" });
  const input = h("input", {
    type: "file", accept: "image/*", capture: "environment", class: "visually-hidden", id: "photo-file", tabindex: "-1",
    "aria-label": "Picture from the camera",
    onchange: async (event) => {
      const [file] = event.target.files;
      if (file && await keep(file, facts, chosen, said)) {
        tools.redraw(null);
      }
      event.target.value = "";
    },
  });
  return {
    title: "Photos", lead: facts.job.house.address,
    body: [
      selectField({ id: "photo-test", label: "The photo shows", value: "", options: subjects(facts), onchange: (value) => { chosen.test = value; } }),
      textField({ id: "photo-caption", label: "What is to be seen", value: "", onchange: (value) => { chosen.caption = value; } }),
      said, input,
      taken.length === 0 ? h("p", {}, "No photo yet.") : h("ul", { class: "photos" }, taken.map((one) => photoRow(one, facts, tools))),
      h("p", { class: "hint" }, "Photos are made small here; their place and time are taken out."),
    ],
    action: button("Take a photo", () => input.click(), { look: "button--main" }),
  };
}

async function keep(file, facts, { caption, test }, said) {
  said.textContent = "Making it small…";
  try {
    const blob = await shrunk(file);
    const key = crypto.randomUUID();
    const body = {
      client_key: key, job: facts.job.id, visit: facts.visit.id, test_key: test || null, caption, taken_at: zoned(),
    };
    await queuePhoto(entryOf({
      key, sort: "photo", body, job: facts.job.id, visit: facts.visit.id, title: "Photo",
      place: facts.job.house.address, now: Date.now(), size: blob.size, caption,
    }), blob);
    sync();
    return true;
  } catch (problem) {
    said.textContent = problem instanceof NotAPicture ? problem.message : "The photo could not be kept. Free some space and take it again.";
    return false;
  }
}

function photoRow(entry, facts, tools) {
  const canvas = h("canvas", { role: "img", "aria-label": entry.caption || "Photo", class: "photo__picture" });
  thumbnail(entry, canvas);
  const again = ["waiting", "refused"].includes(entry.state);
  return h("li", { class: "photo" }, canvas,
    h("div", {},
      h("p", {}, entry.caption || "No words"),
      h("p", {}, `${momentWords(entry.made_at)}, ${sizeWords(entry.size)}`),
      tab(stateWords(entry), entry.state === "sent" ? "done" : entry.state === "refused" ? "stop" : "note"),
      entry.problems.map((one) => h("p", { class: "problem" }, one.message)),
      again ? button("Take it again: throws this one away", async () => {
        await dropEntry(entry);
        tools.redraw(null);
      }, { look: "button--quiet" }) : null));
}

async function thumbnail(entry, canvas) {
  const blob = await photoOf(entry);
  if (!blob) {
    canvas.hidden = true;
    return;
  }
  const bitmap = await createImageBitmap(blob);
  drawn(bitmap, THUMBNAIL / Math.max(bitmap.width, bitmap.height), canvas);
  bitmap.close();
}

