// What this phone keeps: entries in the order in which they were written, drafts, a few settings.
//
// An entry is written here, and the write is on the disk, before it is sent anywhere. It changes its
// state and is never removed but by its receipt, which stays for 30 days. Whose it is stands in it.

const KEPT_DAYS = 30;
let opened;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("tarebook", 1);
    asked.onupgradeneeded = () => {
      const entries = asked.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
      entries.createIndex("id", "id", { unique: true });
      asked.result.createObjectStore("notes");
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
    asked.onblocked = () => reject(new Error("another page of an older version is open"));
  });
  return opened;
}

/** Does something with a store and waits until it is on the disk. */
async function within(name, mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const change = database.transaction(name, mode, { durability: "strict" });
    const asked = work(change.objectStore(name));
    change.oncomplete = () => resolve(asked?.result);
    change.onabort = change.onerror = () => reject(change.error ?? new Error("nothing was kept"));
  });
}

/** Says whether anything can be kept here at all; throws where it cannot. */
export const ready = () => within("notes", "readwrite", (notes) => notes.put(Date.now(), "opened"));

/** All entries of this phone, the earliest first. */
export const entries = () => within("entries", "readonly", (store) => store.getAll());

export const entry = (id) => within("entries", "readonly", (store) => store.index("id").get(id));

/** Keeps an entry; one that was kept before keeps its place in the order. */
export async function keep(one) {
  const order = await within("entries", "readwrite", (store) => store.put(one));
  one.order ??= order;
  tell();
  return one;
}

/** Receipts that have served their time go; nothing else ever does. */
export async function clear() {
  const before = new Date(Date.now() - KEPT_DAYS * 86_400_000).toISOString();
  for (const one of await entries()) {
    if (one.receipt && one.receipt.booked_at < before) {
      await within("entries", "readwrite", (store) => store.delete(one.order));
    }
  }
}

export const note = (key) => within("notes", "readonly", (notes) => notes.get(key));
export const setNote = (key, value) => within("notes", "readwrite", (notes) => notes.put(value, key));
export const dropNote = (key) => within("notes", "readwrite", (notes) => notes.delete(key));

/** All notes whose key begins so, as `[key, value]`. */
export async function notesOf(start) {
  const range = IDBKeyRange.bound(start, `${start}\uffff`);
  const keys = await within("notes", "readonly", (notes) => notes.getAllKeys(range));
  return Promise.all(keys.map(async (key) => [key, await note(key)]));
}

// Pages of this phone hear of each other's changes.
const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("tarebook") : null;
const listeners = [];
export function tell() {
  channel?.postMessage("changed");
  for (const listener of listeners) listener();
}
export function onChange(listener) {
  listeners.push(listener);
  channel?.addEventListener("message", listener);
}

/** A UUID of version 7 (RFC 9562): the time in milliseconds, then chance. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  const now = Date.now().toString(16).padStart(12, "0");
  for (let at = 0; at < 6; at += 1) bytes[at] = parseInt(now.slice(2 * at, 2 * at + 2), 16);
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
