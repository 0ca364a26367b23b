// A station that records a few attempts with the built program, in a process of its own, so that it can be killed.
// It counts its file operations, and ends itself with SIGKILL before operation number KILL_AT (never, if 0).
//   node station-child.mjs run FOLDER KILL_AT ATTEMPTS_JSON  -> a line per event, the operations' trace at the end; an
//     attempt with "holds" holds afterwards what failed reference checks put in doubt
//   node station-child.mjs copies FOLDER 0 ATTEMPTS_JSON      -> a run in FOLDER/run, copied to FOLDER/N before operation N
//   node station-child.mjs hold FOLDER                        -> opens the folder and keeps it
//   node station-child.mjs faults FOLDER 0 ATTEMPTS_JSON      -> for every operation number N a run in FOLDER/N-1,
//     FOLDER/N-3 and FOLDER/N-Infinity, in which so many operations from that one on end with EIO; a line per run

import { cpSync, rmSync, writeSync } from "node:fs";
import { basename, join } from "node:path";
import { announceOperations } from "./disk-operations.mjs";

const [mode, folder, killAt = "0", attempts = "[]"] = process.argv.slice(2);
const run = mode === "copies" ? join(folder, "run") : folder;
const isNoLock = (path) => !basename(path).startsWith(".station-lock");
const say = (event) => writeSync(1, `${JSON.stringify(event)}\n`);

let counting = false; // not the module loader's own reading
let operations = 0;
let fault = { at: 0, length: 0 };
function step(name, path) {
  if (!counting) return;
  operations++;
  if (operations === Number(killAt)) process.kill(process.pid, "SIGKILL");
  if (operations >= fault.at && operations < fault.at + fault.length) {
    throw Object.assign(new Error(`EIO: i/o error, ${name}`), { code: "EIO" });
  }
  if (mode === "copies") copyRun(join(folder, `${operations}`));
  if (mode === "run" || mode === "copies") say({ operation: name, path: basename(String(path)) });
}

function copyRun(into) {
  for (;;) {
    try {
      // Not the lock: closing any handle of it would give it up.
      return cpSync(run, into, { recursive: true, filter: isNoLock });
    } catch (error) {
      // A file went while it was copied: an operation begun before is still under way.
      if (error.code !== "ENOENT") throw error;
      rmSync(into, { recursive: true, force: true });
    }
  }
}

await announceOperations(step);

const { RecordStore } = await import("../../dist/station/records/store.js");
counting = true;
const clock = {
  now_s: () => 0,
  wall_ms: () => Date.UTC(2026, 0, 5, 6),
  setTimeout: () => undefined,
  clearTimeout: () => undefined,
};
if (mode === "hold") {
  await RecordStore.open({ folder, clock, station: "child" });
  say({ opened: true });
  setInterval(() => undefined, 60_000);
} else if (mode === "run" || mode === "copies") {
  const { store } = await RecordStore.open({ folder: run, clock, station: "child" });
  for (const { facts, outcome, holds } of JSON.parse(attempts)) {
    const attempt = await store.begin(facts);
    say({ begun: facts.serial });
    await store.commit(attempt, outcome);
    say({ shown: facts.serial, verdict: outcome.verdict });
    if (holds) say({ held: (await store.ensureHolds()).length });
  }
  await store.close();
  say({ operations });
} else {
  for (let at = 1, ended = false; !ended; at++) {
    for (const length of [1, 3, Number.POSITIVE_INFINITY]) {
      const run = join(folder, `${at}-${length}`);
      operations = 0;
      fault = { at, length };
      say({ folder: run, ...(await runWithFault(run)) });
      ended = operations < at;
    }
  }
}

/** What was begun, shown and refused. A station that meets a fault goes on with its next unit. */
async function runWithFault(run) {
  const begun = [];
  const shown = {};
  const failures = [];
  let store;
  try {
    ({ store } = await RecordStore.open({ folder: run, clock, station: "child" }));
    for (const { facts, outcome } of JSON.parse(attempts)) {
      try {
        const attempt = await store.begin(facts);
        begun.push(facts.serial);
        await store.commit(attempt, outcome);
        shown[facts.serial] = outcome.verdict;
      } catch (error) {
        failures.push(error.code);
      }
    }
  } catch (error) {
    failures.push(error.code);
  }
  await store?.close();
  return { begun, shown, failures };
}
