#!/usr/bin/env node
// The command starts on whatever Node the machine has and goes on at once on the packaged one,
// which runs TypeScript as it is written.
import { spawn } from "node:child_process";
import { createRequire } from "node:module";
import { constants } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const require = createRequire(import.meta.url);
const packaged = join(dirname(require.resolve("node/package.json")), "bin", process.platform === "win32" ? "node.exe" : "node");
const main = fileURLToPath(new URL("./main.ts", import.meta.url));

// Node lets its heap grow far over what is held as long as the machine has room; these keep a day's replay under 400 MB.
const flags = ["--disable-warning=ExperimentalWarning", "--heap-growing-percent=30", "--max-semi-space-size=8"];

// What was compiled once is kept: a quicker start, and 15 MB less, for nothing has to turn TypeScript into JavaScript again.
// Where the folder cannot be written Node does without.
const cache = process.env.NODE_COMPILE_CACHE ?? join(dirname(main), "..", "node_modules", ".cache", "bearing-rise");
// One pool of memory for columns, given back when it is free: with a pool for every thread 20 to 30 MB more lie about.
const env = { MALLOC_ARENA_MAX: "1", MALLOC_TRIM_THRESHOLD_: "131072", ...process.env, NODE_COMPILE_CACHE: cache };

// The channel carries nothing: its end tells the child that this process is gone, even when it was killed (main.ts).
const child = spawn(packaged, [...flags, main, ...process.argv.slice(2)], { stdio: ["inherit", "inherit", "inherit", "ipc"], env });
for (const signal of ["SIGINT", "SIGTERM"]) process.on(signal, () => child.kill(signal));
child.on("error", (error) => {
  console.error(
    `bearing-rise: the packaged Node could not be started (${error.message}). Run "npm ci" in the project folder and try again.`,
  );
  process.exit(70);
});
child.on("exit", (code, signal) => process.exit(signal ? 128 + constants.signals[signal] : (code ?? 70)));
