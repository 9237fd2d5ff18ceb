// Works the chain out again in this browser: fetches every entry and every leaf hash, hashes each
// entry anew and adds up the tree as RFC 6962, section 2.1 says. The page works without; then its
// squares stay not checked.
const strip = document.getElementById("chain");
const says = document.getElementById("chain-says");
const button = document.getElementById("chain-check");
const kept = document.getElementById("kept");
const FULL = 256;
const spaced = (number) => String(number).replace(/\B(?=(\d{3})+$)/g, "\u202f");
const same = (one, other) => one.length === other.length && one.every((byte, at) => byte === other[at]);
const sha256 = async (...parts) => new Uint8Array(await crypto.subtle.digest("SHA-256", await new Blob(parts).arrayBuffer()));
const node = (left, right) => sha256(Uint8Array.of(1), left, right);
const unbase64 = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

/** The path of a tile: its index in groups of three digits, its width where it is not full. */
export function tilePath(kind, index, width) {
  let path = String(index % 1000).padStart(3, "0");
  for (let rest = Math.floor(index / 1000); rest > 0; rest = Math.floor(rest / 1000)) path = `x${String(rest % 1000).padStart(3, "0")}/${path}`;
  return `/api/v1/log/tile/${kind}/${path}${width < FULL ? `.p/${width}` : ""}`;
}

/** Entries of a bundle: each after its length, two bytes. */
function* entriesOf(bytes) {
  for (let at = 0; at < bytes.length; ) {
    const length = bytes[at] * 256 + bytes[at + 1];
    yield bytes.subarray(at + 2, at + 2 + length);
    at += 2 + length;
  }
}

/** A tree that grows leaf by leaf: roots of its full subtrees, the largest first. */
class Tree {
  size = 0;
  peaks = [];
  async add(hash) {
    for (let size = this.size; size % 2 === 1; size = Math.floor(size / 2)) hash = await node(this.peaks.pop(), hash);
    this.peaks.push(hash);
    this.size += 1;
  }
  async root() {
    let root = this.peaks.at(-1);
    for (const peak of this.peaks.slice(0, -1).reverse()) root = await node(peak, root);
    return root;
  }
}

/** Size and root of a checkpoint (C2SP tlog-checkpoint): the second and the third line. */
export function checkpointOf(text) {
  const [origin, size, root] = text.trim().split("\n").map((line) => line.trim());
  if (!/^\d+$/.test(size ?? "") || !/^[A-Za-z0-9+/]{43}=$/.test(root ?? "")) return null;
  return { origin, size: Number(size), root: unbase64(root) };
}

async function fetched(path) {
  const answer = await fetch(path, { credentials: "same-origin" });
  if (!answer.ok) throw new Error(`The service answered ${answer.status}. Load the page anew and try again.`);
  return new Uint8Array(await answer.arrayBuffer());
}

/** The tree of what is fetched up to `size`; `wrong`: entries that are not what their hash says. */
async function worked(size, wanted, progress) {
  const tree = new Tree();
  const wrong = [];
  const roots = new Map();
  for (let index = 0; index * FULL < size; index += 1) {
    const width = Math.min(FULL, size - index * FULL);
    const [entries, hashes] = await Promise.all([fetched(tilePath("entries", index, width)), fetched(tilePath("0", index, width))]);
    let place = 0;
    for (const leaf of entriesOf(entries)) {
      const sealed = hashes.slice(place * 32, place * 32 + 32);
      if (!same(await sha256(Uint8Array.of(0), leaf), sealed)) wrong.push(tree.size);
      await tree.add(sealed);
      if (wanted.has(tree.size)) roots.set(tree.size, await tree.root());
      place += 1;
    }
    if (place !== width) throw new Error(`The service gave ${place} of ${width} entries from no. ${index * FULL} on.`);
    progress(tree.size);
  }
  return { wrong, roots };
}

const FIGURE = { fits: (x, y) => `M${x + 3} ${y + 3}h15v15h-15Z`, open: (x, y) => `M${x} ${y + 21}V${y}L${x + 21} ${y + 21}Z`, wrong: (x, y) => `M${x + 2} ${y + 4}l2-2 6.5 6.5 6.5-6.5 2 2-6.5 6.5 6.5 6.5-2 2-6.5-6.5-6.5 6.5-2-2 6.5-6.5Z` };
const WORD = { fits: "fits", open: "not checked", wrong: "does not fit" };

