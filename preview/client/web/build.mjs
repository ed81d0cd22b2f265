// Bundle the page's script: node build.mjs ENTRY OUT. One classic script, so that it runs from a file as well.
import { rename, rm, writeFile } from "node:fs/promises";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const [entry, out] = process.argv.slice(2);
if (!entry || !out) stop("node build.mjs ENTRY OUT");

const result = await build({
  entryPoints: [entry],
  bundle: true,
  minify: true,
  write: false,
  format: "iife",
  platform: "browser",
  target: ["es2022", "safari16.4"],
  charset: "ascii",
  legalComments: "inline",
  logLevel: "warning",
  // For an entry that stands elsewhere.
  nodePaths: [fileURLToPath(new URL("node_modules", import.meta.url))],
}).catch(() => stop());
const [{ contents, text }] = result.outputFiles;

// The script stands inside an HTML script element, which these would end or upset.
for (const word of ["</script", "<script", "<!--"]) {
  if (text.toLowerCase().includes(word)) stop(`the bundle holds ${word}, which would break the page`);
}

// Beside, then rename: whoever reads it never meets half a script.
const beside = `${out}.${process.pid}`;
try {
  await writeFile(beside, contents);
  await rename(beside, out);
} finally {
  await rm(beside, { force: true });
}

function stop(why) {
  if (why) console.error(why);
  process.exit(1);
}
