import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { CAUTIONS } from "../../station/screen/cautions-text.ts";
import { aside, atMost, type Bench, median } from "./figure.ts";
import { onScratchDisk } from "./scratch-disk.ts";
import { Terminal } from "./terminal.ts";

const RUNS = 15;
/** Of the first caution, within one line. */
const CAUTION = CAUTIONS[0]?.slice(0, 40) ?? "";
/** Only the station's own screen has today's count. */
const SCREEN = "Today: ";

/**
 * How long somebody looks at an empty terminal after `drumtight run --simulate`: from spawn of the whole process (with
 * `script`, which makes the pseudo-terminal, and a shell) to the bytes with the cautions, against the bare Node that any
 * program of it must start. The two take turns; one of each first, for the disk's cache.
 */
export const firstFrame: Bench = () =>
  onScratchDisk(async (folder) => {
    const cautions_ms: number[] = [];
    const screen_ms: number[] = [];
    const bare_ms: number[] = [];
    for (let k = -1; k < RUNS; k++) {
      const shown = await untilShown_ms(join(folder, String(k)));
      const bare = wholeProcess_ms();
      if (k < 0) continue;
      cautions_ms.push(shown.cautions_ms);
      screen_ms.push(shown.screen_ms);
      bare_ms.push(bare);
    }
    const nodes_ms = median(bare_ms);
    const against = `node -e 0, ${nodes_ms.toFixed(0)} ms`;
    return [
      atMost(6, {
        figure: `first frame, the cautions, median of ${RUNS}`,
        value: median(cautions_ms),
        unit: "ms",
        against,
        ratio: median(cautions_ms) / nodes_ms,
      }),
      aside({
        figure: "the opened station's screen",
        value: median(screen_ms),
        unit: "ms",
        against,
        ratio: median(screen_ms) / nodes_ms,
      }),
    ];
  });

async function untilShown_ms(records: string) {
  const start_ms = performance.now();
  const terminal = new Terminal(["run", "--simulate", "--records", records]);
  await terminal.waitFor(CAUTION);
  const cautions_ms = performance.now() - start_ms;
  await terminal.waitFor(SCREEN);
  const screen_ms = performance.now() - start_ms;
  await terminal.leave();
  return { cautions_ms, screen_ms };
}

function wholeProcess_ms(): number {
  const start_ms = performance.now();
  const { status } = spawnSync(process.execPath, ["-e", "0"]);
  if (status !== 0) throw new Error(`node -e 0 ended with ${status}.`);
  return performance.now() - start_ms;
}
