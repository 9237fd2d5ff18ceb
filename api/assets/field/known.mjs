// What this phone can ask before posting when there is no signal: what the kept page of the
// cylinders says of room and content, less what waits in the outbox. The words are those of the
// book (`actions/judge`), which judges again when the entry is booked.
import { kg, lbOz } from "./mass.mjs";
import { entries } from "./store.mjs";

const TENTH_OF_AN_OUNCE = 283_495_231_250n;
const TONNE = 100_000_000_000_000_000n;

/** Steps of 10^-11 g of a text of grams. */
export const steps = (grams) => {
  const [whole, part = ""] = grams.split(".");
  return BigInt(whole + part.padEnd(11, "0"));
};
export const cut = (mass) => lbOz(mass - (mass % TENTH_OF_AN_OUNCE));
const least = (masses) => masses.reduce((low, mass) => (mass.limit < low.limit ? mass : low));

/** Conditions that are asked about, the mildest first, as the book says them. */
const UNFIT = { suspect: "suspect", unknown: "not known", burn_out: "from a burn-out", mixed: "mixed" };
const rank = (word) => Object.keys(UNFIT).indexOf(word);
const worse = (one, other) => (rank(other) > rank(one) ? other : one);
const classOf = ({ holds, class: said }) => worse(said, holds.length > 1 || holds[0]?.[0] === "mixture" ? "mixed" : holds[0]?.[0]);

/** Questions and stops, as the book gives them; `unknown` says what this phone cannot look at. */
export async function known({ form, entry }) {
  const found = { stops: [], questions: [], unknown: "" };
  retired(form, entry, found);
  const tag = entry.about.cylinder;
  if (!tag) return found;
  const kept = await (await caches.open("tarebook-pages")).match("/field/cylinders");
  const told = await kept?.json();
  const cylinder = told?.cylinders.find((one) => one.tag.toLowerCase() === tag.toLowerCase());
  if (!cylinder) {
    found.unknown = `Cylinder ${tag} is not kept on this phone: read its label for content, test date and room.`;
    return found;
  }
  await outboxed(cylinder, told.made, entry.id);
  const { holds } = cylinder;
  const own = form.dataset.runs || (holds.length === 1 ? holds[0][0] : "unknown");
  if (entry.request.kind === "charge") drawn(form, entry, cylinder, own, found);
  else await filled(form.dataset.owner, entry, cylinder, own, found);
  return found;
}

const CLASS = "the mass as stated; the condition goes with it";
const stop = ({ stops }, word, text) => stops.push({ stop: word, text });
const ask = ({ questions }, code, text, books) => questions.push({ code, text, choices: [{ choice: "as_stated", text: "It is so", books }] });

function retired({ dataset: { tag, retired: on } }, { request: { happened } }, found) {
  if (!on || on > happened.day) return;
  ask(found, "out_of_order_step", `${tag} was retired on ${on}; was this done after it?`, "the step as stated");
}

/** What this phone wrote since the page was made changes what is in the cylinder; says whether anything did. */
export async function outboxed(cylinder, made, id) {
  const holds = new Map(cylinder.holds.map(([name, grams]) => [name, steps(grams)]));
  const owners = new Set(cylinder.owners);
  const place = `cylinder:${cylinder.tag}`.toLowerCase();
  const counts = (one) => one.id !== id && (["waiting", "sending"].includes(one.state) || (one.state === "posted" && one.receipt.booked_at > made));
  let changed = false;
  for (const one of (await entries()).filter(counts)) {
    const { about, request: { body } } = one;
    const way = [body.to, body.from].map((name) => name?.toLowerCase() === place);
    if (way[0] && about.owner) owners.add(about.owner);
    if (!way[0] && !way[1]) continue;
    changed = true;
    if (way[0]) cylinder.class = worse(cylinder.class, body.class);
    // What is drawn is what is in it; the appliance says what comes in.
    const name = way[1] && holds.size === 1 ? holds.keys().next().value : about.refrigerant;
    holds.set(name, (holds.get(name) ?? 0n) + (way[0] ? 1n : -1n) * BigInt(one.steps));
  }
  cylinder.holds = [...holds].filter(([, mass]) => mass > 0n);
  cylinder.owners = [...owners];
  return changed;
}

