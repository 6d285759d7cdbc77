import type { Clock } from "../../src/flow/clock.ts";
import type { Log } from "../../src/log/log.ts";
import { MemoryBroker, type MemoryFaults, type MemoryLog } from "../../src/log/memory.ts";
import { Random } from "../../src/simulate/random.ts";
import { type Slip, slippingLog } from "./slipping-log.ts";

/** How often, at one await of a running process, each fault strikes, and how many of them there are at most. */
export interface Odds {
  most: number;
  crash: number;
  freeze: number;
  leave: number;
  lostAnswer: number;
  slip: number;
}

/** A process that is silent for so long is taken for dead by the log. */
const SESSION_MS = 10_000;
/** A supervisor starts a dead process again after this. */
const RESTART_MS = 3_000;
const SLIPS: readonly Slip[] = ["empty", "again", "left-out"];

interface Waiting {
  host: Host;
  release: () => void;
}

interface Timer {
  atMs: number;
  host: Host | null;
  call: () => void;
}

/** One process of the simulated world. */
export class Host {
  readonly log: MemoryLog;
  /** The same through a client that slips. */
  readonly slipping: Log;
  readonly clock: Clock;
  dead = false;
  frozen = false;
  /** Gives everything back and comes again, as at a change of versions. Does nothing while it is about it. */
  leave: () => void = () => {};

  constructor(world: World, broker: MemoryBroker) {
    const faults: MemoryFaults = {
      passing: () => world.pass(this),
      fate: () => world.fate(this),
    };
    this.log = broker.connect(faults);
    this.slipping = slippingLog(this.log, { slip: () => world.slip(this), pass: () => world.pass(this) });
    this.clock = {
      now: () => world.nowMs,
      after: (ms, call) => world.after(ms, call, this),
      breathe: () => world.pass(this),
    };
  }
}

/**
 * Processes on one log, with a clock and a scheduler of their own: everything that waits is let go one at a time, in an
 * order drawn from the seed, and at each such place a process may die, freeze, or lose an answer. Same seed, same run.
 */
export class World {
  nowMs: number;
  readonly broker: MemoryBroker;
  readonly faults: string[] = [];
  private readonly random: Random;
  private readonly odds: Odds;
  private readonly start: (host: Host) => void;
  private readonly hosts = new Set<Host>();
  private readonly waiting: Waiting[] = [];
  private timers: Timer[] = [];
  private calm = false;

  constructor(seed: number, startMs: number, partitions: ReadonlyMap<string, number>, odds: Odds, start: (host: Host) => void) {
    this.random = new Random(seed, "world");
    this.nowMs = startMs;
    this.odds = odds;
    this.start = start;
    this.broker = new MemoryBroker({ partitions, now: () => this.nowMs, batchRecords: 1 + this.random.below(20) });
  }

  /** A new process. */
  addHost(): Host {
    const host = new Host(this, this.broker);
    this.hosts.add(host);
    this.start(host);
    return host;
  }

  /** No more faults: what was started is to end well. */
  calmDown(): void {
    this.calm = true;
  }

  /** Kills all processes that run, unless there were faults enough. */
  crashAll(): void {
    for (const host of [...this.hosts]) if (!this.isCalm && !host.frozen) this.crash(host);
  }

  private get isCalm(): boolean {
    return this.calm || this.faults.length >= this.odds.most;
  }

  after(ms: number, call: () => void, host: Host | null = null): () => void {
    const timer = { atMs: this.nowMs + Math.max(0, ms), host, call };
    this.timers.push(timer);
    return () => {
      const at = this.timers.indexOf(timer);
      if (at >= 0) this.timers.splice(at, 1);
    };
  }

  pass(host: Host): Promise<void> {
    return new Promise((release) => this.waiting.push({ host, release }));
  }

  fate(host: Host): "answered" | "done-unanswered" | "undone-unanswered" {
    if (this.isCalm || host.dead || this.random.unit() >= this.odds.lostAnswer) return "answered";
    this.faults.push("answer lost");
    return this.random.unit() < 0.5 ? "done-unanswered" : "undone-unanswered";
  }

  slip(host: Host): Slip {
    if (this.isCalm || host.dead || this.random.unit() >= this.odds.slip) return "none";
    const slip = this.random.pick(SLIPS);
    this.faults.push(slip);
    return slip;
  }

  /** Runs until the fact is true. @throws Error when nothing is left to happen or it takes too many steps */
  async until(fact: () => boolean, mostSteps: number): Promise<void> {
    for (let step = 0; step < mostSteps; step++) {
      await goneOn();
      if (fact()) return;
      if (this.letOneGo()) continue;
      await settled();
      if (!this.letOneGo() && !this.nextTimer()) throw new Error("nothing is left to happen, and what was waited for did not");
    }
    throw new Error(`not after ${mostSteps} steps`);
  }

  private letOneGo(): boolean {
    const ready: number[] = [];
    for (let at = 0; at < this.waiting.length; at++) if (!this.waiting[at]!.host.frozen) ready.push(at);
    if (ready.length === 0) return false;
    const at = ready[this.random.below(ready.length)]!;
    const [one] = this.waiting.splice(at, 1) as [Waiting];
    if (one.host.dead) return true;
    if (this.strike(one.host)) {
      // Whatever it waited for is answered all the same; whether anybody hears is another matter.
      one.release();
      return true;
    }
    one.release();
    return true;
  }

  private strike(host: Host): boolean {
    if (this.isCalm) return false;
    const draw = this.random.unit();
    if (draw < this.odds.crash) {
      this.crash(host);
      return true;
    }
    if (draw < this.odds.crash + this.odds.freeze) {
      this.freeze(host);
      return true;
    }
    if (draw < this.odds.crash + this.odds.freeze + this.odds.leave) {
      this.faults.push("leave");
      host.leave();
    }
    return false;
  }

  /** Killed: nothing it waits for is answered. The log finds out after a while, or the next process is there before. */
  private crash(host: Host): void {
    this.faults.push("crash");
    this.hosts.delete(host);
    host.dead = true;
    host.log.kill();
    this.timers = this.timers.filter((timer) => timer.host !== host);
    this.after(this.random.unit() * SESSION_MS, () => host.log.bury());
    this.after(this.random.unit() * RESTART_MS, () => void this.addHost());
  }

  /** Stopped past its session and then continued, with all that it believed: a zombie. */
  private freeze(host: Host): void {
    this.faults.push("freeze");
    host.frozen = true;
    this.after(SESSION_MS, () => {
      if (!host.dead) host.log.bury();
    });
    this.after(SESSION_MS * (1 + this.random.unit()), () => {
      host.frozen = false;
      // It hears of it only some time after it has gone on.
      this.after(this.random.unit() * 1_000, () => {
        if (!host.dead) host.log.unbury();
      });
    });
  }

  private nextTimer(): boolean {
    let next: Timer | null = null;
    for (const timer of this.timers) {
      if (timer.host?.frozen) continue;
      if (next === null || timer.atMs < next.atMs) next = timer;
    }
    if (next === null) return false;
    this.timers.splice(this.timers.indexOf(next), 1);
    this.nowMs = Math.max(this.nowMs, next.atMs);
    next.call();
    return true;
  }
}

/** Some turns of whatever can go on without waiting: enough for nearly all of it, and much cheaper than to see to the rest. */
async function goneOn(): Promise<void> {
  for (let turn = 0; turn < 12; turn++) await undefined;
}

/** Everything that can go on without waiting has gone on. */
function settled(): Promise<void> {
  return new Promise((resolve) => setImmediate(resolve));
}
