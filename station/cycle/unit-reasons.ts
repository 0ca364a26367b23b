import { DriverError } from "../../drivers/ports.ts";
import type { Reason } from "./reason.ts";

export const ABORTED: Reason = { code: "ABORTED", sentence: "The test was aborted by the inspector." };
/** By a signal, a terminal or output that went away, or somebody who left the screen. */
export const PROGRAM_STOPPED: Reason = {
  code: "PROGRAM_STOPPED",
  sentence: "The program was stopped during the test. Test the unit again.",
};
export const GUARD_OPENED: Reason = {
  code: "GUARD_OPENED",
  sentence: "The guard was opened during the test. Close it and test the unit again.",
};
export const VENT_NOT_COMPLETED: Reason = {
  code: "VENT_NOT_COMPLETED",
  sentence:
    "The fixture did not vent, or the leak gauge's zero has moved. Keep the guard closed, vent by hand by the local procedure, then acknowledge.",
};
export const MOTOR_STILL_RUNNING: Reason = {
  code: "MOTOR_STILL_RUNNING",
  sentence:
    "The motor still draws power after it was switched off. Isolate the mains by the local procedure and have the contactor checked.",
};
/** The program is about to end: safe outputs stand commanded, and nobody waits to see what they did. */
export const SAFE_NOT_SEEN: Reason = {
  code: "SAFE_NOT_SEEN",
  sentence:
    "The program ended before the fixture was seen vented and the motor standing. Keep the guard closed until the gauge shows no pressure and the motor stands.",
};
export const AIRFLOW_SILENT: Reason = {
  code: "PHASE_SILENT",
  sentence:
    "Suction, flow or input power stopped being read. Check those gauges' cables and supply, then acknowledge.",
};

export const PHASE_SILENT: Reason = {
  code: "PHASE_SILENT",
  sentence: "The leak gauge stopped sending readings. Check its cable and supply, then acknowledge.",
};

export const SOURCE_SILENT: Reason = {
  code: "PHASE_SILENT",
  sentence: "The source gauge sends no readings. Check its cable and supply, then acknowledge.",
};

export const PRESSURES_SILENT: Reason = {
  code: "PHASE_SILENT",
  sentence:
    "Leak gauge or source gauge stopped sending readings. Check their cables and supply, then acknowledge.",
};

/** The errors of drivers and fixture name the instrument and say what to do themselves. */
export function instrumentFault(error: unknown): Reason {
  return { code: "INSTRUMENT_FAULT", sentence: messageOf(error), ...instrumentOf(error) };
}

/** @param known what is told of the attempt already: an instrument's own sentence is not said again */
export function outputFault(error: unknown, known: readonly Reason[] = []): Reason {
  const why = messageOf(error);
  const isTold = known.some(({ sentence }) => sentence.includes(why));
  return {
    code: "OUTPUT_FAULT",
    sentence: `The I/O block did not confirm its outputs${isTold ? "." : `: ${why}`} Treat the fixture as live, make it safe by hand by the local procedure, then acknowledge.`,
    ...instrumentOf(error),
  };
}

/**
 * An instrument that is gone says so to everybody who asks, a vent that stays shut twice; and an output fault tells what
 * its block said.
 */
export function isKnown(reason: Reason, reasons: readonly Reason[]): boolean {
  return reasons.some(
    ({ code, sentence }) =>
      (code === reason.code && sentence === reason.sentence) ||
      (code === "OUTPUT_FAULT" && reason.code === "INSTRUMENT_FAULT" && sentence.includes(reason.sentence)),
  );
}

function instrumentOf(error: unknown): Pick<Reason, "instrument"> {
  return error instanceof DriverError ? { instrument: error.instrument } : {};
}

function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
