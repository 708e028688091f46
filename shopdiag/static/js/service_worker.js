/* Stands between pages and the server, and answers where the server cannot. It keeps files of the
   look and one page that names nobody. Pages and answers with anybody's data are never kept: a
   tablet passes from hand to hand. `KEPT` comes from the server, another for each version. */
const { version, page, files, folder } = self.KEPT;
const CACHE = `look-${version}`;
const IN_KEEPING = { ignoreVary: true };
/* The name tells the content, so what is kept under it cannot be out of date. */
const FINGERPRINTED = /\.[0-9a-f]{12}\.\w+$/;

async function install() {
  const cache = await caches.open(CACHE);
  await cache.addAll([page, ...files].map((address) => new Request(address, { cache: "no-cache" })));
  await self.skipWaiting();
}

async function activate() {
  const before = (await caches.keys()).filter((name) => name !== CACHE);
  await Promise.all(before.map((name) => caches.delete(name)));
  await self.registration.navigationPreload?.enable();
  await self.clients.claim();
}

async function openPage(event) {
  try {
    return (await event.preloadResponse) || (await fetch(event.request));
  } catch (error) {
    const kept = await caches.match(page, IN_KEEPING);
    if (!kept) {
      throw error;
    }
    return kept;
  }
}

/* A form that found nobody: an answer without content leaves its page as it stands. */
async function sendForm(request) {
  try {
    return await fetch(request);
  } catch {
    const from = request.referrer.split("#")[0];
    for (const client of await self.clients.matchAll({ type: "window" })) {
      if (client.url.split("#")[0] === from) {
        client.postMessage({ kind: "form-not-sent" });
      }
    }
    return new Response(null, { status: 204 });
  }
}

async function openFile(event, address) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(event.request, IN_KEEPING);
  if (kept && FINGERPRINTED.test(address.pathname)) {
    return kept;
  }
  try {
    const answer = await fetch(event.request);
    if (answer.status === 200 && (kept || FINGERPRINTED.test(address.pathname))) {
      event.waitUntil(cache.put(event.request, answer.clone()).catch(() => null)); // no room left
    }
    return answer;
  } catch (error) {
    if (kept) {
      return kept;
    }
    throw error;
  }
}

/* Files go to the server past this script, as they may be large. */
function isPlainForm(request) {
  const type = request.headers.get("Content-Type") || "";
  return request.method === "POST" && type.startsWith("application/x-www-form-urlencoded");
}

function isFile(request, address) {
  const isOurs = address.origin === self.location.origin && request.method === "GET";
  return (
    isOurs &&
    (address.pathname.startsWith(folder) || files.includes(address.pathname + address.search))
  );
}

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("fetch", function (event) {
  const { request } = event;
  const address = new URL(request.url);
  if (request.mode === "navigate" && request.method === "GET") {
    event.respondWith(openPage(event));
  } else if (request.mode === "navigate" && isPlainForm(request)) {
    event.respondWith(sendForm(request));
  } else if (request.mode !== "navigate" && isFile(request, address)) {
    event.respondWith(openFile(event, address));
  }
});
