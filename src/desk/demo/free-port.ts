import { once } from "node:events";
import { createServer } from "node:net";
import { portMistake } from "../../telemetry/port-mistake.ts";

/** Listens once and lets go, so that a port that is taken is told before a minute of work. @throws CommandError with `remedy` */
export async function checkPortFree(at: { host: string; port: number }, remedy: string): Promise<void> {
  const server = createServer();
  try {
    server.listen(at.port, at.host);
    await once(server, "listening");
  } catch (error) {
    throw portMistake("desk", at, error, remedy);
  }
  server.close();
  await once(server, "close");
}
