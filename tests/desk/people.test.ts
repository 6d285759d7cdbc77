import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { hashPassword, verifyPassword } from "../../src/desk/people/password.ts";
import { may } from "../../src/desk/people/role.ts";
import { Sessions } from "../../src/desk/people/sessions.ts";
import { addToken, removeUser, setUser, Users, UsersMistake } from "../../src/desk/people/users.ts";
import { EXIT } from "../../src/replay/exit-status.ts";

const folder = mkdtempSync(join(tmpdir(), "desk-people-"));
afterAll(() => rmSync(folder, { recursive: true }));
const QUICK = { log2N: 10, r: 8, p: 1 };

describe("passwords", () => {
  test("only the right one opens, and no two hashes are alike", async () => {
    const [a, b] = [await hashPassword("four words in line", QUICK), await hashPassword("four words in line", QUICK)];
    expect(a).not.toBe(b);
    expect(await verifyPassword("four words in line", a)).toBe(true);
    expect(await verifyPassword("four words in lime", a)).toBe(false);
    expect(await verifyPassword("", a)).toBe(false);
  });

  test("a hash that is none, or would cost too much, opens nothing", async () => {
    for (const hash of ["", "plain", "scrypt$99$8$1$aaaaaaaaaaaaaaaa$" + "A".repeat(43), "scrypt$15$8$1$short$x"])
      expect(await verifyPassword("x", hash)).toBe(false);
  });
});

describe("users", () => {
  test("are kept with hashes only, readable by their owner only, and known again", async () => {
    const path = join(folder, "users.json");
    await setUser(path, "Ada", "act", "a long enough one");
    const text = readFileSync(path, "utf8");
    expect(text).not.toContain("a long enough one");
    expect(statSync(path).mode & 0o777).toBe(0o600);
    const users = new Users(path);
    expect(await users.signIn("Ada", "a long enough one")).toEqual({ name: "Ada", role: "act" });
    expect(await users.signIn("Ada", "a long enough two")).toBeNull();
    expect(await users.signIn("Eve", "a long enough one")).toBeNull();
  });

  test("who is taken out or given another role is so at once, also under a token", async () => {
    const path = join(folder, "changing.json");
    await setUser(path, "Ada", "act", "a long enough one");
    await setUser(path, "Ben", "view", "a long enough one");
    const users = new Users(path);
    const token = await addToken(path, "Ben", "wall board", "view");
    expect(await users.byToken(token)).toEqual({ name: "Ben", role: "view" });
    expect(await users.byToken(`${token.slice(0, -2)}xx`)).toBeNull();
    await setUser(path, "Ada", "maintain", "a long enough one");
    expect(users.person("Ada")).toEqual({ name: "Ada", role: "maintain" });
    removeUser(path, "Ben");
    expect(users.person("Ben")).toBeNull();
    expect(await users.byToken(token)).toBeNull();
  });

  test("short passwords, odd names and a broken file are refused with what to do", async () => {
    const path = join(folder, "odd.json");
    await expect(setUser(path, "Ada", "act", "short")).rejects.toThrow(/at least 10/);
    await expect(setUser(path, "A\u0007", "act", "a long enough one")).rejects.toThrow(UsersMistake);
    writeFileSync(path, "{");
    expect(() => new Users(path)).toThrow(/user add/);
  });

  test("a file that cannot be written ends the command with the status for it and what to do, not with a stack", () => {
    const path = join(folder, "nowhere", "u.json");
    const { status, stdout, stderr } = spawnSync(
      process.execPath,
      ["src/bearing-rise.js", "user", "add", "Ada", "--role", "act", "--users", path],
      { encoding: "utf8", input: "a long enough one\n" },
    );
    expect([status, stdout]).toEqual([EXIT.output, ""]);
    expect(stderr).toMatch(/^The users file .+u\.json could not be written, and nothing changed: ENOENT.+Its folder must be/);
    expect(stderr).not.toMatch(/fault of ours|\n {4}at /);
  });

  test("nobody may more than their role", () => {
    expect(may("view", "act")).toBe(false);
    expect(may("act", "maintain")).toBe(false);
    expect(may("maintain", "act")).toBe(false);
    expect(may("administer", "maintain")).toBe(true);
  });
});

describe("sessions", () => {
  test("outlive a restart of the server, and the file opens nothing", () => {
    const path = join(folder, "sessions.json");
    const id = new Sessions(path).begin({ name: "Ada", role: "act" }, "users");
    expect(readFileSync(path, "utf8")).not.toContain(id);
    const again = new Sessions(path);
    expect(again.person(id)).toEqual({ name: "Ada", role: "act", by: "users" });
    again.end(id);
    expect(new Sessions(path).person(id)).toBeNull();
  });

  test("end by themselves after a shift, or sooner when nobody asks", () => {
    let nowMs = 0;
    const sessions = new Sessions(null, () => nowMs);
    const id = sessions.begin({ name: "Ada", role: "act" }, "users");
    nowMs += 9 * 3_600_000;
    expect(sessions.person(id)).not.toBeNull();
    nowMs += 6 * 3_600_000;
    expect(sessions.person(id)).toBeNull();
    const idle = sessions.begin({ name: "Ben", role: "view" }, "users");
    nowMs += 11 * 3_600_000;
    expect(sessions.person(idle)).toBeNull();
  });
});
