import type { Population } from "../../sim/population.ts";
import { randomStream } from "../../sim/random.ts";
import { Ledger, type Left } from "./ledger.ts";
import { drawMoment, type Moment, momentText } from "./moment.ts";
import type { Ending, Told, Victim } from "./victim.ts";
import { VictimStation } from "./victim-station.ts";

export interface LaneOptions {
  readonly seed: number;
  /** Lanes of a campaign run side by side, each with a plant and a records folder of its own. */
  readonly lane: number;
  readonly times: number;
  readonly over: "pty" | "tcp";
  /** Told after each kill. */
  readonly killed?: (kill: Kill) => void;
  /** Ends the lane after the kill that is under way. */
  readonly stop?: AbortSignal;
}

export interface Kill {
  readonly at: string;
  readonly kind: Moment["kind"];
  readonly left: Left;
  /** Units that were judged, pass or fail, before it died. */
  readonly judged: number;
  /** Whether outputs were live when it died. */
  readonly wasLive: boolean;
  /** Until the outputs were seen safe at the I/O block. */
  readonly safeAfter_s: number;
  readonly wrong: readonly string[];
}

export interface LaneResult {
  readonly kills: readonly Kill[];
  /** Beside those of single kills. */
  readonly wrong: readonly string[];
  readonly travellers: number;
  readonly interrupted: number;
  readonly verdicts: { readonly pass: number; readonly fail: number; readonly void: number };
}

const DEFECT_RATE = 0.2;
/** The simulated I/O block's watchdog, and what a busy machine may take to look. */
const SAFE_WITHIN_s = 1 + 1;
const NOT_REACHED = /did not answer .* within|sent nothing for/;
const LOOK_EVERY_ms = 40;
/** Far longer than two units, on an overloaded machine too: a victim that still lives then hangs. */
const LONGEST_ms = 300_000;
/** So often a station is started and ended in good order in between, and its index compared. */
const CLOSE_EVERY = 10;

/**
 * Kills one station after the other on the same records folder with SIGKILL, at moments drawn from the seed, and looks after
 * each at what it left.
 */
export async function killLane({ seed, lane, times, over, killed, stop }: LaneOptions): Promise<LaneResult> {
  const random = randomStream(seed, `kills, lane ${lane}`);
  const station = await VictimStation.served(seed + lane, over, DEFECT_RATE);
  const ledger = new Ledger(station);
  const serials = new Serials(station.population);
  const kills: Kill[] = [];
  const wrong: string[] = [];
  try {
    while (kills.length < times && !stop?.aborted) {
      const kill = await killOne(station, ledger, serials, drawMoment(random));
      if (kill) {
        kills.push(kill);
        killed?.(kill);
      }
      if (kill && kills.length % CLOSE_EVERY === 0) wrong.push(...(await closeWell(station, ledger)));
    }
    wrong.push(...(await closeWell(station, ledger)));
  } finally {
    await station.close();
  }
  const { travellers, interrupted, verdicts } = ledger;
  return { kills, wrong, travellers, interrupted, verdicts };
}

/** @returns null where the victim did not live to the moment: it came to its own end first */
async function killOne(
  station: VictimStation,
  ledger: Ledger,
  serials: Serials,
  moment: Moment,
): Promise<Kill | null> {
  const victim = station.start(moment.kind === "disk" ? moment.operation : undefined);
  const scanned = scanAll(station, victim, serials.next());
  const late = setTimeout(() => victim.signal("SIGABRT"), LONGEST_ms);
  await comes(victim, moment);
  victim.signal("SIGKILL");
  const ending = await victim.ended;
  await scanned;
  clearTimeout(late);
  const wrong: string[] = [];
  const wasLive = !(await station.areOutputsSafe());
  const safeAfter_s = await untilSafe(station);
  if (safeAfter_s > SAFE_WITHIN_s)
    wrong.push(`The outputs were live ${safeAfter_s.toFixed(2)} s after the kill.`);
  const { left, wrong: onDisk } = await ledger.look(victim.told);
  wrong.push(...onDisk);
  serials.seen(victim);
  if (ending.signal === "SIGABRT")
    wrong.push(`It hung; last it told: ${JSON.stringify(victim.told.at(-1))}.`);
  if (ending.signal === null && !endedWell(victim, ending)) {
    wrong.push(`It ended by itself with ${ending.code}: ${ending.stderr.trim()}`);
  }
  if (ending.signal !== "SIGKILL" && wrong.length === 0) return null;
  const judged = victim.told.filter(isJudged).length;
  return { at: momentText(moment), kind: moment.kind, left, judged, wasLive, safeAfter_s, wrong };
}

