import type { Health } from "../telemetry/health.ts";
import type { Logger } from "../telemetry/logger.ts";

/** Something that was started and can be stopped. */
export interface Part {
  close(): Promise<void>;
  /** Settles when it cannot go on by itself. */
  broken?: Promise<Error> | undefined;
  /** Why it cannot do its work right now, though it may again; null while it can. */
  unready?(): string | null;
}

/** What runs in this process, in the order in which it was started; it is stopped the other way round. */
export class Parts {
  /** Settles with the first thing that cannot go on. */
  readonly broken: Promise<Error>;
  private readonly started: { name: string; part: Part }[] = [];
  private readonly health: Health;
  private readonly logger: Logger;
  private readonly fail: (error: Error) => void;

  constructor(health: Health, logger: Logger) {
    this.health = health;
    this.logger = logger;
    const { promise, resolve } = Promise.withResolvers<Error>();
    this.broken = promise;
    this.fail = resolve;
  }

  /** Starts a part; until it has, the process is not ready. */
  async add<P extends Part>(name: string, start: () => P | Promise<P>): Promise<P> {
    const health = this.health.part(name);
    const part = await start();
    this.started.push({ name, part });
    health.ready();
    if (part.unready !== undefined) this.health.watch(name, () => part.unready?.() ?? null);
    void part.broken?.then((error) => {
      health.broken(error.message);
      this.fail(error);
    });
    return part;
  }

  /** Stops everything, the last first. What cannot be stopped is said, and holds up nothing. */
  async close(): Promise<void> {
    for (const { name, part } of this.started.splice(0).reverse()) {
      await part.close().catch((error: unknown) => this.logger.warn("process-failed", `${name} could not be stopped well`, { error }));
    }
  }
}
