// Runs the Khronos validator over GLB or glTF files. Set up by the README's test command; called by tests/gltf.py.
//   node validate.mjs FILE...   prints one JSON array: { file, issues: [{ severity, code, message, pointer }], info }
import { readFile } from "node:fs/promises";
import { extname } from "node:path";
import validator from "gltf-validator";

const SEVERITY = ["error", "warning", "info", "hint"];

async function report(file) {
  const bytes = new Uint8Array(await readFile(file));
  const { issues, info } = await validator.validateBytes(bytes, {
    format: extname(file) === ".glb" ? "glb" : "gltf",
    maxIssues: 0, // no limit
    // A file must stand alone: anything it asks for from outside is an issue.
    externalResourceFunction: (uri) => Promise.reject(new Error(`the file points outside itself: ${uri}`)),
  });
  return {
    file,
    issues: issues.messages.map(({ severity, code, message, pointer = "" }) => ({
      severity: SEVERITY[severity],
      code,
      message,
      pointer,
    })),
    info: info ?? null,
  };
}

const reports = [];
for (const file of process.argv.slice(2)) reports.push(await report(file));
console.log(JSON.stringify(reports, null, 1));
