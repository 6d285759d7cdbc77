import type { Site, Units } from "../line/railroad.ts";
import { AMBIENT_SITE_SD_F, DELAY_SECONDS, GAP_SCALE_SD } from "./assumptions.ts";
import { type Random, stream } from "./random.ts";
import type { SiteTruth } from "./truth.ts";
import { ambientAt, sunAt } from "./weather.ts";
import type { World } from "./worlds.ts";

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** What was held up is sent this many times faster than it came about. */
const RUSH = 50;

/**
 * dead: sends nothing. silent: heartbeats, no passes. direction: transducers swapped. clock: `value` minutes off.
 * late: what it sends arrives when the spell is over. cold: the scanner reads next to nothing. bias: `value` °F on top.
 * miscount: `value` axles per thousand missed, and as many counted twice. noise: `value` times the noise.
 */
export const FAULT_KINDS = ["dead", "silent", "direction", "clock", "late", "cold", "bias", "miscount", "noise"] as const;
export type FaultKind = (typeof FAULT_KINDS)[number];

export interface Spell {
  kind: FaultKind;
  /** "" the whole site, `1` a track, `1/left` a scanner. */
  device: string;
  fromMs: number;
  toMs: number;
  value: number;
}

interface Scanner {
  biasF: number;
  driftFPerDay: number;
  sun: { fromHour: number; hours: number; mostF: number } | null;
}

/** The equipment at one site as it really is. */
export class Wayside {
  readonly site: Site;
  readonly units: Units;
  readonly group: number;
  readonly gapScale: number;
  readonly readsTags: boolean;
  readonly random: Random;
  readonly spells: Spell[] = [];
  private readonly world: World;
  private readonly ambientOffsetF: number;
  private readonly scanners = new Map<string, Scanner>();
  private readonly delayMs: number;
  /** From when on a track's next pass can be sent: what a site sends of one track stays in order. */
  private readonly lineFreeMs = new Map<string, number>();
  private readonly passes = new Map<string, number>();
  private readonly startMs: number;

  constructor(site: Site, world: World, seed: number, startMs: number, hours: number, group: number | null) {
    this.site = site;
    this.units = site.units;
    this.world = world;
    this.startMs = startMs;
    const random = stream(seed, "site", site.id);
    this.random = random;
    this.group = group ?? random.pick([1, 4, 32]);
    this.gapScale = 1 + Math.max(-0.01, Math.min(0.01, GAP_SCALE_SD * random.normal()));
    this.ambientOffsetF = AMBIENT_SITE_SD_F * random.normal();
    this.delayMs = 1000 * Math.min(8, 0.2 + random.exponential(DELAY_SECONDS));
    this.readsTags = random.chance(world.tagShare);
    for (const track of site.tracks) {
      this.passes.set(track.id, random.below(9000));
      for (const rail of ["left", "right"]) this.scanners.set(`${track.id}/${rail}`, drawScanner(world, random));
    }
    this.drawSpells(hours);
  }

  private drawSpells(hours: number): void {
    const { world, random } = this;
    const days = hours / 24;
    const spell = (kind: FaultKind, device: string, perDay: number, low: number, high: number, value: () => number): void => {
      for (let count = random.count(perDay * days); count > 0; count--) {
        const fromMs = this.startMs + random.between(0, hours) * HOUR_MS;
        this.spells.push({ kind, device, fromMs, toMs: fromMs + random.between(low, high) * HOUR_MS, value: value() });
      }
    };
    spell("dead", "", world.deadPerDay, 1, 6, () => 0);
    spell("silent", "", world.silentPerDay, 2, 8, () => 0);
    spell("direction", "", world.directionPerDay, 6, 30, () => 0);
    spell("clock", "", world.clockPerDay, 4, 24, () => random.pick([-61, -7, 4, 13, 60]));
    spell("late", "", world.latePerDay, 0.3, 1.5, () => 0);
    for (const device of this.scanners.keys()) spell("cold", device, world.coldPerDay, 1, 8, () => 0);
  }

