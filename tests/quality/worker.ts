import { parentPort } from "node:worker_threads";
import type { Run } from "./plan.ts";
import { measureRun } from "./run.ts";

// One worker measures one run after another: it asks for the next when the last is done.
const port = parentPort;
if (port === null) throw new Error("worker.ts is started by quality.ts");

port.on("message", (message: { index: number; run: Run } | null) => {
  if (message === null) {
    port.close();
    return;
  }
  const { index, run } = message;
  const outcome = measureRun(run, { progress: (share) => port.postMessage({ index, share }) });
  port.postMessage({ index, outcome });
});
port.postMessage({ ready: true });
