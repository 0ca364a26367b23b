import { loadLimitFile } from "../../limits/limit-file.ts";
import type { PreparedAttempt } from "../../station/cycle/attempt.ts";
import type { Reason } from "../../station/cycle/reason.ts";
import { NOBODY } from "../../station/people/person.ts";
import { NO_DOUBTS } from "../../station/records/doubts.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { afterNews } from "../../station/screen/after-news.ts";
import {
  type Observed,
  type ScreenState,
  type StationFacts,
  startState,
} from "../../station/screen/screen-state.ts";
import { dayCount } from "../../station/yield/day-count.ts";
import { facts, outcome } from "../records/example-attempt.ts";

export const tub = loadLimitFile("limits/models/tub-12.yaml");
export const attempt: PreparedAttempt = {
  serial: "TUB531812",
  parts: {},
  limits: tub,
  number: 1,
  kind: "first",
  isDraft: false,
  approvedBy: "Quentin",
  who: NOBODY,
  missingParts: [],
  retestReasons: [],
  retestReason: null,
  calibration: { settle: null, volume: null },
  reference: null,
};

const STATION: StationFacts = {
  name: "Demo station 1",
  isSimulated: false,
  handsAreSimulated: false,
  signIn: "off",
  readsFlow: true,
  draftModels: [],
};

export function observed(more: Partial<Observed> = {}): Observed {
  return {
    machine: "ready",
    now_ms: Date.UTC(2026, 0, 5, 8, 0, 0),
    progress: null,
    areOutputsSafe: true,
    readings: {},
    reference: { kind: "off" },
    counts: dayCount([], NO_DOUBTS),
    next: null,
    trace: null,
    timeLeft_s: null,
    isTimeLeftLearned: true,
    conversations: [],
    ...more,
  };
}

/** The screen at work in some state of the station, before any news. */
export function atWork(machine: string, more: Partial<ScreenState> = {}): ScreenState {
  const start = startState(STATION, observed({ machine }));
  return { ...start, page: "work", ...more };
}

export function armed(): ScreenState {
  return afterNews(atWork("ready"), { type: "armed", attempt });
}

/** A unit armed in some other way than a first attempt. */
export function armedWith(more: Partial<PreparedAttempt>): ScreenState {
  return afterNews(atWork("ready"), { type: "armed", attempt: { ...attempt, ...more } });
}

export function testing(): ScreenState {
  return afterNews(armed(), { type: "started", attempt });
}

/** A recorded attempt on the unit under test. */
export function finished(
  more: Partial<Pick<Traveller, "verdict" | "reasons" | "characteristics" | "suspects" | "draft">>,
) {
  const traveller: Traveller = {
    format: "drumtight/traveller/1",
    id: "0".repeat(32),
    ...facts("TUB531812", 1, { model: "TUB-12" }),
    ...outcome(),
    chain: { sequence: 1, previous: null },
    reference: undefined,
    ...more,
  };
  return { attempt, traveller };
}

export const ABORTED: Reason = { code: "ABORTED", sentence: "The test was aborted by the inspector." };
export const CALIBRATION: Reason = {
  code: "CALIBRATION_OVERDUE",
  sentence: "The calibration of leak_gauge ran out on 2026-01-01. Have it calibrated.",
};
export const NO_VENT: Reason = {
  code: "VENT_NOT_COMPLETED",
  sentence:
    "The fixture did not vent. Keep the guard closed, vent by hand by the local procedure, then acknowledge.",
};
