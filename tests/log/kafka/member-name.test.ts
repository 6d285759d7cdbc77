import { spawnSync } from "node:child_process";
import { mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { MemberName } from "../../../src/log/kafka/member-name.ts";

describe("the name a member leaves behind (#884: no static membership)", () => {
  let folder: string;
  beforeEach(async () => {
    folder = await mkdtemp(join(tmpdir(), "member-name-"));
  });
  afterEach(() => rm(folder, { recursive: true }));

  const left = async () => JSON.parse(await readFile(join(folder, "g.member.json"), "utf8")) as { pid: number; host: string };

  it("is taken up by the next process over the same folder", async () => {
    await new MemberName(folder, "g").leave("member-1");
    expect(await new MemberName(folder, "g").former()).toBe("member-1");
    expect(await new MemberName(folder, "other").former()).toBe(null);
  });

  it("is not taken from a process that lives, nor from another machine", async () => {
    await new MemberName(folder, "g").leave("member-1");
    const mine = await left();
    // Our own parent lives for as long as we do.
    await writeFile(join(folder, "g.member.json"), JSON.stringify({ ...mine, pid: process.ppid, memberId: "member-1" }));
    expect(await new MemberName(folder, "g").former()).toBe(null);
    const { pid } = spawnSync(process.execPath, ["-e", ""]);
    await writeFile(join(folder, "g.member.json"), JSON.stringify({ ...mine, pid, memberId: "member-1" }));
    expect(await new MemberName(folder, "g").former()).toBe("member-1");
    await writeFile(join(folder, "g.member.json"), JSON.stringify({ ...mine, host: "elsewhere", memberId: "member-1" }));
    expect(await new MemberName(folder, "g").former()).toBe(null);
  });

  it("is forgotten by a member that left in good order, and a damaged file is none", async () => {
    const name = new MemberName(folder, "g");
    await name.leave("member-1");
    await name.forget();
    expect(await name.former()).toBe(null);
    await writeFile(join(folder, "g.member.json"), '{"memberId":');
    expect(await name.former()).toBe(null);
    expect(await new MemberName(undefined, "g").former()).toBe(null);
  });
});
