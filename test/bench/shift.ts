import { spawn } from "node:child_process";
import { readFileSync } from "node:fs";
import { text } from "node:stream/consumers";
import { fileURLToPath } from "node:url";
import { z } from "zod";
import { DEMO_START_ms } from "../../sim/virtual-clock.ts";
import { PROGRAM } from "../program.ts";
import { aside, atLeast, type Bench } from "./figure.ts";
import { onScratchDisk } from "./scratch-disk.ts";

const UNITS = 400;

const UnitEvent = z.object({ event: z.string(), traveller: z.string().optional() });
const Ended = z.object({ ended_at: z.iso.datetime() });
const Meter = z.object({ calls: z.number(), waited_ms: z.number(), cpu_ms: z.number() });

/**
 * A simulated shift as a user runs it: `drumtight run --simulate --units 400 --json`, the whole process from spawn to
 * end, every traveller written durably to a disk. Simulated time is from the clock's start to the end of the last
 * attempt; reference checks are in it. What part of the wall time was spent waiting for fsync is counted inside
 * the process by a preloaded meter.
 */
export const shift: Bench = () =>
  onScratchDisk(async (folder) => {
    const start_ms = performance.now();
    const { events, meter } = await runShift(folder);
    const wall_s = (performance.now() - start_ms) / 1000;
    const travellers = events.flatMap(({ event, traveller }) =>
      event === "unit" && traveller ? [traveller] : [],
    );
    if (travellers.length !== UNITS) throw new Error(`${travellers.length} of ${UNITS} units were tested.`);
    const simulated_s = (endOf(travellers.at(-1) ?? "") - DEMO_START_ms) / 1000;
    return [
      atLeast(2000, {
        figure: `simulated shift of ${UNITS} units`,
        value: wall_s,
        unit: "s",
        against: `real time, ${simulated_s.toFixed(0)} s`,
        ratio: simulated_s / wall_s,
      }),
      aside({
        figure: "of it waiting for fsync",
        value: meter.waited_ms / 1000,
        unit: "s",
        against: `the whole, ${meter.calls} calls`,
        ratio: meter.waited_ms / 1000 / wall_s,
      }),
      aside({
        figure: "processor time",
        value: meter.cpu_ms / 1000,
        unit: "s",
        against: `real time, ${simulated_s.toFixed(0)} s`,
        ratio: (simulated_s * 1000) / meter.cpu_ms,
      }),
    ];
  });

async function runShift(folder: string) {
  const preload = fileURLToPath(new URL("fsync-meter.js", import.meta.url));
  const args = ["run", "--simulate", "--seed", "7", "--units", String(UNITS), "--json", "--records", folder];
  const child = spawn(process.execPath, ["--import", preload, PROGRAM, ...args], {
    stdio: ["ignore", "pipe", "pipe", "pipe"],
  });
  const [, stdout, stderr, meter] = child.stdio;
  if (!stdout || !stderr || !meter || !("read" in meter))
    throw new Error("The shift's output can't be read.");
  const ended = new Promise<number | null>((resolve, reject) => {
    child.once("error", reject);
    child.once("close", resolve);
  });
  const [out, complaint, metered, code] = await Promise.all([text(stdout), text(stderr), text(meter), ended]);
  if (code !== 0) throw new Error(`The shift ended with ${code}: ${complaint}`);
  const lines = out.split("\n").filter((line) => line !== "");
  return {
    events: lines.map((line) => UnitEvent.parse(JSON.parse(line))),
    meter: Meter.parse(JSON.parse(metered)),
  };
}

function endOf(traveller: string): number {
  return Date.parse(Ended.parse(JSON.parse(readFileSync(traveller, "utf8"))).ended_at);
}
