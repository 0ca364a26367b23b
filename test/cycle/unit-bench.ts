import { createActor, fromCallback, fromPromise } from "xstate";
import type { Levels } from "../../drivers/ports.ts";
import { loadLimitFile } from "../../limits/limit-file.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { NOT_CALIBRATED, type PreparedAttempt } from "../../station/cycle/attempt.ts";
import type { UnitEvent, UnitEvidence, UnitInput, UnitOutput } from "../../station/cycle/unit-context.ts";
import { unitMachine } from "../../station/cycle/unit-machine.ts";
import type { ValveTrial } from "../../station/cycle/valve-findings.ts";
import type { Observation, Outcome } from "../../station/cycle/watchers.ts";
import { NOBODY } from "../../station/people/person.ts";

export const pod: ModelLimits = loadLimitFile("limits/models/pod-4.yaml");

export function attemptOn(limits: ModelLimits): PreparedAttempt {
  return {
    serial: limits.serialExample,
    parts: {},
    limits,
    number: 1,
    kind: "first",
    isDraft: false,
    approvedBy: "somebody",
    who: NOBODY,
    missingParts: [],
    retestReasons: [],
    retestReason: null,
    calibration: NOT_CALIBRATED,
    reference: null,
  };
}

const flat = { t_us: [0, 20_000, 40_000], pressure_mPa: [5_000_000, 5_000_000, 5_000_000] };
const twice = (value: number) => ({ t_s: [1, 1.1], values: [value, value] });
const airflow = {
  since_s: 0,
  suction_Pa: twice(1),
  flow_m3_s: twice(1),
  drop_Pa: { t_s: [], values: [] },
  power_W: twice(1),
  voltage_V: twice(230),
};

/** A source of this pressure, and a body that it can't reach. */
export function valvesShut(source_Pa = 5_150): ValveTrial {
  return { source_Pa: Array<number>(3).fill(source_Pa), body_Pa_s: 1, uncertainty_Pa_s: 30 };
}

/** What each observation waits for, as it comes true on a fixture in order. */
function fulfilled(observation: Observation, now_s: number): Outcome {
  if (observation.watch === "valve_trial") return { kind: "valve_trial", trial: valvesShut() };
  if (observation.watch === "pressure") return { kind: "pressure", pressure_Pa: 1 };
  if (observation.watch === "comparison") {
    return { kind: "comparison", compared: { leak_Pa: 5_148, source_Pa: 5_150, rate_Pa_s: 4 } };
  }
  if (observation.watch === "fill") {
    return { kind: "fill", fill: { end: "reached", rise_s: 3.7, pressure_Pa: 4_860, source_Pa: 5_140 } };
  }
  if (observation.watch === "curve") return { kind: "curve", curve: flat };
  if (observation.watch === "run_up") return { kind: "run_up", readings: [] };
  if (observation.watch === "point") return { kind: "steady", samples: airflow };
  if (observation.watch === "vented") return { kind: "vented", at_s: now_s + 0.4 };
  return { kind: "reached" };
}

export interface UnitBench {
  readonly clock: VirtualClock;
  /** Every set of levels commanded, in order. */
  readonly commands: Levels[];
  readonly recorded: UnitEvidence[];
  send(event: UnitEvent): void;
  /** The phase whose observation is open, like "leak.fill", or that waits for its command, like "airflow.hold.commanding". */
  phase(): string;
  /** What is being watched for. */
  observed(): Observation;
  /** Lets the open observation come true, with another outcome than usual if one is given. */
  fulfil(outcome?: Outcome): Promise<void>;
  /** Fulfils until this phase is reached. */
  reach(phase: string): Promise<void>;
  /** Lets time pass until the attempt has ended. */
  end(): Promise<UnitOutput>;
}

export interface BenchFaults {
  readonly begin?: Error;
  readonly record?: Error;
  readonly command?: (levels: Levels) => Error | undefined;
  /** When the I/O block confirms the levels; at once, where absent. */
  readonly confirmed?: (levels: Levels) => Promise<void>;
  readonly stepConforms?: boolean;
  /** Of the leak gauge, when a test is broken off. */
  readonly newestPressure_Pa?: number;
  /** The unit before, whose motor did not start. */
  readonly motorStoodStill?: string;
}

export interface BenchAttempt {
  readonly attempt?: PreparedAttempt;
  readonly newLook?: UnitInput["newLook"];
}

/** The unit machine on a fixture whose readings the test decides. */
export async function unitBench(
  faults: BenchFaults = {},
  { attempt = attemptOn(pod), newLook = () => null }: BenchAttempt = {},
): Promise<UnitBench> {
  const clock = new VirtualClock();
  const commands: Levels[] = [];
  const recorded: UnitEvidence[] = [];
  let open: { observation: Observation; sendBack: (event: UnitEvent) => void } | null = null;
  const actor = createActor(
    unitMachine.provide({
      actors: {
        begin: fromPromise(async () => {
          if (faults.begin) throw faults.begin;
        }),
        readAmbient: fromPromise(async () => ({
          temperature_K: 293.15,
          pressure_Pa: 101_325,
          relativeHumidity: 0.5,
        })),
        command: fromPromise(async ({ input }) => {
          const fault = faults.command?.(input);
          if (fault) throw fault;
          await faults.confirmed?.(input);
          commands.push(input);
        }),
        observe: fromCallback(({ input, sendBack }) => {
          const mine = { observation: input, sendBack };
          open = mine;
          return () => {
            if (open === mine) open = null;
          };
        }),
        record: fromPromise(async ({ input }) => {
          if (faults.record) throw faults.record;
          recorded.push(input.evidence);
          return { path: "somewhere.json", sha256: "00" };
        }),
      },
    }),
    {
      clock,
      input: {
        attempt,
        clock,
        orificeOutputs: new Map([
          ["closed", null],
          ["working", "orifice_1"],
          ["open", "orifice_2"],
        ]),
        stepConforms: () => faults.stepConforms ?? true,
        newLook,
        newestPressure_Pa: () => faults.newestPressure_Pa ?? 0,
        motorStoodStill: () => faults.motorStoodStill ?? null,
        scatterFloor: () => 0,
        gaugeUncertainty: () => 10,
        flowChannel: "flow",
      },
    },
  );
  const ended = new Promise<UnitOutput>((resolve, reject) => {
    actor.subscribe({ complete: () => resolve(actor.getSnapshot().output as UnitOutput), error: reject });
  });
  actor.start();
  await clock.advance_s(0);

  const bench: UnitBench = {
    clock,
    commands,
    recorded,
    send: (event) => actor.send(event),
    phase: () => pathOf(actor.getSnapshot().value),
    observed() {
      if (!open) throw new Error(`Nothing is observed in ${bench.phase()}.`);
      return open.observation;
    },
    async fulfil(outcome = fulfilled(bench.observed(), clock.now_s())) {
      open?.sendBack({ type: "OUTCOME", outcome });
      await clock.advance_s(0);
    },
    async reach(phase) {
      for (let moves = 0; bench.phase() !== phase; moves++) {
        if (moves > 20) throw new Error(`${phase} was not reached, but ${bench.phase()}.`);
        await bench.fulfil();
      }
    },
    end: () => clock.runUntil(ended),
  };
  return bench;
}

function pathOf(value: unknown): string {
  if (typeof value === "string") return value;
  const [entry] = Object.entries(value as object);
  if (!entry) return "";
  if (entry[0] === "testing") return pathOf(entry[1]);
  return `${entry[0]}.${pathOf(entry[1])}`.replace(/\.watching$/, "");
}
