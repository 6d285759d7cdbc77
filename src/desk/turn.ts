/** Work on the main thread that nobody notices: a request that comes meanwhile waits no longer than this and the step under way. */
const AT_ONCE_MS = 8;

/** Long work in short turns: between them requests are answered and live records folded. */
export class Turn {
  private sinceMs = performance.now();

  /** To be awaited after each step of the work. Returns at once until the turn is over. */
  async over(): Promise<void> {
    if (performance.now() - this.sinceMs < AT_ONCE_MS) return;
    await new Promise((resolve) => setImmediate(resolve));
    this.sinceMs = performance.now();
  }
}
