// Bundles the pages' scripts and styles into dist/. Prints what each weighs compressed, and fails above the
// budget: the pages are opened on old tablets.
import { build } from "esbuild";
import { createHash } from "node:crypto";
import { existsSync, readFileSync, readdirSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";
import { gzipSync } from "node:zlib";

const here = import.meta.dirname;
const dist = join(here, "dist");
const budget = 60 * 1024; // bytes, all files, gzip
const pages = ["operator", "air", "review", "sessions", "standings"];

const scripts = pages.map((p) => join(here, "src", p + ".ts")).filter(existsSync);
// record.css is part of review.css; reports take it as it was written.
const styles = readdirSync(join(here, "css")).filter((f) => f.endsWith(".css") && f !== "record.css").map((f) => join(here, "css", f));

// A build that would make the same files again is not done.
const digest = createHash("sha256");
const files = (dir) =>
  readdirSync(dir, { withFileTypes: true, recursive: true })
    .filter((e) => e.isFile())
    .map((e) => join(e.parentPath, e.name))
    .sort();
for (const f of [...files(join(here, "src")), ...files(join(here, "css")), join(here, "build.mjs"), join(here, "package-lock.json")]) {
  digest.update(f.slice(here.length)).update("\0").update(readFileSync(f)).update("\0");
}
const stamp = digest.digest("hex");
const stampFile = join(dist, ".stamp");
const fresh = existsSync(stampFile) && readFileSync(stampFile, "utf8") === stamp;

if (!fresh) {
  const made = await build({
    absWorkingDir: here,
    entryPoints: [...scripts, ...styles],
    entryNames: "[name]",
    outdir: dist,
    bundle: true,
    splitting: true,
    chunkNames: "part-[hash]",
    format: "esm",
    target: ["es2022"],
    minify: true,
    sourcemap: false,
    legalComments: "none", // said in licences.txt
    logLevel: "warning",
    write: false,
  });
  // Whole or absent: the program may be built at the same time.
  const put = (name, content) => {
    const tmp = join(here, `.new-${process.pid}-${name}`);
    writeFileSync(tmp, content);
    renameSync(tmp, join(dist, name));
  };
  const kept = new Set([".keep", "licences.txt"]);
  for (const f of made.outputFiles) {
    kept.add(basename(f.path));
    put(basename(f.path), f.contents);
  }
  put("licences.txt", "uplot\n\n" + readFileSync(join(here, "node_modules/uplot/LICENSE"), "utf8"));
  for (const f of readdirSync(dist)) if (!kept.has(f)) rmSync(join(dist, f), { recursive: true });
}

let total = 0;
for (const f of readdirSync(dist).filter((f) => /\.(js|css)$/.test(f)).sort()) { // what a browser loads
  const size = gzipSync(readFileSync(join(dist, f)), { level: 9 }).length;
  total += size;
  console.log(`${(size / 1024).toFixed(1).padStart(6)} KB  ${basename(f)}`);
}
console.log(`${(total / 1024).toFixed(1).padStart(6)} KB  in all, of ${budget / 1024}`);
if (total > budget) {
  console.error("build: the pages weigh more than their budget");
  process.exit(1);
}
if (!fresh) writeFileSync(stampFile, stamp);
