import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { capability } from "../../station/quality/capability/capability.ts";
import { recordedValues } from "../../station/study-data/from-records.ts";
import { aside, atMost, type Bench } from "./figure.ts";
import { fillIndex } from "./replay.ts";

const UNITS = Number(process.env.STUDY_UNITS ?? 1_000_000);
const FEW = 100_000;

/**
 * What a study of recorded values costs: the values of a million units, each at its first test, taken from an index that was filled
 * by itself, and the capability of a hundred thousand of them. Memory is what the heap holds more than
 * when the index was filled; processor time is its own. STUDY_UNITS sets another number.
 */
export const studyValues: Bench = async () => {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-study-bench-"));
  try {
    const attempts = fillIndex(folder, UNITS);
    const before_MB = held_MB();
    const query = {
      ...{ folder, model: "POD-4", characteristic: "leak_rate", shifts: [], parts: new Map() },
      ...{ attempts: "first" as const, withDrafts: false, by: "tub_cavity" },
    };
    const reading = cpu_s();
    const recorded = await recordedValues(query);
    const read_s = cpu_s() - reading;
    const grown_MB = held_MB() - before_MB;
    // Asked after the memory, so that all of it is still there.
    const { values, groups, serials, started_ms } = recorded;
    if (new Set(serials).size !== UNITS || started_ms.length !== UNITS || new Set(groups).size !== 2) {
      throw new Error(`${values.length} values were found, not ${UNITS}.`);
    }
    const judging = cpu_s();
    const settings = { lower: undefined, upper: 25, distribution: "auto" as const, within: null };
    const found = capability({ values: values.slice(0, FEW) }, settings);
    const judged_s = cpu_s() - judging;
    return [
      atMost(400, {
        figure: `memory held for the values of ${UNITS} units`,
        value: Math.round(grown_MB),
        unit: "MB",
        against: "bytes a value, serial, time and group included",
        ratio: (grown_MB * 1e6) / UNITS,
      }),
      aside({
        figure: "recorded attempts a second of processor",
        value: Math.round(attempts / read_s),
        unit: "1/s",
        against: `${read_s.toFixed(1)} s for all`,
      }),
      atMost(2, {
        figure: `capability of ${found.sample.n} values`,
        value: judged_s,
        unit: "s",
        against: "1 s of processor",
        ratio: judged_s,
      }),
    ];
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

/** What the heap holds once everything that nobody needs is gone. */
function held_MB(): number {
  setFlagsFromString("--expose-gc");
  (runInNewContext("gc") as () => void)();
  const { heapUsed } = process.memoryUsage();
  return heapUsed / 1e6;
}

function cpu_s(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
}