function drawn({ dataset }, { steps: mass, shown }, cylinder, own, found) {
  const { tag, holds, quarantine, owners } = cylinder;
  if (quarantine != null) stop(found, "quarantined", `Cylinder ${tag} is under quarantine since entry no. ${quarantine}: until that finding is settled it goes to reclaim or destruction only.`);
  const mixed = quarantine == null && classOf(cylinder) === "mixed";
  if (mixed) stop(found, "mixed_content", `What is in cylinder ${tag} is mixed: it goes to reclaim or destruction only. Take another cylinder.`);
  if (dataset.owner && owners.some((owner) => owner !== dataset.owner)) stop(found, "other_owner", `Cylinder ${tag} holds refrigerant recovered from another owner's appliance. Recovered refrigerant goes back to its own owner or to reclaim.`);
  else if (!dataset.owner && owners.length > 1) stop(found, "other_owner", `Cylinder ${tag} holds refrigerant recovered from several owners. It goes to reclaim or destruction only.`);
  const content = holds.length === 1 ? holds[0][0] : own;
  const coming = UNFIT[classOf(cylinder)];
  if (coming && !mixed) ask(found, "content_class", `What is in cylinder ${tag} is ${coming}. Acid, moisture or another refrigerant would go into ${dataset.tag}. Send it to reclaim, or have it analysed and its condition recorded first.`, CLASS);
  if (dataset.runs && content !== dataset.runs) ask(found, "wrong_refrigerant_for_appliance", `${dataset.tag} runs on ${dataset.runs}; ${content} was stated.`, "what was stated");
  const full = dataset.full && steps(dataset.full);
  if (full && BigInt(mass) > full) ask(found, "over_full_charge", `${shown} was stated; the full charge of ${dataset.tag} is ${lbOz(full)}.`, "the mass as stated");
  const held = holds.find(([name]) => name === content)?.[1] ?? 0n;
  if (held < BigInt(mass)) ask(found, "over_content", `Cylinder ${tag} holds ${lbOz(held)} of it by the book; ${shown} was stated.`, "the mass as stated; the balance goes below zero until a count settles it");
}

async function filled(owner, { steps: mass, shown, request: { happened, body } }, cylinder, own, found) {
  const { tag, holds, owners } = cylinder;
  const other = holds.find(([name]) => name !== own);
  if (other) stop(found, "mixing", `Cylinder ${tag} holds ${other[0]}; ${own} would be mixed into it. Take another cylinder.`);
  else if (holds.length > 0 && rank(body.class) > rank(classOf(cylinder))) ask(found, "content_class", `What would go into cylinder ${tag} is ${UNFIT[body.class]}, and all that is in it would be so. Take another cylinder.`, CLASS);
  if (!other && holds.length > 0 && owner && owners.length > 0 && !owners.includes(owner)) ask(found, "several_owners", `Cylinder ${tag} holds refrigerant recovered from another owner's appliance. Take another cylinder, so that each can go back to its own owner.`, "the mass as stated; the content belongs to all of them from then on and goes to reclaim or destruction only");
  if (cylinder.use === "supply") ask(found, "recovered_into_supply", `Cylinder ${tag} is a supply cylinder, for new refrigerant; what was recovered would be poured into it. Take a recovery cylinder.`, "the mass as stated; all that is in it counts as recovered from then on, and where no condition was ever stated of it, that is not known");
  if (cylinder.retest_on < happened.day) stop(found, "expired", `The retest of cylinder ${tag} was due ${cylinder.retest_on}. It must not be filled.`);
  if (cylinder.condition === "condemned") stop(found, "condemned", `Cylinder ${tag} is condemned. It must not be filled.`);
  if (cylinder.use === "disposable") stop(found, "disposable", `Cylinder ${tag} is disposable and is never refilled.`);
  const lowest = await limitOf(cylinder, [...holds.map(([name]) => name), own]);
  if (!lowest) return;
  const { limit, rule } = lowest;
  const before = holds.reduce((sum, [, held]) => sum + held, 0n);
  const [after, room] = [before + BigInt(mass), limit > before ? limit - before : 0n];
  if (after > limit) stop(found, "over_full", `Cylinder ${tag} has room for ${cut(room)} (${kg(room)}); ${shown} would overfill it. Its limit is ${cut(limit)}: ${rule}. A full cylinder can burst when it warms. Take another cylinder.`);
  else if (after * 10n >= limit * 9n) ask(found, "over_room", `Cylinder ${tag} would be nine tenths full or more: room for ${cut(limit - after)} would be left of ${cut(limit)}. The limit is ${rule}.`, "the mass as stated");
}

/** The lowest limit for what is in it and what goes in: a share of its water, or its marking. */
export async function limitOf({ water, marking }, names) {
  const shares = await (await fetch(new URL("./limits.json", import.meta.url))).json();
  const ofWater = (name) => {
    const [grams, rule] = shares[name] ?? shares.unknown;
    return { limit: (steps(water) * steps(grams)) / TONNE, rule };
  };
  const marked = { limit: marking && steps(marking), rule: "the largest net mass marked on the cylinder (MARKING; the marking of the cylinder)" };
  const all = [...(water ? names.map(ofWater) : []), ...(marking ? [marked] : [])];
  return all.length === 0 ? null : least(all);
}
