// Gives the page out without signal. All its files belong to one version, so they never mix; what the server is asked
// for jobs and entries goes past here untouched: an old answer must not look like a new one.
const SHELF = "sludgebook-phone-" + "VERSION";
const FILES = ["FILES"];

self.addEventListener("install", (event) => {
  const fetched = FILES.map((file) => new Request(file, { cache: "reload" }));
  event.waitUntil(caches.open(SHELF).then((shelf) => shelf.addAll(fetched)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const isOld = (name) => name.startsWith("sludgebook-phone-") && name !== SHELF;
  event.waitUntil(
    caches.keys().then((names) => Promise.all(names.filter(isOld).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const asked = new URL(event.request.url);
  const isFile = FILES.some((file) => new URL(file, self.registration.scope).pathname === asked.pathname);
  if (event.request.method !== "GET" || asked.origin !== self.location.origin || !isFile) return;
  event.respondWith(
    caches.open(SHELF).then((shelf) => shelf.match(event.request, { ignoreSearch: true }))
      .then((found) => found ?? fetch(event.request)),
  );
});
