import { mkdtempSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { makeFolder } from "../../src/replay/make-folder.ts";

const folder = mkdtempSync(join(tmpdir(), "bearing-rise-folder-"));
afterAll(() => rmSync(folder, { recursive: true }));

describe("making a folder", () => {
  it("makes those above it, and is content with one that is there", () => {
    const deep = join(folder, "a", "b", "c");
    makeFolder(deep);
    makeFolder(deep);
    expect(statSync(deep).isDirectory()).toBe(true);
  });

  it("says what is in the way", () => {
    writeFileSync(join(folder, "file"), "");
    expect(() => makeFolder(join(folder, "file"))).toThrow(/EEXIST/);
    expect(() => makeFolder(join(folder, "file", "below"))).toThrow(/ENOTDIR|EEXIST/);
  });

  it("gives up where none can be made", () => {
    expect(() => makeFolder("/proc/no-such/folder")).toThrow(/ENOENT|EROFS|EACCES|EPERM/);
  });
});
