import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/scan.ts";
import { isKnown } from "./cycle/unit-reasons.ts";
import { makeSafeOnCrash } from "./last-resort.ts";
import { OutputLost } from "./lost-output.ts";
import type { SignedIn } from "./people/person.ts";
import { EventReporter, LineReporter, type Reporter, Tally } from "./report.ts";
import { stopOnSignal } from "./stop-on-signal.ts";
import { stopWords } from "./stop-words.ts";
import { OneByOne } from "./test-one.ts";
import type { RunningStation } from "./wiring.ts";

export interface HeadlessRun {
  readonly running: RunningStation;
  readonly recordsFolder: string;
  /** @param refused to be told of a line that is no unit's and was refused */
  readonly scans: (
    stop: AbortSignal,
    refused: (reason: Reason) => void,
  ) => AsyncIterable<Scan> | Iterable<Scan>;
  /** Null: nobody is signed in to begin with. */
  readonly who: SignedIn | null;
  readonly startsByButton: boolean;
  readonly asEvents: boolean;
  /** Lets virtual time run meanwhile; in real time it only waits. */
  readonly runUntil: <T>(happened: Promise<T>) => Promise<T>;
}

/**
 * A shift without a screen: one scan after the other, a line or an event for each, a summary at the end.
 * @returns whether every scan was tested and nothing stopped the station
 * @throws OutputLost when a line could not be written: nobody hears the verdicts any more, so the shift has ended
 */
export async function runHeadless(run: HeadlessRun): Promise<boolean> {
  const { station, interrupted } = run.running;
  const stop = stopOnSignal(() => station.abortForStop());
  const isUnheard = () => stop.reason instanceof OutputLost;
  const unheard: Reason[] = [];
  const write = (text: string) => {
    if (!isUnheard()) process.stdout.write(text);
  };
  const reporter: Reporter = run.asEvents ? new EventReporter(write) : new LineReporter(write);
  const tally = new Tally();
  const stopWatching = makeSafeOnCrash(() => station.makeSafe());
  try {
    for (const sentence of [...run.running.passedOver, ...run.running.unseen])
      process.stderr.write(`${sentence}\n`);
    reporter.interrupted(interrupted);
    for (const disposition of run.running.held) reporter.held(disposition);
    const refused = reportOn(run.running, reporter, tally);
    station.listen({ faulted: (reasons) => isUnheard() && unheard.push(...reasons) });
    if (run.who) station.signIn(run.who);
    const study = station.study();
    if (study) {
      tally.studied = 0;
      reporter.study(study);
    }
    const one = new OneByOne(station, { startsByButton: run.startsByButton, stop });
    const scans = run.scans(stop, (reason) => refused("", [reason]));
    await run.runUntil(testAll(one, scans, stop));
  } finally {
    await run.running.close();
    stopWatching();
  }
  if (stop.reason instanceof OutputLost) {
    throw endedUnheard(stop.reason, unheard, station.areOutputsSafe(), run.recordsFolder);
  }
  reporter.summary(tally, run.recordsFolder);
  return tally.refused + tally.faults === 0 && !stop.aborted;
}

/** What the summary would have said of the end, for standard error. */
function endedUnheard(
  { cause }: OutputLost,
  faults: readonly Reason[],
  areOutputsSafe: boolean,
  recordsFolder: string,
): OutputLost {
  const { what } = stopWords(
    faults.map(({ code }) => code),
    areOutputsSafe,
  );
  const unit =
    faults.length === 0
      ? "A unit that was under test is recorded."
      : faults.map(({ sentence }) => sentence).join(" ");
  return new OutputLost(cause, `The shift was ended, ${what}. ${unit} Travellers in ${recordsFolder}`);
}

/** Ends early where nobody who scans here may acknowledge what stopped the station. */
async function testAll(
  one: OneByOne,
  scans: AsyncIterable<Scan> | Iterable<Scan>,
  stop: AbortSignal,
): Promise<void> {
  for await (const scan of scans) {
    if (stop.aborted) return;
    const tested = await one.test(scan);
    if (stop.aborted || tested.kind === "stopped") return;
  }
}

/** @returns what a refusal is told to */
function reportOn(
  { station }: RunningStation,
  reporter: Reporter,
  tally: Tally,
): (serial: string, reasons: readonly Reason[]) => void {
  const refused = (serial: string, reasons: readonly Reason[]) => {
    tally.refused++;
    reporter.refused(serial, reasons);
  };
  let faults: readonly Reason[] = [];
  station.listen({
    signedIn: (who) => reporter.signedIn(who),
    signedOut: (who) => reporter.signedOut(who),
    phase: (attempt, _, progress) => reporter.phase(attempt.serial, progress),
    refused,
    finished: (finished) => {
      const { reference, study } = finished.attempt;
      if (study || !reference) tally.add(finished);
      if (reference) reporter.reference(finished);
      else reporter.unit(finished);
      const now = station.study();
      if (now) reporter.study(now);
    },
    held: (disposition) => reporter.held(disposition),
    warned: (sentence) => reporter.warned(sentence),
    drifting: (warnings) => reporter.drifting(warnings),
    faulted: (reasons) => {
      tally.faults++;
      const news = reasons.filter((reason) => !isKnown(reason, faults));
      reporter.faulted(news, station.areOutputsSafe());
      faults = reasons;
    },
    recovered: () => {
      faults = [];
    },
  });
  return refused;
}
