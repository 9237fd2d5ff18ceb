// Instants in words: how long ago, and as of when.
export const clock = (instant) => new Date(instant).toLocaleString("en-GB", { day: "numeric", month: "long", hour: "2-digit", minute: "2-digit", hour12: false });

/** How long ago, in words. */
export function age(instant) {
  const minutes = Math.max(0, Math.round((Date.now() - Date.parse(instant)) / 60_000));
  if (minutes < 1) return "less than a minute";
  if (minutes < 60) return `${minutes} min`;
  return minutes < 2880 ? `${Math.floor(minutes / 60)} h` : `${Math.floor(minutes / 1440)} days`;
}

/** As of when something is known: `06:41`, `yesterday 17:20`, else with its day. */
export function asOf(instant) {
  const then = new Date(instant);
  const day = (date) => new Date(date.getFullYear(), date.getMonth(), date.getDate()).getTime();
  const days = Math.round((day(new Date()) - day(then)) / 86_400_000);
  const time = then.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  if (days === 0) return time;
  if (days === 1) return `yesterday ${time}`;
  return `${then.toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long", year: days > 300 ? "numeric" : undefined }).replace(",", "")}, ${time}`;
}
