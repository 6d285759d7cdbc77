import type { Level } from "../../warning/warning.ts";
import { isHigher } from "./news.ts";
import type { Options } from "./options.ts";
import { store } from "./store.ts";

/** Lines kept in a region; what a screen reader has read is of no use any more. */
const MOST_LINES = 20;

/** Says it once to screen readers, a line for each: lines that come together are all read. */
export function announce(words: string, urgent = false): void {
  const region = document.getElementById(urgent ? "said-now" : "said");
  if (region === null) return;
  const line = document.createElement("p");
  line.textContent = words;
  region.append(line);
  while (region.childElementCount > MOST_LINES) region.firstElementChild?.remove();
}

/** Sounds a level, if the person hears it: a limit always. */
export function sound(level: Level): void {
  if (isHeard(level, store.options, Date.now())) play(level);
}

/** A person can mute watch and warn for themselves, for a while or for good; a limit nobody can. */
export function isHeard(level: Level, { sound: chosen, silentUntil }: Pick<Options, "sound" | "silentUntil">, nowMs: number): boolean {
  return level === "limit" || (chosen === "all" && nowMs >= silentUntil);
}

let context: AudioContext | null = null;

/** Browsers let a page sound only after somebody touched it; until then this does nothing. */
export function allowSound(): void {
  if (context === null) {
    context = new AudioContext();
    context.addEventListener("statechange", () => store.changed());
  }
  if (context.state !== "running") void context.resume();
}

/** Whether a tone would be heard now. */
export function canSound(): boolean {
  return context !== null && context.state === "running";
}

/** Our own tones: one for a watch, two rising for a warn, three rising for a limit. */
const TONES: Record<Level, readonly number[]> = { watch: [392], warn: [392, 523], limit: [392, 523, 659] };
const TONE_S = 0.16;
const LOUDNESS = 0.12;

/** What sounds now, and until when by the context's own clock. */
let sounding: { level: Level; untilS: number } = { level: "watch", untilS: 0 };

function play(level: Level): void {
  if (context === null || context.state !== "running") return;
  // In a flood tones over tones would tell nothing: only a higher level breaks in.
  if (context.currentTime < sounding.untilS && !isHigher(level, sounding.level)) return;
  sounding = { level, untilS: context.currentTime + TONES[level].length * TONE_S };
  for (const [i, hertz] of TONES[level].entries()) {
    const tone = context.createOscillator();
    const gain = context.createGain();
    const from = context.currentTime + i * TONE_S;
    tone.frequency.value = hertz;
    gain.gain.setValueAtTime(LOUDNESS, from);
    gain.gain.exponentialRampToValueAtTime(0.001, from + TONE_S);
    tone.connect(gain).connect(context.destination);
    tone.start(from);
    tone.stop(from + TONE_S);
  }
}