  truth(): SiteTruth {
    const biasF: Record<string, number> = {};
    const driftFPerDay: Record<string, number> = {};
    for (const [device, scanner] of this.scanners) {
      biasF[device] = Math.round(scanner.biasF * 100) / 100;
      driftFPerDay[device] = Math.round(scanner.driftFPerDay * 100) / 100;
    }
    const faults = this.spells.map((spell) => ({
      kind: spell.kind,
      device: spell.device,
      from: new Date(spell.fromMs).toISOString(),
      to: new Date(spell.toMs).toISOString(),
      words: spell.value === 0 ? spell.kind : `${spell.kind} ${spell.value}`,
    }));
    return { type: "site", site: this.site.id, biasF, driftFPerDay, gapScale: Math.round(this.gapScale * 1e6) / 1e6, faults };
  }

  /** The spell of a kind in force at a time on a device, null if none. */
  spell(kind: FaultKind, device: string, timeMs: number): Spell | null {
    for (const spell of this.spells) {
      if (spell.kind === kind && timeMs >= spell.fromMs && timeMs < spell.toMs) {
        if (spell.device === "" || spell.device === device || device.startsWith(`${spell.device}/`)) return spell;
      }
    }
    return null;
  }

  ambientF(timeMs: number): number {
    return ambientAt(this.world, this.ambientOffsetF, timeMs);
  }

  /** Bias of a scanner, drift and faults included, sun not. */
  biasF(device: string, timeMs: number): number {
    const scanner = this.scanners.get(device);
    if (scanner === undefined) return 0;
    const drift = (scanner.driftFPerDay * (timeMs - this.startMs)) / DAY_MS;
    return scanner.biasF + Math.max(-25, Math.min(25, drift)) + (this.spell("bias", device, timeMs)?.value ?? 0);
  }

  sunF(device: string, timeMs: number): number {
    const sun = this.scanners.get(device)?.sun ?? null;
    return sun === null ? 0 : sunAt(sun, timeMs);
  }

  /** What the site's own clock says. */
  clockMs(timeMs: number): number {
    return timeMs + (this.spell("clock", "", timeMs)?.value ?? 0) * 60_000;
  }

  /** When something sent at `timeMs` would arrive if nothing were in its way. */
  dueMs(timeMs: number): number {
    const late = this.spell("late", "", timeMs);
    // What waited comes in a rush, in order.
    return late === null ? timeMs + this.delayMs : late.toMs + this.delayMs + (timeMs - late.fromMs) / RUSH;
  }

  /** Takes the line of a track for all that a pass sends between two times: gives when it is free for it. */
  takeLine(track: string, fromMs: number, toMs: number): number {
    const freeMs = this.lineFreeMs.get(track) ?? 0;
    let lastMs = Math.max(freeMs, this.dueMs(fromMs), this.dueMs(toMs));
    for (const spell of this.spells) {
      if (spell.kind === "late" && spell.fromMs <= toMs && spell.toMs > fromMs) {
        lastMs = Math.max(lastMs, spell.toMs + this.delayMs + (spell.toMs - spell.fromMs) / RUSH);
      }
    }
    this.lineFreeMs.set(track, lastMs + 1);
    return freeMs;
  }

  /** Next pass number of a track, four digits, unique for far longer than a day. */
  nextPass(track: string): string {
    const number = ((this.passes.get(track) ?? 0) + 1) % 10_000;
    this.passes.set(track, number);
    return String(number).padStart(4, "0");
  }
}

function drawScanner(world: World, random: Random): Scanner {
  const sick = random.chance(world.sickShare);
  const plain = world.biasSdF * random.normal();
  const biasF = sick ? (random.chance(0.5) ? 1 : -1) * random.between(0.4, 1) * world.sickBiasF : plain;
  const driftFPerDay = random.chance(world.driftShare) ? random.between(-1, 1) * world.driftFPerDay : 0;
  const sunny = random.chance(world.sunShare);
  const sun = { fromHour: random.between(13, 22), hours: random.between(1.5, 4), mostF: random.between(0.3, 1) * world.sunMostF };
  return { biasF, driftFPerDay, sun: sunny ? sun : null };
}
