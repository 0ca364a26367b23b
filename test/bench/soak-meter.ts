import { readdirSync, writeSync } from "node:fs";

// Loaded by `node --expose-gc --import .../soak-meter.js?every=N` before `run --simulate --json`: at every Nth unit it collects
// garbage and writes what the process holds to file descriptor 3. Work at import is what a preloaded module is for.
const every = Number(new URL(import.meta.url).searchParams.get("every"));
const METER_FD = 3;

let units = 0;
const write = process.stdout.write.bind(process.stdout);
process.stdout.write = ((text: string, ...rest: []) => {
  if (text.startsWith('{"event":"unit"') && ++units % every === 0) setImmediate(sample, units);
  // The events themselves are nobody's concern here.
  return text.startsWith('{"event":"summary"') ? write(text, ...rest) : true;
}) as typeof process.stdout.write;

function sample(at: number): void {
  globalThis.gc?.();
  const { heapUsed, external, arrayBuffers, rss } = process.memoryUsage();
  // One of them is the folder of them itself, open while it is read.
  const descriptors = readdirSync("/proc/self/fd").length - 1;
  writeSync(
    METER_FD,
    `${JSON.stringify({ units: at, heapUsed, external, arrayBuffers, rss, descriptors })}\n`,
  );
}
