import type { Victim } from "../kills/victim.ts";
import { VictimStation } from "../kills/victim-station.ts";
import { aside, atMost, type Bench, median } from "./figure.ts";

const SIGNALS = ["SIGTERM", "SIGINT", "SIGHUP"] as const;
/** Seconds into the phase: where it is at its most awkward, pressure high or motor fast. */
const PHASES: readonly (readonly [string, number])[] = [
  ["opening", 0],
  ["ambient", 0],
  ["fill", 0.8],
  ["settle", 0.1],
  ["measure", 0.6],
  ["vent", 0.05],
  ["run_up", 0.8],
  ["hold", 0.3],
  ["coast", 0.05],
  ["recording", 0],
];
/** Bad days on which nobody could wait for pressure or motor to go. */
const BAD_DAYS: readonly (readonly [string, string, string])[] = [
  ["measure", "io_block", "vent_stuck_closed"],
  ["hold", "io_block", "contactor_welded"],
  ["measure", "leak_gauge", "silent"],
  ["hold", "power_meter", "silent"],
  ["fill", "io_block", "silent"],
  ["hold", "io_block", "unplugged"],
];
const END_WITHIN_s = 2;

interface Stopped {
  readonly took_s: number;
  /** Void for having been stopped, or the verdict of a unit that was being recorded already. */
  readonly isRecorded: boolean;
  readonly areSafe: boolean;
}

/**
 * How long the station takes to end when it is told to: `drumtight run` on served instruments, without a screen, told by
 * SIGTERM, SIGINT and SIGHUP in every phase of a unit, and by SIGTERM on bad days of the fixture and the instruments.
 * From the signal to the end of the process. Every one of them has to end with the attempt recorded and the outputs safe
 * at the I/O block; on a bad day of the block itself, once its watchdog has had its second.
 */
export const stop: Bench = async () => {
  const lanes = await Promise.all([...SIGNALS.map(inEveryPhase), onBadDays()]);
  const all = lanes.flatMap(({ stopped }) => stopped);
  const lost = all.filter(({ isRecorded }) => !isRecorded).length;
  const live = all.filter(({ areSafe }) => !areSafe).length;
  return [
    ...lanes.map(({ name, stopped }) => {
      const took_s = stopped.map((it) => it.took_s);
      return atMost(1, {
        figure: `${name}, longest to the end`,
        value: Math.max(...took_s),
        unit: "s",
        against: `${END_WITHIN_s} s; ${stopped.length} times, median ${median(took_s).toFixed(2)} s`,
        ratio: Math.max(...took_s) / END_WITHIN_s,
      });
    }),
    atMost(0, { figure: "attempts not recorded", value: lost, unit: "", against: "none", ratio: lost }),
    atMost(0, { figure: "left with outputs live", value: live, unit: "", against: "none", ratio: live }),
    aside({ figure: "stops", value: all.length, unit: "", against: "all of the above" }),
  ];
};

async function inEveryPhase(signal: NodeJS.Signals) {
  const station = await VictimStation.served(5, "tcp", 0);
  const stopped: Stopped[] = [];
  for (const [at, [phase, after_s]] of PHASES.entries()) {
    stopped.push(await stopOnce(station, at, signal, phase, after_s));
  }
  await station.close();
  return { name: `${signal} in each of ${PHASES.length} phases`, stopped };
}

async function onBadDays() {
  const station = await VictimStation.served(5, "pty", 0);
  const stopped: Stopped[] = [];
  for (const [at, [phase, instrument, day]] of BAD_DAYS.entries()) {
    const begin = () => station.badDay(instrument, day);
    stopped.push(await stopOnce(station, at, "SIGTERM", phase, 0.3, begin));
    await station.badDay(instrument, "none");
  }
  await station.close();
  return { name: `SIGTERM on each of ${BAD_DAYS.length} bad days`, stopped };
}

async function stopOnce(
  station: VictimStation,
  number: number,
  signal: NodeJS.Signals,
  phase: string,
  after_s: number,
  badDay?: () => Promise<void>,
): Promise<Stopped> {
  await station.mountNext();
  const run = station.start();
  const serial = `POD${100_000 + number}`;
  run.type(serial);
  const came = await run.unlessEnded(
    run.heard((told) => told.event === "unit" || (told.event === "phase" && told.phase === phase)),
  );
  if (came.event === "unit") throw new Error(`${serial} ended without ${phase}: ${JSON.stringify(came)}`);
  await badDay?.();
  await pause(after_s);
  const from_ms = performance.now();
  run.signal(signal);
  await run.ended;
  const took_s = (performance.now() - from_ms) / 1000;
  const watchdog_s = 1.2;
  if (!(await station.areOutputsSafe())) await pause(watchdog_s);
  return { took_s, isRecorded: isRecorded(run, serial), areSafe: await station.areOutputsSafe() };
}

function isRecorded({ told }: Victim, serial: string): boolean {
  return told.some((it) => it.event === "unit" && it.serial === serial && it.traveller !== undefined);
}

function pause(s: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, s * 1000));
}
