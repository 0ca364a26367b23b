import { writeSync } from "node:fs";
import { open } from "node:fs/promises";

// Loaded by `node --import` before the program under test: adds up the time in which at least one fsync was under
// way, and writes it to file descriptor 3 at the end. Work at import is what a preloaded module is for.
const METER_FD = 3;
const handle = await open(process.execPath);
const prototype: { sync(): Promise<void> } = Object.getPrototypeOf(handle);
await handle.close();

const sync = prototype.sync;
let underWay = 0;
let since_ms = 0;
let calls = 0;
let waited_ms = 0;

prototype.sync = async function (this: unknown) {
  if (underWay++ === 0) since_ms = performance.now();
  calls++;
  try {
    await sync.call(this as never);
  } finally {
    if (--underWay === 0) waited_ms += performance.now() - since_ms;
  }
};

process.on("exit", () => {
  const { user, system } = process.cpuUsage();
  writeSync(METER_FD, JSON.stringify({ calls, waited_ms, cpu_ms: (user + system) / 1000 }));
});
