// The worker of the field pages: what was opened with signal opens without it. It keeps pages and
// what they load, and nothing that was written; entries are kept and sent by the pages themselves.
// The service puts the names of what to load, as VERSION and FILES, before this text.
const LOADED = `tarebook-files-${VERSION}`;
const PAGES = "tarebook-pages";
const PATIENCE = 4_000;
let keeping = Promise.resolve();

addEventListener("install", (event) => {
  event.waitUntil(caches.open(LOADED).then((kept) => kept.addAll(FILES)).then(() => skipWaiting()));
});

addEventListener("activate", (event) => {
  const old = (name) => name.startsWith("tarebook-files-") && name !== LOADED;
  const cleared = caches.keys().then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))));
  event.waitUntil(cleared.then(() => clients.claim()).then(openPages));
});

/** Pages that were opened before this worker: they are kept even if they close at once. */
async function openPages() {
  const open = await clients.matchAll({ type: "window", includeUncontrolled: true });
  await keepAll(open.map(({ url }) => new URL(url)).filter(({ search }) => search === "").flatMap(({ pathname }) => [pathname, ...behind(pathname)]));
}

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== location.origin) return;
  if (request.method !== "GET") {
    // Whoever signs in or out next may be somebody else: pages of the one before are not shown.
    if (pathname === "/sign-in" || pathname === "/sign-out") event.waitUntil(caches.delete(PAGES));
    return;
  }
  if (pathname.startsWith("/assets/")) event.respondWith(loaded(request));
  else if (request.mode === "navigate" && isKept(pathname)) event.respondWith(page(event, pathname));
});

addEventListener("message", (event) => {
  const { keep = [] } = event.data;
  event.waitUntil((keeping = keeping.then(() => keepAll(keep.flatMap((path) => [path, ...behind(path)]))).catch(() => {})));
});

const isKept = (path) => path === "/" || path === "/field" || path.startsWith("/field/") || /^\/appliances\/[^/]+\/(charge|recover|service)$|^\/entries\/[^/]+\/correct$/.test(path);

/** The forms that a card leads to. */
const behind = (path) => (/^\/field\/appliances\/[^/]+$/.test(path) ? ["charge", "recover", "service"].map((deed) => `${path.slice(6)}/${deed}`) : []);

async function loaded(request) {
  return (await (await caches.open(LOADED)).match(request)) ?? fetch(request);
}

/** From the service, and where it does not answer in time, as it was kept. */
async function page(event, path) {
  const { request } = event;
  const kept = await caches.open(PAGES);
  const old = await kept.match(path === "/" ? "/field" : path);
  const wait = new Promise((_, late) => old && setTimeout(late, PATIENCE));
  try {
    const answer = await Promise.race([fetch(request), wait]);
    if (answer.status >= 500 && old) return old;
    if (isPage(answer) && path !== "/" && new URL(request.url).search === "") {
      event.waitUntil(put(kept, path, answer.clone()).then(() => keepAll(behind(path))));
    }
    return answer;
  } catch {
    return old ?? notKept(kept);
  }
}

const isPage = (answer) => answer.status === 200 && !answer.redirected && /^(text\/html|application\/json)/.test(answer.headers.get("content-type"));

/** Keeps a page once all of it is here: one that broke off must not take the place of a whole one. */
async function put(kept, path, answer) {
  const whole = await answer.blob().catch(() => null);
  if (whole) await kept.put(path, new Response(whole, { headers: answer.headers }));
}

/** Pages that were not asked for within half an hour, one after the other, quietly. */
async function keepAll(paths) {
  const kept = await caches.open(PAGES);
  for (const path of new Set(paths.filter(isKept))) {
    const old = await kept.match(path);
    const made = Date.parse(old?.headers.get("date"));
    if (Date.now() - made < 1_800_000) continue;
    const answer = await fetch(path, { redirect: "error" }).catch(() => null);
    if (!answer) return;
    if (isPage(answer)) await put(kept, path, answer);
  }
}

async function notKept(kept) {
  const paths = (await kept.keys()).map(({ url }) => new URL(url).pathname);
  const cards = paths.filter((path) => path.startsWith("/field/appliances/"));
  const text = (path) => decodeURIComponent(path.split("/").pop()).replace(/[&<>"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
  const lines = cards.map((path) => `<li><a href="${path}"><span class="what"><span>${text(path)}</span></span></a></li>`);
  const [sheet, more] = FILES;
  const html = `<!doctype html><html lang="en" class="field"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No signal – tarebook</title><link rel="stylesheet" href="${sheet}"><link rel="stylesheet" href="${more}"></head><body><div class="page"><main id="main"><h1>No signal</h1><p>This page is not kept on this phone. What you wrote is.</p><ul class="lines">${lines.join("")}</ul><p><a class="linkrow" href="/field">Today</a></p><p><a class="linkrow" href="/field/outbox">Outbox</a></p></main></div></body></html>`;
  const policy = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
  return new Response(html, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy } });
}
