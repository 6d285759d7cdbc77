import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { secretOf } from "../../src/desk/people/openid.ts";
import { startDesk } from "../../src/desk/start-desk.ts";
import { loadConfig } from "../../src/live/config.ts";
import { CommandError } from "../../src/replay/exit-status.ts";
import { BOOK, emptyLog, RAILROAD } from "./railroad.ts";

const folder = mkdtempSync(join(tmpdir(), "bearing-rise-secret-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function configured(clientSecret: string) {
  const file = join(folder, "live.yaml");
  const openid = { issuer: "http://127.0.0.1:9", clientId: "desk", clientSecret, publicUrl: "http://127.0.0.1:8470" };
  writeFileSync(file, JSON.stringify({ railroad: { line: "l", rules: "r" }, dataFolder: "d", desk: { port: 0, openid } }));
  return loadConfig(file).desk!;
}

describe("the secret of OpenID Connect", () => {
  test("in a file is looked for from the configuration's own folder, like every other path", () => {
    writeFileSync(join(folder, "secret.txt"), "hush\n");
    expect(secretOf(configured("file:secret.txt").openid!.clientSecret!)).toBe("hush");
  });

  test("that cannot be read is said when the desk is opened, not when the first person signs in", async () => {
    for (const reference of ["file:nowhere.txt", "env:BEARING_RISE_NO_SUCH_NAME"]) {
      const log = emptyLog();
      const opening = startDesk({ config: configured(reference), log, railroad: RAILROAD, book: BOOK, pages: false });
      await expect(opening).rejects.toThrow(CommandError);
      await expect(opening).rejects.toThrow(/DESK-003 secret: .*(nowhere\.txt|BEARING_RISE_NO_SUCH_NAME)/);
      await log.close();
    }
  });
});
