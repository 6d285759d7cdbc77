import { parentPort, workerData } from "node:worker_threads";
import { openForWriting } from "./layout.ts";
import type { Opened, Request, WriterSettings } from "./order.ts";
import { Writing } from "./writing.ts";

/** The thread that writes: waiting for the disk holds up neither folding nor whoever asks over HTTP. */
const settings = workerData as WriterSettings;
const port = parentPort;
if (port === null) throw new Error("the writer is a thread of its own");

try {
  const db = openForWriting(settings.folder, settings.mostBytes);
  const writing = new Writing(db, settings);
  port.on("message", (request: Request | "close") => {
    if (request !== "close") {
      port.postMessage(writing.run(request));
      return;
    }
    db.close();
    port.close();
  });
  port.postMessage(writing.opened());
} catch (error) {
  const { code = "LOG-009 unreadable", message } = error as Error & { code?: string };
  port.postMessage({ opened: false, code, why: message } satisfies Opened);
  port.close();
}