/** Scans again so often a unit whose scan was lost to a fault. */
const SCANS_MOST = 3;

/**
 * Puts each unit on before it is scanned, as an inspector does, until the victim has ended. A fault that comes between the
 * scan and the record of the attempt is all that is told of the scan: the next one acknowledges it.
 */
async function scanAll(station: VictimStation, victim: Victim, serials: readonly string[]): Promise<void> {
  for (const serial of serials) {
    for (let scans = 0; scans < SCANS_MOST; scans++) {
      await station.mount(serial);
      const answer = victim.next(
        (told) =>
          told.event === "fault" || (["unit", "refused"].includes(told.event) && told.serial === serial),
      );
      victim.type(serial);
      const told = await Promise.race([answer, victim.ended.then(() => null)]);
      if (told === null) return;
      if (told.event !== "fault") break;
    }
  }
  victim.endInput();
}

function isJudged({ event, verdict }: Told): boolean {
  return event === "unit" && (verdict === "pass" || verdict === "fail");
}

/**
 * It may be done, or asked to stop, before the kill; and on an overloaded machine an instrument's process may not answer in
 * time, so that nothing is started.
 */
function endedWell({ told }: Victim, { stderr }: Ending): boolean {
  if (told.some(({ event }) => event === "summary")) return true;
  return told.every(({ event }) => event === "interrupted") && NOT_REACHED.test(stderr);
}

/** Resolves when the moment has come, or the victim has ended. */
async function comes(victim: Victim, moment: Moment): Promise<void> {
  const { ended } = victim;
  if (moment.kind === "disk") return void (await ended);
  if (moment.kind === "start") return void (await Promise.race([pause(moment.after_s), ended]));
  const comes = victim.heard((told) =>
    moment.kind === "verdict" ? isJudged(told) : told.event === "phase" && told.phase === moment.phase,
  );
  await Promise.race([comes, ended]);
  if (moment.kind === "stopping") victim.signal("SIGTERM");
  await Promise.race([pause(moment.after_s), ended]);
}

async function untilSafe(station: VictimStation): Promise<number> {
  const start_ms = performance.now();
  const after_s = () => (performance.now() - start_ms) / 1000;
  while (!(await station.areOutputsSafe())) {
    if (after_s() > 5 * SAFE_WITHIN_s) break;
    await pause(LOOK_EVERY_ms / 1000);
  }
  return after_s();
}

/** Starts once more, with nothing to do: whatever was open is made void, and the program ends by itself. */
async function closeWell(station: VictimStation, ledger: Ledger): Promise<readonly string[]> {
  const run = station.start();
  run.endInput();
  const { code, stderr } = await run.ended;
  if (code === 2 && NOT_REACHED.test(stderr)) return closeWell(station, ledger);
  const wrong = code === 0 ? [] : [`A start with nothing to do ended with ${code}: ${stderr.trim()}`];
  const looked = await ledger.look(run.told);
  return [...wrong, ...looked.wrong, ...(await ledger.lookWhenClosed())];
}

function pause(s: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, s * 1000));
}

/** What is scanned, two units each time: first the one that was under test at the kill, as an inspector would. */
class Serials {
  readonly #population: Population;
  #next = 0;
  #again: string | null = null;

  constructor(population: Population) {
    this.#population = population;
  }

  next(): readonly string[] {
    return [this.#again ?? this.#fresh(), this.#fresh()];
  }

  seen({ told }: Victim): void {
    const last = told.findLast(({ event }) => ["phase", "unit", "refused"].includes(event));
    // One that is refused has used up its tests.
    this.#again = last?.event === "phase" ? String(last.serial) : null;
  }

  #fresh(): string {
    return this.#population.unitAt(this.#next++).serial;
  }
}
