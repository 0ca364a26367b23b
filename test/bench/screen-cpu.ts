import { spawn } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { text } from "node:stream/consumers";
import { fileURLToPath } from "node:url";
import { z } from "zod";
import { aside, atMost, type Bench } from "./figure.ts";
import { onScratchDisk } from "./scratch-disk.ts";
import { Terminal } from "./terminal.ts";

const SIZES = [
  { columns: 80, rows: 24 },
  { columns: 160, rows: 50 },
] as const;
/** proc(5): utime and stime are in these, a hundredth of a second on Linux. */
const TICK_s = 0.01;

/**
 * How much of a core the station takes while a reference piece is tested at its real pace, plant and instruments
 * included: `run --simulate` on a pseudo-terminal, processor time of the process over wall time from start to verdict.
 * Beside it the same station testing the same piece without a screen, so that the difference is the screen's.
 */
export const screenCpu: Bench = () =>
  onScratchDisk(async (folder) => {
    const figures = [];
    for (const size of SIZES) {
      const part = await partOfCore(join(folder, `${size.columns}`), size);
      figures.push(
        atMost(0.15, {
          figure: `while testing, screen of ${size.columns} x ${size.rows}`,
          value: 100 * part,
          unit: "%",
          against: "one core",
          ratio: part,
        }),
      );
    }
    const bare = await partWithoutScreen(join(folder, "bare"));
    return [
      ...figures,
      aside({
        figure: "the same without a screen",
        value: 100 * bare,
        unit: "%",
        against: "one core",
        ratio: bare,
      }),
    ];
  });

async function partOfCore(records: string, size: (typeof SIZES)[number]): Promise<number> {
  const terminal = new Terminal(["run", "--simulate", "--model", "POD-4", "--records", records], size);
  await terminal.waitFor("Today: ");
  terminal.type("\r");
  await terminal.waitFor("press Enter:");
  terminal.type("\r");
  await terminal.waitFor("hands clear");
  terminal.type("\r");
  await terminal.waitFor("being tested");
  const [start_s, from_s] = [performance.now() / 1000, processor_s(terminal.pid)];
  await terminal.waitFor("reads as certified");
  const part = (processor_s(terminal.pid) - from_s) / (performance.now() / 1000 - start_s);
  await terminal.leave();
  return part;
}

function processor_s(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, "utf8").split(") ")[1]?.split(" ") ?? [];
  return (Number(fields[11]) + Number(fields[12])) * TICK_s;
}

const Used = z.object({ processor_s: z.number(), wall_s: z.number() });

async function partWithoutScreen(records: string): Promise<number> {
  const program = fileURLToPath(new URL("screen-cpu-bare.js", import.meta.url));
  const child = spawn(process.execPath, [program, records], { stdio: ["ignore", "pipe", "inherit"] });
  const used = Used.parse(JSON.parse(await text(child.stdout)));
  return used.processor_s / used.wall_s;
}
