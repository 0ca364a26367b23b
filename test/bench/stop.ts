import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { listRecords, OPEN_FOLDER } from "../../station/records/record-name.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { VictimStation } from "../kills/victim-station.ts";
import { aside, atMost, type Bench, median } from "./figure.ts";
import { Terminal } from "./terminal.ts";

type Signal = "SIGTERM" | "SIGINT" | "SIGHUP";

/** Where a unit is when the program is told to stop. */
interface When {
  readonly phase: string;
  /** Seconds into the phase: where it is at its most awkward, pressure high or motor fast. */
  readonly after_s: number;
  /** Of a keyboard, in a terminal, or a signal. */
  readonly by: Signal | "Ctrl-C";
  /** An instrument and what ails it from then on. */
  readonly badDay?: readonly [string, string];
}

const HEADLESS: readonly When[] = [
  { phase: "opening", after_s: 0, by: "SIGTERM" },
  { phase: "ambient", after_s: 0, by: "SIGINT" },
  { phase: "fill", after_s: 0.8, by: "SIGHUP" },
  { phase: "settle", after_s: 0.1, by: "SIGTERM" },
  { phase: "measure", after_s: 0.6, by: "SIGINT" },
  { phase: "vent", after_s: 0.05, by: "SIGHUP" },
  { phase: "run_up", after_s: 0.8, by: "SIGTERM" },
  { phase: "hold", after_s: 0.3, by: "SIGINT" },
  { phase: "coast", after_s: 0.05, by: "SIGHUP" },
  { phase: "recording", after_s: 0, by: "SIGTERM" },
  // Nobody can wait for pressure or motor to go.
  { phase: "measure", after_s: 0.3, by: "SIGTERM", badDay: ["io_block", "vent_stuck_closed"] },
  { phase: "hold", after_s: 0.3, by: "SIGINT", badDay: ["io_block", "silent"] },
];
const SERIAL: readonly When[] = [
  { phase: "measure", after_s: 0.6, by: "SIGTERM" },
  { phase: "hold", after_s: 0.3, by: "SIGINT" },
];
/** The phases as the screen's list has them, those that are there for longer than a frame. */
const SCREEN: readonly When[] = [
  { phase: "fill", after_s: 0.8, by: "SIGHUP" },
  { phase: "measure", after_s: 0.6, by: "SIGTERM" },
  { phase: "run-up", after_s: 0.8, by: "SIGINT" },
  { phase: "working", after_s: 0.3, by: "Ctrl-C" },
  { phase: "coast", after_s: 0.05, by: "SIGTERM" },
  { phase: "working", after_s: 0.3, by: "SIGTERM", badDay: ["io_block", "contactor_welded"] },
  { phase: "measure", after_s: 0.3, by: "SIGINT", badDay: ["leak_gauge", "silent"] },
];
const END_WITHIN_s = 2;
/** The simulated I/O block drops its outputs by itself when it has heard nothing for one second. */
const WATCHDOG_s = 1.2;
/** A unit whose record is being written when the signal comes keeps its verdict. */
const JUDGED = ["recording"];

/** A station that tests a unit: how it is told to stop, and its end. */
interface Running {
  readonly serial: string;
  /**
   * Empty; or what came first, where the station stopped by itself: on a busy machine an instrument's process may answer
   * too late.
   */
  readonly cameFirst: string;
  stop(by: When["by"]): void;
  readonly ended: Promise<unknown>;
}

const TRIES_MOST = 5;

interface Stopped {
  readonly took_s: number;
  /** What is not as it should be, a sentence each. */
  readonly notRecorded: readonly string[];
  readonly areSafe: boolean;
}

/**
 * How long the station takes to end when it is told to: `drumtight run` on served instruments, in every phase of a unit
 * without a screen, and in those that last on the screen; over TCP and over serial ports; by SIGTERM, SIGINT, SIGHUP, and Ctrl-C at the screen; and on bad
 * days of the fixture and the instruments. From the signal to the end of the process. Every one of them has to end with
 * the attempt in one traveller, nothing open, and the outputs safe at the I/O block; on a bad day of the block itself, once
 * its watchdog has had its second. Each is printed as it comes.
 */
