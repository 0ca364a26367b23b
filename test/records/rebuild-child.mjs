// Makes a folder's index anew with the built program, in a process of its own, so that it can be killed at its disk.
//   node rebuild-child.mjs copies FOLDER 0 [READ]   -> of FOLDER/run; copied to FOLDER/N before operation N, where it is not as it was
//     before the one that was copied last; a line per copy. With READ somebody has the old index open, and reads it.
//   node rebuild-child.mjs run FOLDER KILL_AT [READ] -> ends itself with SIGKILL before operation number KILL_AT

import { createHash } from "node:crypto";
import { cpSync, readdirSync, readFileSync, writeSync } from "node:fs";
import { basename, join } from "node:path";
import { pathToFileURL } from "node:url";
import Database from "libsql";
import { announceOperations } from "./disk-operations.mjs";

const [mode, folder, killAt, isRead] = process.argv.slice(2);
const run = mode === "copies" ? join(folder, "run") : folder;
// Closing any handle of the lock would give it up.
const isNoLock = (path) => basename(path) !== ".station-lock.db";

let counting = false;
let operations = 0;
let last = "";
await announceOperations((name, path) => {
  if (!counting) return;
  operations++;
  if (operations === Number(killAt)) process.kill(process.pid, "SIGKILL");
  if (mode !== "copies") return;
  counting = false;
  const now = state();
  if (now !== last) {
    cpSync(run, join(folder, `${operations}`), { recursive: true, filter: isNoLock });
    writeSync(1, `${JSON.stringify({ at: operations, operation: name, path: basename(String(path)) })}\n`);
  }
  last = now;
  counting = true;
}, true);
const { rebuildIndex } = await import("../../dist/station/records/index-rebuild.js");

const reader = isRead && new Database(`${pathToFileURL(join(run, ".index.db"))}?mode=ro`);
if (reader) {
  reader.exec("BEGIN");
  reader.prepare("SELECT count(*) FROM attempts").get();
}
counting = true;
await rebuildIndex({ folder: run, at_ms: Date.UTC(2026, 0, 6) });

/** Of the indices: a rebuild has no business with the travellers. */
function state() {
  return readdirSync(run)
    .filter((name) => name.startsWith(".index"))
    .map(
      (name) =>
        `${name} ${createHash("sha256")
          .update(readFileSync(join(run, name)))
          .digest("hex")}`,
    )
    .join();
}
