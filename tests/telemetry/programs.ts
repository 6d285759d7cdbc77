import { spawnSync } from "node:child_process";
import { describe, expect, test } from "vitest";

/** Debian's packages that bring them. */
const PACKAGE = {
  promtool: "prometheus",
  prometheus: "prometheus",
  amtool: "prometheus-alertmanager",
  "prometheus-alertmanager": "prometheus-alertmanager",
  "docker-compose": "docker-compose",
} as const;
export type Program = keyof typeof PACKAGE;

/** Whether the program is on this machine. */
export function has(program: Program): boolean {
  return spawnSync(program, ["--version"]).status === 0;
}

/**
 * Tests that need a program. Without it one test stands for them, which says the reason and is told as skipped, so that nobody
 * takes them for passed; in CI it fails.
 */
export function withProgram(program: Program, tests: () => void): void {
  if (has(program)) {
    describe(program, tests);
    return;
  }
  test(`${program} is on this machine`, ({ skip }) => {
    const reason = `${program} is not on this machine: apt-get install ${PACKAGE[program]}`;
    if (process.env["CI"] === "true") expect.fail(reason);
    skip(reason);
  });
}
