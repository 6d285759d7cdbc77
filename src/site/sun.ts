import type { Pass } from "../pass/pass.ts";
import type { ScannerLife, WarmSpell } from "./scanner-life.ts";
import type { WatchContext } from "./watch-context.ts";
import { SUN_DAYS, SUN_FORGOTTEN_MS, SUN_SAME_HOUR_MS } from "./watch-numbers.ts";

const RAILS = ["left", "right"] as const;
const DAY_MS = 24 * 3_600_000;
const MOST_SPELLS = 12;

/** One side reads warm for now: it may be the sun. Nothing is told yet. */
export function judgeSun(_context: WatchContext, pass: Pass, _rail: 0 | 1, life: ScannerLife): void {
  if (life.warm === null) life.warm = { fromMs: life.up.sinceMs ?? pass.endedMs, toMs: pass.endedMs };
  else life.warm.toMs = pass.endedMs;
}

/** The side reads as usual: a warm spell that came on several days at about the same hour was the sun, which is no fault. */
export function warmSpellOver(context: WatchContext, pass: Pass, rail: 0 | 1, life: ScannerLife): void {
  const device = `${pass.track}/${RAILS[rail]}`;
  const last = life.warmSpells.at(-1);
  if (life.warm === null) {
    if (last !== undefined && pass.endedMs - last.toMs > SUN_FORGOTTEN_MS)
      context.book.clear(pass.site, device, "sun", pass.endedMs, "not seen for days");
    return;
  }
  const spell = life.warm;
  life.warm = null;
  life.warmSpells = [...life.warmSpells, spell].filter((one) => spell.toMs - one.toMs <= SUN_FORGOTTEN_MS).slice(-MOST_SPELLS);
  const alike = life.warmSpells.filter((one) => isSameHour(one, spell));
  const days = new Set(alike.map((one) => Math.round((one.fromMs - spell.fromMs) / DAY_MS)));
  if (days.size < SUN_DAYS) return;
  context.book.raise({
    site: pass.site,
    device,
    kind: "sun",
    atMs: pass.endedMs,
    words: `The ${RAILS[rail]} side of ${context.said.track(pass.site, pass.track)} reads warm at about the same hour day after day, and as usual otherwise: most likely the sun. No fault.`,
    advice: "No action on trains. Whether a shade helps is for the site's next visit.",
    evidence: `from ${context.said.time(spell.fromMs)} to ${context.said.time(spell.toMs)}`,
  });
}

function isSameHour(one: WarmSpell, other: WarmSpell): boolean {
  const apart = Math.abs(one.fromMs - other.fromMs) % DAY_MS;
  return Math.min(apart, DAY_MS - apart) <= SUN_SAME_HOUR_MS;
}
