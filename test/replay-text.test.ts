import { describe, expect, it } from "vitest";
import { toUnit } from "../limits/quantity.ts";
import type { ReferencePiece } from "../station/cycle/attempt.ts";
import type { Traveller } from "../station/records/traveller.ts";
import { replayCurves } from "../station/replay-curves.ts";
import { replayJson } from "../station/replay-json.ts";
import type { ReplayReport } from "../station/replay-records.ts";
import { ReplayTally } from "../station/replay-summary.ts";
import { type ReplayHead, replayText } from "../station/replay-text.ts";
import { bodyCurve, LEARNED, madeTraveller, mLmin, podWith, station } from "./made-traveller.ts";

const FITTED = { settle_s: 0.3, measureLongest_s: 20, method: { kind: "fitted" } } as const;
const NEW_LIMIT = podWith(FITTED, mLmin(5));

/** Of a replay with a new upper limit of 5 mL/min. */
function replayed(travellers: readonly Traveller[]): { head: ReplayHead; report: ReplayReport } {
  const tally = new ReplayTally({ keepAll: true });
  for (const traveller of travellers) {
    const setup = { limits: NEW_LIMIT, knowledge: station.knowledge, calibration: LEARNED };
    tally.add(traveller, replayCurves(traveller, setup));
  }
  const none = { "as made": 0, "today's": 0, none: travellers.length };
  return {
    head: {
      limits: NEW_LIMIT,
      approvedBy: null,
      changes: ["--limit 5 mL/min"],
      recordsFolder: "records",
      stationPath: "station.yaml",
    },
    report: {
      attempts: travellers.length,
      drafts: 0,
      simulated: 0,
      referencesLeftOut: 0,
      studiesLeftOut: 0,
      broken: [],
      otherStations: new Map(),
      calibrations: { settle: none, volume: none },
      calibrationProblems: [],
      leaks: tally.leaks(),
    },
  };
}

function piece(serial: string, certified: number, tolerance: number): ReferencePiece {
  return {
    serial,
    kind: certified === 0 ? "tight" : "leak",
    model: NEW_LIMIT.model,
    certified_m3_s: mLmin(certified),
    tolerance_m3_s: mLmin(tolerance),
    unit: "mL/min @ 20 degC",
    orifice: null,
  };
}

function made(leak_mLmin: number, reference?: ReferencePiece): Traveller {
  const limits = podWith(FITTED);
  const curve = bodyCurve(leak_mLmin);
  return madeTraveller({ limits, calibration: LEARNED, curve, ...(reference ? { reference } : {}) });
}

const TIGHT = made(0, piece("REF-TIGHT", 0, 2));
const LEAK = made(20, piece("REF-LEAK", 20, 3));
const UNIT = made(10);

describe("a replay of reference pieces and units", () => {
  it("heads the units by their own limits, the new ones, though a reference piece came first", () => {
    const { head, report } = replayed([TIGHT, LEAK, UNIT]);
    const text = replayText(head, report);
    const heads = text.split("\n").filter((line) => line.startsWith("leak rate"));
    expect(heads).toEqual([
      "leak rate, at most 5 mL/min, conformance 95 %",
      "leak rate of reference piece REF-TIGHT, by its certificate at least -2 mL/min @ 20 degC and at most 2 mL/min @ 20 degC",
      "leak rate of reference piece REF-LEAK, by its certificate at least 17 mL/min @ 20 degC and at most 23 mL/min @ 20 degC",
    ]);
    expect(text).toMatch(/POD000123: \d+\.\d ± \d\.\d mL\/min pass -> \d+\.\d ± \d\.\d mL\/min fail/);
  });

  it("counts each body where it was judged", () => {
    const { head, report } = replayed([TIGHT, UNIT, LEAK, TIGHT]);
    const { leak_rates: leaks } = replayJson(head, report);
    expect(leaks.map((leak) => [leak.reference_piece, leak.all?.map(({ serial }) => serial)])).toEqual([
      [null, ["POD000123"]],
      ["REF-TIGHT", ["REF-TIGHT", "REF-TIGHT"]],
      ["REF-LEAK", ["REF-LEAK"]],
    ]);
    expect(leaks.map(({ upper }) => upper)).toEqual([
      toUnit(mLmin(5), "leakRate", "mL/min"),
      expect.closeTo(2, 9),
      expect.closeTo(23, 9),
    ]);
    expect(leaks[0]?.counts.pass.fail).toBe(1);
    expect(leaks[1]?.counts.pass.pass).toBe(2);
  });

  it("keeps a piece under an older certificate apart", () => {
    const older = made(20, piece("REF-LEAK", 21, 3));
    const { report } = replayed([older, LEAK]);
    expect(report.leaks.map(({ piece }) => piece)).toEqual(["REF-LEAK", "REF-LEAK"]);
  });
});
