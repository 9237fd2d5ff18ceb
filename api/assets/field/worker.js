// The worker of the field pages: what was opened with signal opens without it. It keeps pages and
// what they load, and nothing that was written; entries are kept and sent by the pages themselves.
// The service puts the names of what to load, as VERSION and FILES, before this text.
const LOADED = `tarebook-files-${VERSION}`;
const PAGES = "tarebook-pages";
const PATIENCE = 4_000;
const CYLINDERS = "/field/cylinders";
/** Milliseconds after which what is kept is asked for again; what has not changed is not sent again. */
const LASTS = { page: 900_000, list: 300_000 };
let keeping = Promise.resolve();
/** Counts sign-ins and sign-outs: what was asked for before one is not kept after it. */
let reign = 0;

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
    if (pathname === "/sign-in" || pathname === "/sign-out") event.respondWith(another(request));
    return;
  }
  if (pathname.startsWith("/assets/")) event.respondWith(loaded(request));
  else if (request.mode === "navigate") event.respondWith(page(event, pathname));
});

/**
 * Whoever signs in or out next may be somebody else: pages of the one before are not shown. They go
 * before the answer, and after it once more, because until then a page could still be theirs.
 */
async function another(request) {
  const forget = () => {
    reign += 1;
    return caches.delete(PAGES);
  };
  await forget();
  try {
    return await fetch(request);
  } finally {
    await forget();
  }
}

addEventListener("message", (event) => {
  const { keep = [], anew = [] } = event.data;
  const all = (paths) => paths.flatMap((path) => [path, ...behind(path)]);
  event.waitUntil((keeping = keeping.then(() => keepAll(all(anew), true)).then(() => keepAll(all(keep))).catch(() => {})));
});