/** Draws how each block stands, in both drawings and in the table. */
function draw(stands) {
  for (const svg of strip.querySelectorAll("svg")) {
    const squares = svg.querySelectorAll("rect");
    svg.querySelectorAll(".ink-fill").forEach((mark, at) => mark.setAttribute("d", FIGURE[stands[at]](Number(squares[at].getAttribute("x")), Number(squares[at].getAttribute("y")))));
  }
  strip.querySelectorAll("[data-block-state]").forEach((cell, at) => { cell.textContent = WORD[stands[at]]; });
}

function say(text, state) {
  says.textContent = text;
  says.dataset.state = state;
  // What came of it stands above the squares; here it is only heard.
  says.classList.toggle("away", state !== "runs");
  const sentence = strip.querySelector("figcaption");
  if (sentence && state !== "runs") sentence.textContent = text;
  for (const words of strip.querySelectorAll("desc")) words.textContent = text;
}

/** What is to be said of a tree, and how each block stands. */
function judged({ wrong, roots }, seal, older, block) {
  const blocks = Math.ceil(seal.size / block);
  const all = (state) => Array(blocks).fill(state);
  const upTo = (size) => (size === 1 ? "Entry 0 agrees" : `Entries 0 to ${spaced(size - 1)} agree`);
  const isRoot = (checkpoint) => same(roots.get(checkpoint.size), checkpoint.root);
  const whole = isRoot(seal);
  const stands = all(whole ? "fits" : "open");
  for (const entry of wrong) stands[Math.floor(entry / block)] = "wrong";
  const advice = "Keep your paper; tell the compliance manager and the person who gave you the seal.";
  if (wrong.length > 0) {
    const names = wrong.slice(0, 5).map((entry) => `no. ${spaced(entry)}`).join(", ");
    const more = wrong.length > 5 ? ` and ${wrong.length - 5} more` : "";
    return [stands, `It does not fit: ${wrong.length === 1 ? "entry" : "entries"} ${names}${more} ${wrong.length === 1 ? "is" : "are"} not what was sealed. ${advice}`, "wrong"];
  }
  if (!whole) return [all("wrong"), `It does not fit: the hashes of the entries do not add up to the root of the newest seal. ${advice}`, "wrong"];
  if (older && !isRoot(older)) return [all("open").map((_, at) => ((at + 1) * block <= older.size ? "wrong" : "open")), `It does not fit: the first ${spaced(older.size)} entries are not those that the seal you laid beside it was signed over. ${advice}`, "wrong"];
  const beside = older ? ` ${upTo(older.size)} with the seal you laid beside it, too.` : "";
  return [stands, `It fits. ${upTo(seal.size)} with the seal above, worked out again in this browser.${beside}`, "fits"];
}

async function check() {
  button.disabled = true;
  const seal = checkpointOf(document.getElementById("seal-note").textContent);
  const block = Number(strip.dataset.block);
  try {
    const older = kept.value.trim() === "" ? null : checkpointOf(kept.value);
    if (kept.value.trim() !== "" && !older) throw new Error("The seal you laid beside it cannot be read: paste the whole text, its first line is the name of the book.");
    if (older && older.origin !== seal.origin) throw new Error(`The seal you laid beside it is of another book: ${older.origin}.`);
    if (older && (older.size < 1 || older.size > seal.size)) throw new Error(`The seal you laid beside it covers ${spaced(older.size)} entries, the newest one here ${spaced(seal.size)}: something was cut off, or it is newer than this page. Load the page anew; if it stays so, keep your paper.`);
    const tree = await worked(seal.size, new Set([seal.size, older?.size]), (done) => say(`${spaced(done)} of ${spaced(seal.size)} entries are worked out again.`, "runs"));
    const [stands, text, state] = judged(tree, seal, older, block);
    draw(stands);
    say(text, state);
  } catch (error) {
    say(`Not checked. ${error.message}`, "open");
  }
  button.disabled = false;
}

if (strip && globalThis.crypto?.subtle) {
  button.closest("[hidden]").hidden = false;
  button.addEventListener("click", check);
}
