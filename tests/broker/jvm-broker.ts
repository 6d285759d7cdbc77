import { type ChildProcess, execFile, spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync } from "node:fs";
import { mkdir, mkdtemp, readFile, rename, rm, writeFile } from "node:fs/promises";
import { createServer } from "node:net";
import { homedir, tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { answers } from "./answers.ts";
import type { Broker, BrokerOptions } from "./broker.ts";
import { CLUSTER_ID, JVM_FLAGS, KAFKA_VERSION, serverProperties } from "./server-properties.ts";

const run = promisify(execFile);

/** A broker in a Java of this machine, its jars fetched once by Maven and kept. */
export async function startJvmBroker(options: BrokerOptions): Promise<Broker> {
  const classPath = join(await jars(), "*");
  const folder = await mkdtemp(join(tmpdir(), "bearing-rise-broker-"));
  const port = await freePort();
  const address = `127.0.0.1:${port}`;
  const file = join(folder, "server.properties");
  const place = {
    bind: "127.0.0.1",
    port,
    controllerPort: await freePort(),
    internalPort: await freePort(),
    advertised: address,
    data: join(folder, "data"),
    secured: options.secured !== undefined,
    properties: options.properties ?? {},
  };
  await writeFile(file, serverProperties(place));
  await run("java", ["-cp", classPath, "kafka.tools.StorageTool", "format", "-t", CLUSTER_ID, "-c", file, ...(options.format ?? [])]);

  let server: ChildProcess | null = null;
  let watcher: ChildProcess | null = null;
  const start = async () => {
    const log = join(folder, "server.log");
    const started = spawn("sh", ["-c", 'exec java "$@" >>"$0" 2>&1', log, ...JVM_FLAGS, "-cp", classPath, "kafka.Kafka", file], {
      stdio: "ignore",
    });
    server = started;
    watcher?.kill();
    watcher = diesWithUs(started.pid!);
    let ended: string | null = null;
    started.once("exit", async (code, signal) => {
      ended = `status ${code ?? signal}\n${await readFile(log, "utf8").catch(() => "")}`.slice(-4_000);
    });
    await answers(address, () => ended, options.secured);
  };
  const kill = async () => {
    if (server === null || server.exitCode !== null || server.signalCode !== null) return;
    const gone = once(server, "exit");
    server.kill("SIGKILL");
    await gone;
  };
  const stop = async () => {
    watcher?.kill();
    await kill();
    await rm(folder, { recursive: true, force: true, maxRetries: 3 });
  };
  // A test run that is interrupted leaves no broker behind.
  process.once("exit", () => server?.kill("SIGKILL"));
  try {
    await start();
  } catch (error) {
    await stop();
    throw error;
  }
  return { kind: "jvm", brokers: [address], kill, start, stop };
}

/** A test process that is killed takes its broker along: the watcher's standard input ends with it. */
function diesWithUs(pid: number): ChildProcess {
  const watcher = spawn("sh", ["-c", 'cat >/dev/null; kill -9 "$0"', String(pid)], { stdio: ["pipe", "ignore", "ignore"] });
  watcher.unref();
  return watcher;
}

const POM = `<project xmlns="http://maven.apache.org/POM/4.0.0">
  <modelVersion>4.0.0</modelVersion><groupId>bearing-rise</groupId><artifactId>test-broker</artifactId><version>1</version>
  <dependencies>
    <dependency><groupId>org.apache.kafka</groupId><artifactId>kafka_2.13</artifactId><version>${KAFKA_VERSION}</version></dependency>
    <dependency><groupId>org.slf4j</groupId><artifactId>slf4j-simple</artifactId><version>1.7.36</version></dependency>
  </dependencies>
</project>
`;

/** Folder with the server's jars, fetched at the first call and kept by version. */
export async function jars(): Promise<string> {
  const cache = join(process.env["XDG_CACHE_HOME"] ?? join(homedir(), ".cache"), "bearing-rise");
  const folder = join(cache, `kafka-${KAFKA_VERSION}`);
  if (existsSync(folder)) return folder;
  await mkdir(cache, { recursive: true });
  const fresh = await mkdtemp(join(cache, "fetching-"));
  try {
    await writeFile(join(fresh, "pom.xml"), POM);
    const libs = join(fresh, "libs");
    await run("mvn", [
      "-q",
      "-B",
      "-f",
      join(fresh, "pom.xml"),
      "dependency:copy-dependencies",
      "-DincludeScope=runtime",
      `-DoutputDirectory=${libs}`,
    ]);
    // Two test files may have fetched at once: whoever comes second uses what is there.
    await rename(libs, folder).catch((error: unknown) => {
      if (!existsSync(folder)) throw error;
    });
  } finally {
    await rm(fresh, { recursive: true, force: true });
  }
  return folder;
}

export async function freePort(): Promise<number> {
  const server = createServer();
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  const address = server.address();
  server.close();
  await once(server, "close");
  if (address === null || typeof address === "string") throw new Error("no free port");
  return address.port;
}
