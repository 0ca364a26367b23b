import { fromCallback, fromPromise } from "xstate";
import { flowChannelOf } from "./cycle/airflow-readings.ts";
import { lookAtLeak } from "./cycle/early-look.ts";
import { gaugeUncertaintyOf } from "./cycle/gauge-comparison.ts";
import { stepConforms } from "./cycle/judging.ts";
import type { Ambient, AttemptEvidence, Recorded, UnitInput } from "./cycle/unit-context.ts";
import { unitMachine } from "./cycle/unit-machine.ts";
import type { Fixture } from "./fixture.ts";
import type { StationFile } from "./station-file.ts";

/** What a unit's cycle goes by at this station, besides the attempt itself. */
export function unitRules(
  file: Pick<StationFile, "knowledge" | "orificeOutputs">,
  before: Pick<UnitInput, "newestPressure_Pa" | "motorStoodStill">,
): Omit<UnitInput, "attempt" | "clock"> {
  const { knowledge, orificeOutputs } = file;
  return {
    ...before,
    orificeOutputs,
    stepConforms: (attempt, evidence, step) => stepConforms(attempt, evidence, step, knowledge),
    newLook: (attempt, evidence, step) => lookAtLeak(attempt, evidence, step, knowledge),
    scatterFloor: (channel) => knowledge.channels.get(channel)?.absolute ?? 0,
    gaugeUncertainty: gaugeUncertaintyOf(knowledge),
    flowChannel: flowChannelOf(knowledge.flowFrom),
  };
}

export interface UnitWiring {
  readonly fixture: Pick<Fixture, "command" | "observe">;
  readonly begin: (attempt: AttemptEvidence) => Promise<void>;
  readonly readAmbient: () => Promise<Ambient>;
  readonly record: (attempt: AttemptEvidence) => Promise<Recorded>;
}

/** The unit's machine at a fixture. */
export function wiredUnit({ fixture, begin, readAmbient, record }: UnitWiring) {
  return unitMachine.provide({
    actors: {
      begin: fromPromise(({ input }) => begin(input)),
      readAmbient: fromPromise(() => readAmbient()),
      command: fromPromise(({ input }) => fixture.command(input)),
      observe: fromCallback(({ input, sendBack }) => fixture.observe(input, sendBack)),
      record: fromPromise(({ input }) => record(input)),
    },
  });
}
