// Keeps the phone's pages for starting without a signal; readings and names never pass through it.
const KEPT = "hearthledger-field-{{ version }}";
const SHELL = "{{ shell }}";
const FILES = [{% for one in kept %}
  "{{ one }}",{% endfor %}
];

self.addEventListener("install", (event) => {
  // All or nothing, past the browser's own cache, so that no two versions mix.
  const fresh = FILES.map((one) => new Request(one, { cache: "reload", credentials: "omit" }));
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(fresh)));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys()
      .then((names) => names.filter((one) => one.startsWith("hearthledger-field-") && one !== KEPT))
      .then((old) => Promise.all(old.map((one) => caches.delete(one))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("message", (event) => {
  if (event.data === "use") {
    self.skipWaiting();
  }
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) {
    return;
  }
  if (request.mode === "navigate") {
    if (address.pathname === SHELL) {
      event.respondWith(kept(SHELL, request));
    }
    return;
  }
  if (FILES.includes(address.pathname)) {
    event.respondWith(kept(address.pathname, request));
  }
});

async function kept(path, request) {
  const cache = await caches.open(KEPT);
  return (await cache.match(path)) ?? fetch(request);
}