export const stop: Bench = async () => {
  // Each closes its own plant, also where the other one could not go on.
  const settled = await Promise.allSettled([
    lane("without a screen", "tcp", HEADLESS, runHeadless),
    lane("on the screen", "tcp", SCREEN, runOnScreen),
    lane("over serial ports", "pty", SERIAL, runHeadless),
  ]);
  const lanes = settled.map((it) => {
    if (it.status === "rejected") throw it.reason;
    return it.value;
  });
  const all = lanes.flatMap(({ stopped }) => stopped);
  const lost = all.filter(({ notRecorded }) => notRecorded.length > 0).length;
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

type Run = (station: VictimStation, serial: string, phase: string) => Promise<Running>;

async function lane(name: string, over: "tcp" | "pty", all: readonly When[], run: Run) {
  const station = await VictimStation.served(5, over, 0);
  const stopped: Stopped[] = [];
  let units = 0;
  const serials = () => station.population.unitAt(units++).serial;
  try {
    for (const when of all) {
      const one = await stopOnce(station, serials, when, run);
      stopped.push(one);
      process.stderr.write(`${name}, ${inWords(when)}: ${outcome(one)}\n`);
    }
  } finally {
    await station.close();
  }
  return { name, stopped };
}

async function stopOnce(
  station: VictimStation,
  serials: () => string,
  when: When,
  run: Run,
): Promise<Stopped> {
  const { phase, after_s, by, badDay } = when;
  const running = await inPhase(station, serials, phase, run);
  if (badDay) await station.badDay(...badDay);
  await pause(after_s);
  const from_ms = performance.now();
  running.stop(by);
  await running.ended;
  const took_s = (performance.now() - from_ms) / 1000;
  if (badDay?.[0] === "io_block" && !(await station.areOutputsSafe())) await pause(WATCHDOG_s);
  const areSafe = await station.areOutputsSafe();
  if (badDay) await station.badDay(badDay[0], "none");
  return { took_s, notRecorded: await notRecorded(station.records, running.serial, phase), areSafe };
}

/** @throws Error where no unit comes so far */
async function inPhase(
  station: VictimStation,
  serials: () => string,
  phase: string,
  run: Run,
): Promise<Running> {
  for (let tries = 0; tries < TRIES_MOST; tries++) {
    const serial = serials();
    await station.mount(serial);
    const running = await run(station, serial, phase);
    if (running.cameFirst === "") return running;
    process.stderr.write(`${serial} did not come to ${phase}, another one is tried: ${running.cameFirst}\n`);
    running.stop("SIGTERM");
    await running.ended;
  }
  throw new Error(`No unit came to ${phase}: the machine is too busy, or the station does not test.`);
}

async function runHeadless(station: VictimStation, serial: string, phase: string): Promise<Running> {
  const run = station.start();
  run.type(serial);
  const came = await Promise.race([
    run.ended,
    run.heard(
      (told) =>
        ["unit", "refused", "fault"].includes(told.event) || (told.event === "phase" && told.phase === phase),
    ),
  ]);
  return {
    serial,
    cameFirst: "event" in came && came.event === "phase" ? "" : JSON.stringify(came),
    stop: (by) => run.signal(by === "Ctrl-C" ? "SIGINT" : by),
    ended: run.ended,
  };
}

async function runOnScreen(station: VictimStation, serial: string, phase: string): Promise<Running> {
  const terminal = new Terminal(["run", "--station", station.stationFile, "--draft"], { columns: 100 });
  const stop = (by: When["by"]) => (by === "Ctrl-C" ? terminal.type("\x03") : terminal.signal(by));
  let cameFirst = "";
  for (const [shown, keys] of [
    ["Today: ", "\r"],
    ["scan it.", `${serial}\r`],
    ["hands clear", "\r"],
    [`[${phase}]`, ""],
  ] as const) {
    // It ends by itself where an instrument's process does not answer at the start.
    const came = await terminal.waitForOne([shown, "STOPPED"]).catch((error: Error) => error.message);
    if (came !== shown) {
      cameFirst = `${came}, before ${shown}`;
      break;
    }
    terminal.type(keys);
  }
  return { serial, cameFirst, stop, ended: terminal.ended };
}

/** Void for having been stopped; or what it was judged, where that was being written. */
async function notRecorded(records: string, serial: string, phase: string): Promise<string[]> {
  const wrong: string[] = [];
  const travellers = (await listRecords(records))
    .map(({ path }) => Traveller.parse(JSON.parse(readFileSync(join(records, path), "utf8"))))
    .filter((traveller) => traveller.serial === serial);
  if (travellers.length !== 1) wrong.push(`${serial} has ${travellers.length} travellers, and not one`);
  for (const { verdict } of travellers) {
    if (verdict !== "void" && !JUDGED.includes(phase)) wrong.push(`it is ${verdict}`);
  }
  const open = readdirSync(join(records, OPEN_FOLDER)).filter((name) => name.endsWith(".json"));
  if (open.length > 0) wrong.push(`${open.join(", ")} is still open`);
  return wrong;
}

function inWords({ phase, by, badDay }: When): string {
  return `${by} in ${phase}${badDay ? `, ${badDay.join(" ")}` : ""}`;
}

function outcome({ took_s, notRecorded, areSafe }: Stopped): string {
  const recorded = notRecorded.length === 0 ? "recorded" : `NOT RECORDED: ${notRecorded.join(", ")}`;
  return `${took_s.toFixed(2)} s, ${recorded}, ${areSafe ? "safe" : "OUTPUTS LIVE"}`;
}

function pause(s: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, s * 1000));
}
