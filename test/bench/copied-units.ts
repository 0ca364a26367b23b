import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { sha256Hex } from "../../station/records/chain.ts";
import { listRecords, travellerPath } from "../../station/records/record-name.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { PROGRAM } from "../program.ts";

const SIMULATED = 60;
/** From one attempt's start to the next one's. */
const EACH_MS = 25_000;

/** @returns the travellers of so many simulated units of the demo plant, curves, budgets, reference checks and retests with them */
export async function simulatedTravellers(units = SIMULATED): Promise<readonly Traveller[]> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-simulated-"));
  try {
    execFileSync(
      process.execPath,
      [PROGRAM, "run", "--simulate", "--units", String(units), "--records", folder],
      { stdio: "ignore" },
    );
    return (await listRecords(folder)).map(({ path }) => asWritten(readFileSync(join(folder, path), "utf8")));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** With its members in the order of the file, so that what is written of it anew is in canonical order as well. */
function asWritten(text: string): Traveller {
  const content = JSON.parse(text);
  Traveller.parse(content);
  return content;
}

/**
 * Writes travellers as a station would have, without its syncs: canonical, chained, in days. Each round of the given ones is
 * another round of units: serials, times, numbers and hashes are its own, all else is theirs.
 * @returns the number of travellers written
 */
export function writeCopies(folder: string, originals: readonly Traveller[], count: number): number {
  let previous: string | null = null;
  let made = "";
  for (let at = 0; at < count; at++) {
    const original = originals[at % originals.length];
    if (original === undefined) throw new RangeError("There is nothing to copy.");
    const round = Math.floor(at / originals.length);
    const sequence = at + 1;
    const moved_ms = EACH_MS * at - (Date.parse(original.started_at) - Date.UTC(2026, 0, 5, 6));
    const moved = (instant: string) => new Date(Date.parse(instant) + moved_ms).toISOString();
    const serial = round === 0 ? original.serial : `${original.serial}-${round}`;
    const traveller = {
      ...original,
      id: sequence.toString(16).padStart(32, "0"),
      serial,
      started_at: moved(original.started_at),
      ended_at: original.ended_at === null ? null : moved(original.ended_at),
      chain: { previous, sequence },
    };
    const text = JSON.stringify(traveller);
    previous = sha256Hex(text);
    const path = join(folder, travellerPath({ ...traveller, sequence, attempt: original.attempt.number }));
    if (dirname(path) !== made) mkdirSync(dirname(path), { recursive: true });
    made = dirname(path);
    writeFileSync(path, text);
  }
  return count;
}
