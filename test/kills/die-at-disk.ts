import fs, { type FileHandle } from "node:fs/promises";
import { syncBuiltinESMExports } from "node:module";

// Loaded by `node --import .../die-at-disk.js?at=N&in=FOLDER` before the program under test: ends it with SIGKILL before its
// Nth file operation in the folder. Work at import is what a preloaded module is for.
const asked = new URL(import.meta.url).searchParams;
const at = Number(asked.get("at"));
const folder = asked.get("in") ?? "";
let operations = 0;

function step(path: unknown): void {
  if (!String(path).startsWith(folder)) return;
  operations++;
  if (operations === at) process.kill(process.pid, "SIGKILL");
}

const probe = await fs.open(process.execPath);
const handles: Record<string, (...args: unknown[]) => unknown> = Object.getPrototypeOf(probe);
await probe.close();
const paths = new WeakMap<object, string>();

const functions = fs as unknown as Record<string, (...args: unknown[]) => unknown>;
for (const name of ["mkdir", "link", "rename", "unlink", "readdir", "readFile"]) {
  const real = functions[name];
  if (!real) continue;
  functions[name] = (...args) => {
    step(args[name === "link" ? 1 : 0]);
    return real(...args);
  };
}
const open = fs.open;
functions.open = async (...args: unknown[]) => {
  step(args[0]);
  const handle: FileHandle = await open(...(args as Parameters<typeof open>));
  paths.set(handle, String(args[0]));
  return handle;
};
for (const name of ["writeFile", "sync"]) {
  const real = handles[name];
  if (!real) continue;
  handles[name] = function (this: object, ...args: unknown[]) {
    step(paths.get(this));
    return real.apply(this, args);
  };
}
syncBuiltinESMExports();
