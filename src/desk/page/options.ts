import type { Unit } from "./units.ts";

/** What a person chose for themselves, on this machine. */
export interface Options {
  unit: Unit;
  theme: "system" | "light" | "dark";
  /** Which announcements sound. A limit always does. */
  sound: "all" | "limit";
  /** Watch and warn are silent until then (the machine's clock). */
  silentUntil: number;
}

const USUAL: Options = { unit: "F", theme: "system", sound: "all", silentUntil: 0 };
/** A coffee, not a shift. Assumption. */
export const SILENT_MS = 15 * 60_000;

export function optionsOf(person: string): Options {
  try {
    const kept = JSON.parse(localStorage.getItem(keyOf(person)) ?? "{}") as Partial<Options>;
    return {
      unit: kept.unit === "C" ? "C" : "F",
      theme: kept.theme === "light" || kept.theme === "dark" ? kept.theme : "system",
      sound: kept.sound === "limit" ? "limit" : "all",
      silentUntil: Math.min(Number(kept.silentUntil) || 0, Date.now() + SILENT_MS),
    };
  } catch {
    return USUAL;
  }
}

export function keepOptions(person: string, options: Options): void {
  try {
    localStorage.setItem(keyOf(person), JSON.stringify(options));
  } catch {
    // A browser that keeps nothing still shows everything.
  }
}

export function applyTheme(theme: Options["theme"]): void {
  if (theme === "system") delete document.documentElement.dataset["theme"];
  else document.documentElement.dataset["theme"] = theme;
}

function keyOf(person: string): string {
  return `desk options of ${person}`;
}
