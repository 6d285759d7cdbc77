import { describe, expect, test } from "vitest";
import { deskConfig } from "../../src/desk/desk-config.ts";
import { unsafeOpenings } from "../../src/desk/safe-opening.ts";
import { startDesk } from "../../src/desk/start-desk.ts";
import { CommandError, EXIT } from "../../src/replay/exit-status.ts";
import { BOOK, emptyLog, RAILROAD } from "./railroad.ts";

const codes = (config: object, users: number) => unsafeOpenings(deskConfig.parse(config), users).map((why) => why.slice(0, 8));

describe("a desk is not opened", () => {
  test("beyond this machine without users, or without TLS and no proxy declared", () => {
    expect(codes({ host: "0.0.0.0" }, 0)).toEqual(["DESK-001", "DESK-002"]);
    expect(codes({ host: "0.0.0.0", users: "u.json" }, 2)).toEqual(["DESK-002"]);
    expect(codes({ host: "10.1.2.3", proxy: { trusted: ["10.1.2.1"] } }, 0)).toEqual(["DESK-001"]);
    expect(codes({ host: "::", users: "u.json" }, 0)).toEqual(["DESK-001", "DESK-002"]);
  });

  test("with a users file that lets nobody in", () => {
    expect(codes({ users: "u.json" }, 0)).toEqual(["DESK-001"]);
  });

  test("and the process ends with a status and says what to do", async () => {
    const opening = startDesk({
      config: deskConfig.parse({ host: "0.0.0.0", port: 0 }),
      log: emptyLog(),
      railroad: RAILROAD,
      book: BOOK,
      pages: false,
    });
    const error = await opening.then(
      () => null,
      (reason: unknown) => reason,
    );
    expect(error).toBeInstanceOf(CommandError);
    expect((error as CommandError).status).toBe(EXIT.lineOrRules);
    expect((error as CommandError).message).toMatch(/desk\.users/);
    expect((error as CommandError).message).toMatch(/desk\.tls/);
  });
});

describe("a desk is opened", () => {
  test("on this machine without users, and beyond it with users and TLS or a proxy", () => {
    expect(codes({}, 0)).toEqual([]);
    expect(codes({ host: "localhost" }, 0)).toEqual([]);
    expect(codes({ host: "0.0.0.0", users: "u.json", tls: { cert: "c", key: "k" } }, 1)).toEqual([]);
    expect(codes({ host: "0.0.0.0", users: "u.json", proxy: { trusted: ["10.0.0.0/8"] } }, 1)).toEqual([]);
  });
});
