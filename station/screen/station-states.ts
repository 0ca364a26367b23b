import type { ScreenState } from "./screen-state.ts";

type Machine = Pick<ScreenState, "machine">;

/** Of each state of the station's machine, by its name: what it means to whoever stands before it. */
export const STATE_MEANINGS: Readonly<Record<string, string>> = {
  signedOut: "Nobody is signed in. Nothing starts, and the outputs are safe.",
  waiting: "A moment between two units.",
  signedIn: "A moment after signing in or a finished unit.",
  needsReference: "The station has to be proven with its reference pieces before units are tested.",
  ready: "Waiting for the next unit: put it on and scan it.",
  identifying: "The scanned serial is being looked up.",
  armed: "The unit is known and allowed: Enter or the start button starts its test.",
  checking: "About to start: guard, pressure and disk are looked at. Keep clear. Esc calls it off.",
  testing: "The test runs: the body is evacuated or its motor is running. Keep clear. Esc aborts.",
  finished: "The verdict has been recorded and is shown.",
  faulted:
    "Stopped: safe outputs are commanded, and nothing starts until somebody has looked and pressed Tab.",
  recovering: "The instruments are being connected again and the outputs made safe.",
};

/** @returns whether Esc stops something now */
export function mayAbort({ machine }: Machine): boolean {
  return machine === "testing" || machine === "checking";
}

/** @returns whether a scan would be taken up now */
export function isIdle({ machine }: Machine): boolean {
  return ["waiting", "signedIn", "finished", "ready", "needsReference", "armed"].includes(machine);
}

/** @returns whether the station is in the middle of something that ends by itself; nobody may leave then */
export function isUnderWay({ machine }: Machine): boolean {
  return mayAbort({ machine }) || machine === "identifying" || machine === "recovering";
}

/** @returns whether a test may run, or be about to, so that Esc must count at once */
export function isEscUrgent({ machine }: Machine): boolean {
  return !["signedOut", "needsReference", "ready", "faulted"].includes(machine);
}
