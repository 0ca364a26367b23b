import { describe, expect, it } from "vitest";
import { toUnit } from "../../limits/quantity.ts";
import type { ReferencePiece } from "../../station/cycle/attempt.ts";
import { StoredFromTravellers } from "../../station/records/read-stored-values.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { replayCurves } from "../../station/replay-curves.ts";
import type { ReplayReport } from "../../station/replay-records.ts";
import { measuredAgain } from "../../station/replay-records.ts";
import { ReplayTally } from "../../station/replay-summary.ts";
import { studyText } from "../../station/study-page/study-text.ts";
import { ValuesReplay } from "../../station/what-if/replay-values.ts";
import { curvesReport, type ReplayHead } from "../../station/what-if/what-if-report.ts";
import { bodyCurve, LEARNED, madeTraveller, mLmin, podWith, station } from "../made-traveller.ts";

const FITTED = { settle_s: 0.3, measureLongest_s: 20, method: { kind: "fitted" } } as const;
const NEW_LIMIT = podWith(FITTED, mLmin(5));

/** Of a replay with a new upper limit of 5 mL/min. */
function replayed(travellers: readonly Traveller[]): { head: ReplayHead; report: ReplayReport } {
  const tally = new ReplayTally({ keepAll: true });
  const history = new ValuesReplay({ limits: NEW_LIMIT, shifts: [], keepAll: true }, new Set());
  const stored = new StoredFromTravellers();
  for (const traveller of travellers) {
    const setup = { limits: NEW_LIMIT, knowledge: station.knowledge, calibration: LEARNED };
    const leaks = replayCurves(traveller, setup);
    tally.add(traveller, leaks);
    history.add(stored.attemptOf(traveller, false), measuredAgain(NEW_LIMIT, leaks));
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
      history: history.result(),
    },
  };
}

interface LeakJson {
  readonly reference_piece: string | null;
  readonly upper: number;
  readonly counts: { readonly pass: { readonly pass: number; readonly fail: number } };
  readonly all: readonly { readonly serial: string }[];
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
    const study = curvesReport(head, report, false);
    const heads = study.tables.map(({ caption }) => caption).filter((it) => it.startsWith("leak rate"));
    expect(heads).toEqual([
      "leak rate: attempts by at most 5 mL/min, conformance 95 %",
      "leak rate of reference piece REF-TIGHT: attempts by its certificate, -2 mL/min @ 20 degC to 2 mL/min @ 20 degC",
      "leak rate of reference piece REF-LEAK: attempts by its certificate, 17 mL/min @ 20 degC to 23 mL/min @ 20 degC",
    ]);
    const text = studyText(study);
    expect(text).toMatch(/POD000123 +\d+\.\d ± \d\.\d mL\/min pass +\d+\.\d ± \d\.\d mL\/min fail/);
    for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
  });

  it("counts each body where it was judged", () => {
    const { head, report } = replayed([TIGHT, UNIT, LEAK, TIGHT]);
    const leaks = curvesReport(head, report, false).figures.leak_rates as unknown as LeakJson[];
    expect(leaks.map((leak) => [leak.reference_piece, leak.all.map(({ serial }) => serial)])).toEqual([
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

describe("units whose leak rate was measured again", () => {
  it("change with the value that was measured, and are counted once", () => {
    const { head, report } = replayed([TIGHT, UNIT, made(2)]);
    const { tally } = report.history;
    expect([tally.units, tally.first.passFail, tally.first.passPass]).toEqual([2, 1, 1]);
    const [change] = tally.changedFirst;
    const [leak] = report.leaks;
    expect(change).toMatchObject({ serial: "POD000123", from: "pass", to: "fail" });
    expect(change?.because).toMatch(/^leak rate \d+\.\d ± \d\.\d mL\/min$/);
    expect(leak?.changedCount).toBe(1);
    expect(curvesReport(head, report, false).conclusion).toContain(
      "1 from pass to fail, 0 from fail to pass",
    );
  });

  it("have no verdict where the curve is too short for the new settings, and are no pass", () => {
    const early = madeTraveller({
      limits: podWith({
        ...FITTED,
        earlyVerdict: { measureShortest_s: 2, lookEvery_s: 0.25, falseAccept: 5e-4, falseReject: 5e-4 },
      }),
      calibration: LEARNED,
      curve: bodyCurve(3),
    });
    const { report } = replayed([early]);
    expect(report.history.tally.first.notRejudged).toEqual(new Map([["curve too short", 1]]));
    expect(report.history.tally.first.leftPass).toBe(1);
  });
});
