import { execFile } from "node:child_process";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { promisify } from "node:util";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { TOPICS } from "../../src/log/topics.ts";
import { type Broker, brokerKind, startBroker } from "../broker/broker.ts";

const run = promisify(execFile);
const found = await brokerKind();

describe("bearing-rise topics", () => {
  let folder: string;
  beforeEach(async () => {
    folder = await mkdtemp(join(tmpdir(), "topics-"));
  });
  afterEach(() => rm(folder, { recursive: true }));

  async function topics(log: object, ...words: string[]): Promise<{ status: number; stdout: string; stderr: string }> {
    const file = join(folder, "live.yaml");
    const railroad = { line: resolve("replay-data/line.yaml"), rules: resolve("replay-data/rules/standard") };
    await writeFile(file, JSON.stringify({ railroad, dataFolder: "data", log }));
    const flags = ["--disable-warning=ExperimentalWarning", "src/main.ts", "topics", "--config", file, ...words];
    return run(process.execPath, flags).then(
      ({ stdout, stderr }) => ({ status: 0, stdout, stderr }),
      (error: { code: number; stdout: string; stderr: string }) => ({ status: error.code, stdout: error.stdout, stderr: error.stderr }),
    );
  }

  it("without Kafka says that nothing has to be made, and lists what there is", async () => {
    const { status, stdout } = await topics({ embedded: { partitions: { passes: 7 } } }, "--create");
    expect(status).toBe(0);
    expect(stdout).toMatch(/makes its topics by itself/);
    expect(stdout).toMatch(/passes +7 /);
  });

  it("says which cluster does not answer, and ends with a status of its own", async () => {
    const { status, stderr } = await topics({ kafka: { brokers: ["127.0.0.1:1"] } });
    expect(status).toBe(7);
    expect(stderr).toMatch(/127\.0\.0\.1:1 could not be asked/);
  });

  describe.skipIf("reason" in found)("on a real broker", () => {
    let broker: Broker;
    beforeAll(async () => {
      broker = await startBroker();
    });
    afterAll(() => broker.stop());

    it("shows what is missing, makes it when told to, and is content from then on", async () => {
      const kafka = { kafka: { brokers: broker.brokers, topicPrefix: `t${Date.now()}.`, replicas: 1 } };
      const before = await topics(kafka);
      expect(before.status).toBe(7);
      expect(before.stdout.match(/ missing$/gm)).toHaveLength(TOPICS.length);
      expect((await topics(kafka, "--create")).stdout.match(/ created$/gm)).toHaveLength(TOPICS.length);
      const after = await topics(kafka);
      expect(after.status).toBe(0);
      expect(after.stdout.match(/as it should be$/gm)).toHaveLength(TOPICS.length);
    });
  });
});
