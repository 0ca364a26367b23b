import { afterEach, expect } from "vitest";
import { SignIn } from "../../station/people/sign-in.ts";
import { Tally } from "../../station/report.ts";
import { Desk } from "../../station/screen/desk.ts";
import type { ScreenState } from "../../station/screen/screen-state.ts";
import { SimulatedLine } from "../../station/screen/simulated-line.ts";
import { openSimulatedStation, type SimulatedStation } from "../../station/wiring.ts";
import { stationWithFlowFrom } from "../journeys/flow-station.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { keyOf } from "./press-keys.ts";

const open: { desk: Desk; simulated: SimulatedStation }[] = [];

afterEach(async () => {
  for (const { desk, simulated } of open.splice(0)) {
    desk.close();
    await simulated.close();
  }
});

export interface BenchOptions {
  /** Changes to the demo's station file. */
  readonly also?: (text: string) => string;
  readonly records?: string;
  readonly inspector?: string;
}

/** A simulated station with its screen's desk, on virtual time, before anything was pressed. */
export async function deskOf({ also, records, inspector }: BenchOptions = {}) {
  const folder = records ?? scratchFolder();
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    recordsFolder: folder,
    allowDrafts: false,
    onlyModel: "POD-4",
    ...(also ? { stationPath: stationWithFlowFrom("a flow gauge", also) } : {}),
  });
  const { station, clock, file, models, outsideTime } = simulated;
  const tally = new Tally();
  const line = new SimulatedLine(simulated);
  const people = file.signIn.kind === "people" ? new SignIn({ settings: file.signIn, clock }) : null;
  const desk = new Desk({
    station,
    clock,
    file,
    models,
    allowDrafts: false,
    tally,
    line,
    ...(inspector === undefined ? {} : { inspector }),
    ...(people
      ? {
          // Hashes take the world's time, not the plant's.
          signIn: {
            problem: () => outsideTime(() => people.problem()),
            byBadge: (badge) => outsideTime(() => people.byBadge(badge)),
            byPin: (name, pin) => outsideTime(() => people.byPin(name, pin)),
          },
        }
      : {}),
  });
  open.push({ desk, simulated });
  const until = (shows: (state: ScreenState) => boolean) =>
    simulated.runUntil(
      new Promise<ScreenState>((resolve) => {
        const look = () => {
          if (shows(desk.state)) resolve(desk.state);
        };
        desk.watch(look);
        look();
      }),
    );
  return {
    folder,
    desk,
    simulated,
    /** Keys by their names, everything else typed. */
    press: (...keys: readonly string[]) => {
      for (const key of keys) desk.key(keyOf(key));
    },
    /** Lets time run until the screen shows this. */
    until,
    pass_s: (seconds: number) =>
      simulated.runUntil(
        new Promise<void>((resolve) => void clock.setTimeout(() => resolve(), seconds * 1000)),
      ),
  };
}

export type Bench = Awaited<ReturnType<typeof deskOf>>;

export const isArmed = ({ machine }: ScreenState) => machine === "armed";
export const hasVerdict = ({ result, machine }: ScreenState) =>
  result?.kind === "verdict" && ["ready", "needsReference", "faulted"].includes(machine);

/** With the cautions read, at a station without sign-in. */
export async function deskOfDemoStation(options: BenchOptions = {}): Promise<Bench> {
  const bench = await deskOf(options);
  bench.press("enter");
  return bench;
}

/** Tests every reference piece that is due, as the screen leads. */
export async function prove(bench: Bench): Promise<Bench> {
  for (;;) {
    const { reference } = bench.desk.state.observed;
    if (reference.kind !== "due") return bench;
    const [piece] = reference.pieces;
    bench.press("enter");
    const armed = await bench.until(isArmed);
    expect(armed.unit).toMatchObject({ serial: piece?.serial, isReference: true });
    bench.press("enter");
    await bench.until(hasVerdict);
  }
}
