import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from "node:fs";
import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";

/** The pages' sources, and where they are built to: beside the packages, so nothing appears in the project. */
const PAGE = fileURLToPath(new URL("./page/", import.meta.url));
const BUILT = fileURLToPath(new URL("../../node_modules/.cache/bearing-rise-desk/", import.meta.url));
/** Everything outside `page/` that the pages are built from, beside the packages. */
export const SHARED_SOURCES = [
  "board/urgency.ts",
  "views/action-words.ts",
  "../line/wall-clock.ts",
  "../pass/short-place.ts",
  "../replay/report/band-layout.ts",
  "../replay/report/scale.ts",
  "../site/condition-words.ts",
];

/** Builds of other sources kept: a server that runs on one still needs its files. */
const MOST_BUILDS = 5;

/** The folder of the built pages; builds them when their sources changed. Several processes may ask at once. */
export async function builtPages(): Promise<string> {
  const folder = join(BUILT, stampOf());
  if (existsSync(folder)) return folder;
  const beside = join(BUILT, `.${process.pid}-${Date.now()}`);
  await build(beside);
  try {
    renameSync(beside, folder);
  } catch {
    // Another process was faster; its build is the same.
    rmSync(beside, { recursive: true, force: true });
  }
  forgetOld();
  return folder;
}

function forgetOld(): void {
  const builds = readdirSync(BUILT, { withFileTypes: true }).filter((entry) => entry.isDirectory() && !entry.name.startsWith("."));
  const byAge = builds
    .map(({ name }) => ({ path: join(BUILT, name), ms: statSync(join(BUILT, name)).mtimeMs }))
    .sort((a, b) => b.ms - a.ms);
  for (const { path } of byAge.slice(MOST_BUILDS)) rmSync(path, { recursive: true, force: true });
}

async function build(outDir: string): Promise<void> {
  // Only a build needs it, and loading it takes longer than all the rest.
  const vite = await import("vite");
  mkdirSync(outDir, { recursive: true });
  await vite.build({
    root: PAGE,
    configFile: false,
    logLevel: "error",
    base: "./",
    build: {
      outDir,
      emptyOutDir: true,
      target: "es2022",
      modulePreload: { polyfill: false },
      assetsInlineLimit: 0,
      reportCompressedSize: false,
    },
  });
  for (const path of filesIn(outDir)) compress(path);
}

function compress(path: string): void {
  const bytes = readFileSync(path);
  writeFileSync(`${path}.br`, brotliCompressSync(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 11 } }));
  writeFileSync(`${path}.gz`, gzipSync(bytes, { level: 9 }));
}

function stampOf(): string {
  const hash = createHash("sha256");
  const shared = SHARED_SOURCES.map((path) => join(PAGE, "..", path));
  const lock = fileURLToPath(new URL("../../package-lock.json", import.meta.url));
  for (const path of [...filesIn(PAGE), ...shared, lock, fileURLToPath(import.meta.url)]) {
    hash.update(relative(PAGE, path));
    if (existsSync(path)) hash.update(readFileSync(path));
  }
  return hash.digest("hex").slice(0, 24);
}

function filesIn(folder: string): string[] {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name))
    .sort();
}
