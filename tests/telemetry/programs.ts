import { spawnSync } from "node:child_process";
import { describe, expect, test } from "vitest";

/** Debian's packages `prometheus` and `prometheus-alertmanager` bring them. */
const PACKAGE = {
  promtool: "prometheus",
  prometheus: "prometheus",
  amtool: "prometheus-alertmanager",
  "prometheus-alertmanager": "prometheus-alertmanager",
} as const;
export type Program = keyof typeof PACKAGE;

/** Whether the program is on this machine. */
export function has(program: Program): boolean {
  return spawnSync(program, ["--version"]).status === 0;
}

/** Tests that need a program. Without it they are left out with the reason said; in CI that is a failure. */
export function withProgram(program: Program, tests: () => void): void {
  if (has(program)) {
    describe(program, tests);
    return;
  }
  const reason = `${program} is not on this machine: apt-get install ${PACKAGE[program]}`;
  if (process.env["CI"] === "true") {
    test(program, () => expect.fail(reason));
  } else {
    console.warn(`not tested: ${reason}`);
    describe.skip(`${program} (${reason})`, tests);
  }
}
