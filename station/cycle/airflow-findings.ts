import type { Reason } from "./reason.ts";

/** What a phase with a running motor says against the unit (fail) or against the measurement (void). */
export interface AirflowFinding {
  readonly against: "unit" | "station";
  readonly reason: Reason;
}

const BEFORE_OPENING =
  "Have the unit unplugged and isolated from the mains by the local procedure before anybody opens it.";

const WORDS: Readonly<Record<string, string>> = {
  suction: "suction",
  flow: "flow",
  flow_drop: "pressure drop over the plate",
  power: "input power",
  voltage: "supply voltage",
};

function inWords(channel: string): string {
  return WORDS[channel] ?? channel.replaceAll("_", " ");
}

export const MOTOR_DID_NOT_START: AirflowFinding = {
  against: "unit",
  reason: {
    code: "MOTOR_DID_NOT_START",
    sentence: `The motor did not start although the supply is there: look at the plug in the station's socket, then at the unit's switch and motor. ${BEFORE_OPENING}`,
  },
};

/**
 * A finding as it stands beside the unit before: two units one after the other whose motors do not start point at what both
 * were plugged into.
 * @param before serial of the unit before, where its motor did not start either; else null
 */
export function besideTheUnitBefore(
  finding: AirflowFinding,
  serial: string,
  before: string | null,
): AirflowFinding {
  if (finding.reason.code !== "MOTOR_DID_NOT_START" || before === null || before === serial) return finding;
  return {
    against: "station",
    reason: {
      code: "NO_MOTOR_STARTS",
      sentence: `Two units in a row did not start, ${before} and this one: it may be the station. Have its motor contactor, fuse and socket checked by the local procedure, then acknowledge and test both units again.`,
    },
  };
}

/** Whether the motor was switched off for what it did. */
export function isOfMotor({ code }: Reason): boolean {
  return code === "MOTOR_DID_NOT_START" || code === "MOTOR_STAYS_SLOW" || code === "MOTOR_DRAWS_TOO_MUCH";
}

/** @param rising_Pa_s of the suction, when the time was over */
export function motorStaysSlow(longest_s: number, rising_Pa_s: number): AirflowFinding {
  return {
    against: "unit",
    reason: {
      code: "MOTOR_STAYS_SLOW",
      sentence: `The motor runs, but comes up slowly: ${longest_s} s after switching on the suction still rises by ${rising_Pa_s.toFixed(0)} Pa in a second. Look for a tight bearing, a rubbing fan or a worn brush. ${BEFORE_OPENING}`,
    },
  };
}

export function motorDrawsTooMuch(power_W: number, highest_W: number): AirflowFinding {
  return {
    against: "unit",
    reason: {
      code: "MOTOR_DRAWS_TOO_MUCH",
      sentence: `The motor draws ${power_W.toFixed(0)} W, a sound one never more than ${highest_W} W after its start: it was switched off. It may be hot. Look for a jammed fan or a shorted winding. ${BEFORE_OPENING}`,
    },
  };
}

export function gaugeStoodStill(channel: string): Reason {
  return {
    code: "GAUGE_FROZEN",
    sentence: `The reading of ${inWords(channel)} stood still and showed the same value time after time. Switch its gauge off and on, check it, then acknowledge.`,
  };
}

export function supplyOutOfTolerance(
  voltage_V: number,
  {
    supplyVoltage_V,
    supplyTolerance_V,
  }: { readonly supplyVoltage_V: number; readonly supplyTolerance_V: number },
): Reason {
  return {
    code: "SUPPLY_OUT_OF_TOLERANCE",
    sentence: `The mains supply is at ${voltage_V.toFixed(1)} V, allowed is ${supplyVoltage_V} V +- ${supplyTolerance_V} V. Have the supply checked, then test the unit again.`,
  };
}

/** Power meter and suction gauge contradict each other: one of them is wrong, and nothing is said of the unit. */
export const SUCTION_WITHOUT_POWER: AirflowFinding = {
  against: "station",
  reason: {
    code: "NOT_TRUSTED",
    sentence:
      "There is suction, but the power meter shows no motor running. Check that the unit is plugged into the metered socket, and the power meter, then test the unit again.",
  },
};

/** A hose that is off looks like the weakest of motors, so nothing is said of the unit. */
export function powerWithoutSuction(power_W: number, point?: string): AirflowFinding {
  const at = point === undefined ? "The" : `At ${point}: the`;
  return {
    against: "station",
    reason: {
      code: "NOT_TRUSTED",
      sentence: `${at} motor draws ${power_W.toFixed(0)} W, but no suction arrives at the plenum: see that the hose is on the unit and on the plenum, and the suction gauge's tube too, then test the unit again. If they are, look for a loose fan. ${BEFORE_OPENING}`,
    },
  };
}

/** @param channels those that moved too much */
export function notSteady(channels: readonly string[], longest_s: number, point?: string): AirflowFinding {
  return unsteady(
    point,
    `${listed(channels)} did not become steady within ${longest_s} s. Check hose and plug on the fixture, then test the unit again.`,
  );
}

/** Within its tolerance all the while: it is the change that suction and power follow. */
export function supplyDrifts(longest_s: number, point?: string): AirflowFinding {
  return unsteady(
    point,
    `the supply voltage drifts, and suction with it: neither was steady within ${longest_s} s. Have the supply checked, then test the unit again.`,
  );
}

export function motorStopped(point?: string): AirflowFinding {
  return unsteady(
    point,
    "the motor stopped drawing power. Check the plug on the fixture, then test the unit again; if it stops again, look for a loose contact or a cut-out in the unit.",
  );
}

/** @param times how much worse its mean is known than wanted */
export function notKnown(channel: string, times: number, longest_s: number, point: string): AirflowFinding {
  return unsteady(
    point,
    `${inWords(channel)} scatters too much: after ${longest_s} s its mean was still known ${times.toFixed(1)} times worse than wanted. Look for a loose hose or cable at that gauge, then test the unit again.`,
  );
}

export function tooFewReadings(
  channel: string,
  least: number,
  longest_s: number,
  point: string,
): AirflowFinding {
  return unsteady(
    point,
    `fewer than ${least} steady readings of ${inWords(channel)} came within ${longest_s} s. Check that gauge and its cable, then test the unit again.`,
  );
}

function unsteady(point: string | undefined, what: string): AirflowFinding {
  const sentence =
    point === undefined ? `${what.charAt(0).toUpperCase()}${what.slice(1)}` : `At ${point}: ${what}`;
  return { against: "station", reason: { code: "NOT_STEADY", sentence } };
}

function listed(channels: readonly string[]): string {
  return channels.map(inWords).join(" and ");
}
