import type { Level } from "../../warning/warning.ts";
import { store } from "./store.ts";

/** Says it once: to screen readers, and with a tone for a level. */
export function announce(words: string, urgent = false, level: Level | null = null): void {
  const region = document.getElementById(urgent ? "said-now" : "said");
  if (region !== null) region.textContent = words;
  if (level !== null && isHeard(level)) sound(level);
}

function isHeard(level: Level): boolean {
  const { sound: chosen, silentUntil } = store.options;
  if (Date.now() < silentUntil) return false;
  return chosen === "all" || level === "limit";
}

let context: AudioContext | null = null;

/** Browsers let a page sound only after somebody touched it; until then this does nothing. */
export function allowSound(): void {
  context ??= new AudioContext();
  void context.resume();
}

/** Our own tones: one for a watch, two rising for a warn, three rising for a limit. */
const TONES: Record<Level, readonly number[]> = { watch: [392], warn: [392, 523], limit: [392, 523, 659] };
const TONE_S = 0.16;
const LOUDNESS = 0.12;

function sound(level: Level): void {
  if (context === null || context.state !== "running") return;
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