/** Forms at a cylinder; cards of cylinders, which are drawn from the list, and what a label names. */
const [CHECK, CARD] = [/^\/cylinders\/[^/]+\/check$/, /^\/q\/|^\/field\/cylinders\//];
const isKept = (path) => path === "/" || path === "/field" || (path.startsWith("/field/") && !CARD.test(path)) || CHECK.test(path) || /^\/appliances\/[^/]+\/(charge|recover|service)$|^\/entries\/[^/]+\/correct$/.test(path);

/** The forms that a card leads to. */
const behind = (path) => (/^\/field\/appliances\/[^/]+$/.test(path) ? ["charge", "recover", "service"].map((deed) => `${path.slice(6)}/${deed}`) : []);

async function loaded(request) {
  return (await (await caches.open(LOADED)).match(request)) ?? fetch(request);
}

/** From the service, and where it does not answer in time, as it was kept. */
async function page(event, path) {
  const { request } = event;
  const since = reign;
  const kept = await caches.open(PAGES);
  const old = await oldOf(kept, path);
  const wait = new Promise((_, late) => old && setTimeout(late, PATIENCE));
  try {
    const answer = await Promise.race([fetch(request), wait]);
    if (answer.status >= 500 && old) return old;
    if (isKept(path) && isPage(answer) && path !== "/" && new URL(request.url).search === "") {
      event.waitUntil(put(since, path, answer.clone()).then(() => keepAll(behind(path))));
    }
    return answer;
  } catch {
    return old ?? notKept(kept, path);
  }
}

const pathsOf = async (kept) => (await kept.keys()).map(({ url }) => new URL(url).pathname);

/** What is kept of a page, or what stands for it: one day for every label and cylinder, one form for all. */
async function oldOf(kept, path) {
  const own = isKept(path) && (await kept.match(path === "/" ? "/field" : path));
  if (own) return own;
  if (CHECK.test(path)) return kept.match((await pathsOf(kept)).find((other) => CHECK.test(other)) ?? path);
  return CARD.test(path) ? kept.match("/field") : undefined;
}

const isPage = (answer) => answer.status === 200 && !answer.redirected && /^(text\/html|application\/json)/.test(answer.headers.get("content-type"));

/**
 * Keeps a page once all of it is here: one that broke off must not take the place of a whole one. It
 * says of itself that it is kept, and as of when: when it was made, or `checked`, when the service
 * last said that it still holds. `since`: the reign in which it was asked for.
 */
async function put(since, path, answer, checked = "") {
  const text = await answer.text().catch(() => null);
  if (text === null) return;
  const later = (made) => (checked > made ? checked : made);
  const marked = text.replace(/( data-kept)? data-made="([^"]*)"|"made":"([^"]*)"/, (_, was, page, list) => (page ? ` data-kept data-made="${later(page)}"` : `"made":"${later(list)}"`));
  const headers = new Headers(answer.headers);
  headers.set("kept-at", Date.now());
  headers.delete("content-length");
  // Opened now: of a store that was deleted meanwhile an older handle would go on writing.
  const kept = await caches.open(PAGES);
  if (since === reign) await kept.put(path, new Response(marked, { headers }));
}

/** Pages that were not asked for of late (`anew`: all of them), one after the other, quietly. */
async function keepAll(paths, anew = false) {
  const since = reign;
  const kept = await caches.open(PAGES);
  const wanted = new Set(paths.filter(isKept));
  for (const path of wanted) {
    if (since !== reign || !(await keepOne(kept, since, path, anew))) return;
    if (path !== CYLINDERS) continue;
    const { cylinders = [], near = [], scales = [] } = (await (await kept.match(path))?.json()) ?? {};
    // The forms at one cylinder stand for those at every other.
    if (cylinders[0]) wanted.add(`/cylinders/${encodeURIComponent(cylinders[0].tag)}/check`);
    if (anew) continue;
    for (const scale of scales) wanted.add(scale);
    // The other units at the sites of today come last, and are not hurried.
    for (const card of near) for (const page of [card, ...behind(card)]) wanted.add(page);
  }
}

/** Asks for one page where what is kept is old; false: there is no signal. */
async function keepOne(kept, since, path, anew) {
  const old = await kept.match(path);
  const age = old ? Date.now() - old.headers.get("kept-at") : -1;
  if (!anew && age >= 0 && age < (path === CYLINDERS ? LASTS.list : LASTS.page)) return true;
  const print = old?.headers.get("etag");
  const answer = await fetch(path, { redirect: "error", cache: "no-store", headers: print ? { "If-None-Match": print } : {} }).catch(() => null);
  if (!answer) return false;
  if (answer.status === 304) await put(since, path, old, new Date(answer.headers.get("date")).toISOString());
  else if (isPage(answer)) await put(since, path, answer);
  return true;
}

/** What waits on this phone, in words; the pages make the store, and none is made here. */
function waiting() {
  return new Promise((done) => {
    const asked = indexedDB.open("tarebook");
    asked.onupgradeneeded = () => asked.transaction.abort();
    asked.onerror = () => done("");
    asked.onsuccess = () => {
      const read = asked.result.transaction(["entries", "notes"]);
      const [all, keys, person] = [read.objectStore("entries").getAll(), read.objectStore("notes").getAllKeys(), read.objectStore("notes").get("person")];
      read.onerror = () => done("");
      read.oncomplete = () => {
        asked.result.close();
        const count = (...states) => all.result.filter(({ state }) => states.includes(state)).length;
        const [waits, asks] = [count("waiting", "sending"), count("asks")];
        const entries = (many) => (many === 1 ? "1 entry" : `${many} entries`);
        const drafts = keys.result.filter((key) => String(key).startsWith(`draft ${person.result} `)).length;
        done(`Outbox: ${waits === 0 ? "nothing waits" : `${entries(waits)} waiting`} on this phone${asks === 0 ? "" : `; ${entries(asks)} to be put right`}${drafts === 0 ? "" : `; ${drafts === 1 ? "1 form" : `${drafts} forms`} not finished`}.`);
      };
    };
  });
}

/** What can be done without signal, where it is kept. */
const WITHOUT = { "/field": "Today", "/field/cage": "Cylinders", "/field/tools": "Saturation, pressure test", "/field/new": "An appliance not yet in the book", "/field/me": "My entries, certificate, scales", "/field/outbox": "Outbox" };

/** The appliance whose card or form is asked for. */
const unitOf = (path) => {
  const found = /^(?:\/field)?\/appliances\/([^/]+)/.exec(path);
  return found && decodeURIComponent(found[1]);
};

async function notKept(kept, asked) {
  const paths = await pathsOf(kept);
  const plain = (text) => text.replace(/[&<>"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
  const text = (path) => plain(decodeURIComponent(path.split("/").pop()));
  const line = (path, words) => `<li><a href="${path}"><span class="what"><span>${words}</span></span></a></li>`;
  const cards = paths.filter((path) => path.startsWith("/field/appliances/")).map((path) => line(path, text(path)));
  const unit = unitOf(asked);
  const { units = [] } = (await (await kept.match(CYLINDERS))?.json()) ?? {};
  const inBook = units.some((tag) => tag.toLowerCase() === unit?.toLowerCase());
  // What the book has is not registered a second time.
  const can = Object.entries(WITHOUT).filter(([path]) => paths.includes(path) && !(unit && path === "/field/new")).map(([path, words]) => line(path, words));
  const list = (name, lines) => (lines.length === 0 ? "" : `<h2>${name}</h2><ul class="lines">${lines.join("")}</ul>`);
  const says = can.length === 0 ? "Nothing is kept on this phone: sign in once where there is signal." : `${inBook ? `${plain(unit)} is in the book. ` : ""}${unit ? "Open a unit once where there is signal, then it is kept." : "It opens once there is signal."} What you wrote is kept.`;
  const again = plain(asked);
  const [sheet, more] = FILES;
  const html = `<!doctype html><html lang="en" class="field"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No signal – tarebook</title><link rel="stylesheet" href="${sheet}"><link rel="stylesheet" href="${more}"></head><body><div class="page"><main id="main"><h1>No signal</h1><p>This page is not kept on this phone. ${says}</p><p>${await waiting()}</p>${list("Without signal", can)}${list("Cards kept on this phone", cards)}<p><a class="linkrow" href="${again}">Try again</a></p></main></div></body></html>`;
  const policy = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
  return new Response(html, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy } });
}
