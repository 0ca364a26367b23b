import type { StationController } from "./controller.ts";
import type { Scan } from "./cycle/station-machine.ts";
import type { Reporter, Tally } from "./report.ts";
import type { OneByOne } from "./test-one.ts";

/**
 * A scanned line: the serial, then tracked parts as name=value, separated by blanks.
 * @returns null for an empty line
 * @example parseScan("POD000123 tub_cavity=2") // { serial: "POD000123", parts: { tub_cavity: "2" } }
 */
export function parseScan(line: string): Scan | null {
  const [serial, ...rest] = line.trim().split(/\s+/);
  if (!serial) return null;
  const parts = rest.map((part) => {
    const at = part.indexOf("=");
    return at < 0 ? ([part, ""] as const) : ([part.slice(0, at), part.slice(at + 1)] as const);
  });
  return { serial, parts: Object.fromEntries(parts) };
}

/** Hears the station and tells the reporter and the tally. */
export function reportOn(station: StationController, reporter: Reporter, tally: Tally): void {
  station.listen({
    phase: (attempt, phase) => reporter.phase(attempt.serial, phase),
    refused: (serial, reasons) => {
      tally.refused++;
      reporter.refused(serial, reasons);
    },
    finished: (finished) => {
      if (finished.attempt.reference) return reporter.reference(finished);
      tally.add(finished);
      reporter.unit(finished);
    },
    faulted: (reasons) => {
      tally.faults++;
      reporter.faulted(reasons);
    },
  });
}

/** Tests one scan after the other until they end or somebody stops. */
export async function runScans(
  one: OneByOne,
  scans: AsyncIterable<Scan> | Iterable<Scan>,
  stop: AbortSignal,
): Promise<void> {
  for await (const scan of scans) {
    if (stop.aborted) return;
    await one.test(scan);
    if (stop.aborted) return;
  }
}
