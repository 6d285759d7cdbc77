import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { loadConfig } from "../../src/live/config.ts";
import { CommandError, EXIT } from "../../src/replay/exit-status.ts";

const folder = mkdtempSync(join(tmpdir(), "rise-config-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function config(text: string): string {
  const file = join(folder, "live.yaml");
  writeFileSync(file, text);
  return file;
}

function mistakesOf(text: string): string {
  try {
    loadConfig(config(text));
  } catch (error) {
    expect(error).toBeInstanceOf(CommandError);
    expect((error as CommandError).status).toBe(EXIT.lineOrRules);
    return (error as Error).message;
  }
  throw new Error("the configuration was taken");
}

const SHORTEST = "railroad: { line: line.yaml, rules: rules }\ndataFolder: data\n";

describe("the configuration of a running process", () => {
  it("needs the railroad and a data folder; all else has a value of its own", () => {
    const { log, stages, railroad, feed, webhooks, desk } = loadConfig(config(SHORTEST));
    expect(log).toEqual({ embedded: { partitions: {}, mostGigabytes: 50 } });
    expect([stages, railroad.time, feed, webhooks, desk]).toEqual([
      ["assemble", "follow"],
      "arrival",
      { folder: undefined },
      [],
      undefined,
    ]);
  });

  it("has its paths from its own folder", () => {
    const { railroad, dataFolder } = loadConfig(config(SHORTEST));
    expect([railroad.line, railroad.rules, dataFolder]).toEqual(["line.yaml", "rules", "data"].map((name) => join(folder, name)));
  });

  it("has the files of its secrets from there too, of webhooks as of the log", () => {
    const { webhooks, log } = loadConfig(
      config(
        `${SHORTEST}webhooks: [{ name: a, url: "https://a.example", secrets: ["file:hook.secret", "env:HOOK", "file:/run/old"] }]
log: { kafka: { brokers: [a:9092], tls: {}, sasl: { mechanism: plain, username: u, password: "file:kafka" } } }\n`,
      ),
    );
    expect(webhooks[0]?.secrets).toEqual([`file:${join(folder, "hook.secret")}`, "env:HOOK", "file:/run/old"]);
    expect(log).toMatchObject({ kafka: { sasl: { password: `file:${join(folder, "kafka")}` } } });
  });

  it("is refused with the place of each mistake, and what was probably meant", () => {
    const said = mistakesOf(`${SHORTEST}stages: [assemble, folow]\ntelemetri: {}\n`);
    expect(said).toMatch(/live\.yaml:3:\d+/);
    expect(said).toMatch(/live\.yaml:4:1 unknown-key/);
    expect(said).toMatch(/telemetry/);
  });

  it("takes no secret in plain words", () => {
    expect(
      mistakesOf(`${SHORTEST}log: { kafka: { brokers: [a:9092], tls: {}, sasl: { mechanism: plain, username: u, password: secret } } }\n`),
    ).toMatch(/password/);
  });

  it("has a sample that can be used as it is", () => {
    const sample = loadConfig("deploy/live.yaml");
    expect(sample.railroad.line).toBe(resolve("replay-data/line.yaml"));
  });
});
