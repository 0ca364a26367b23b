import type { Scan } from "./cycle/station-machine.ts";
import { makeSafeOnCrash } from "./last-resort.ts";
import { EventReporter, LineReporter, type Reporter, Tally } from "./report.ts";
import { stopOnSignal } from "./stop-on-signal.ts";
import { OneByOne } from "./test-one.ts";
import type { RunningStation } from "./wiring.ts";

export interface HeadlessRun {
  readonly running: RunningStation;
  readonly recordsFolder: string;
  readonly scans: (stop: AbortSignal) => AsyncIterable<Scan> | Iterable<Scan>;
  readonly inspector: string | null;
  readonly startsByButton: boolean;
  readonly asEvents: boolean;
  /** Lets virtual time run meanwhile; in real time it only waits. */
  readonly runUntil: <T>(happened: Promise<T>) => Promise<T>;
}

/**
 * A shift without a screen: one scan after the other, a line or an event for each, a summary at the end.
 * @returns whether every scan was tested and nothing stopped the station
 */
export async function runHeadless(run: HeadlessRun): Promise<boolean> {
  const { station, interrupted } = run.running;
  const write = (text: string) => {
    process.stdout.write(text);
  };
  const reporter: Reporter = run.asEvents ? new EventReporter(write) : new LineReporter(write);
  const tally = new Tally();
  const stop = stopOnSignal(() => station.abort());
  const stopWatching = makeSafeOnCrash(() => station.makeSafe());
  try {
    reporter.interrupted(interrupted);
    reportOn(run.running, reporter, tally);
    station.signIn(run.inspector);
    const one = new OneByOne(station, { startsByButton: run.startsByButton });
    await run.runUntil(testAll(one, run.scans(stop), stop));
  } finally {
    await run.running.close();
    stopWatching();
  }
  reporter.summary(tally, run.recordsFolder);
  return tally.refused + tally.faults === 0 && !stop.aborted;
}

async function testAll(
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

function reportOn({ station }: RunningStation, reporter: Reporter, tally: Tally): void {
  station.listen({
    phase: (attempt, phase) => reporter.phase(attempt.serial, phase),
    refused: (serial, reasons) => {
      tally.refused++;
      reporter.refused(serial, reasons);
    },
    finished: (finished) => {
      if (finished.attempt.reference) {
        reporter.reference(finished);
        return;
      }
      tally.add(finished);
      reporter.unit(finished);
    },
    faulted: (reasons) => {
      tally.faults++;
      reporter.faulted(reasons);
    },
  });
}
