import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import type { LeakStep } from "../limits/model.ts";
import { calibrationText } from "../station/calibration-file.ts";
import { CalibrationsAsMade } from "../station/calibrations-as-made.ts";
import { NOT_CALIBRATED } from "../station/cycle/attempt.ts";
import { sha256Hex } from "../station/records/chain.ts";
import type { Traveller } from "../station/records/traveller.ts";
import { bodyCurve, LEARNED, madeTraveller, podLeak, podWith, SETTLING } from "./made-traveller.ts";

const folder = mkdtempSync(join(tmpdir(), "drumtight-as-made-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const stationPath = join(folder, "station.yaml");

const facts = {
  station: "Demo station 1",
  model: "POD-4",
  at: "2026-01-05T05:00:00.000Z",
  who: null,
  testPressure_Pa: 5_000,
  pieces: ["REF-TIGHT-POD-4"],
  leakGauge: { name: "leak_gauge", profile: "stream-pressure", identity: "1" },
  limitFile: { path: "pod-4.yaml", revision: 1, sha256: "a".repeat(64) },
  software: "drumtight 0.0.0",
  simulated: true,
};

/** @returns what a traveller says of it */
function saved(file: string, tau_s: number): NonNullable<Traveller["calibrations"]>[number] {
  const text = calibrationText({ kind: "settle", facts, values: { ...SETTLING, tau_s } });
  writeFileSync(join(folder, file), text);
  return { kind: "settle", file, date: facts.at, sha256: sha256Hex(text) };
}

const made = madeTraveller({ curve: bodyCurve(3) });
const [timer] = podLeak.steps as LeakStep[];
const [fit] = podWith({ method: { kind: "fitted" } }).steps as LeakStep[];
if (!timer || !fit) throw new Error("no leak step");

describe("what had been learned when a traveller was made", () => {
  const asMade = new CalibrationsAsMade(stationPath, LEARNED);

  it("is read from the file it names, though there is a newer one", () => {
    const named = saved("pod.json", 3.25);
    const { calibration, origin } = asMade.for({ ...made, calibrations: [named] }, [fit]);
    expect(calibration.settle?.calibration.tau_s).toBe(3.25);
    expect(origin).toEqual({ settle: "as made", volume: "none" });
  });

  it.each([
    ["gone", { kind: "settle", file: "nowhere.json", date: facts.at, sha256: "0".repeat(64) }],
    ["changed", { ...saved("changed.json", 3.5), sha256: "0".repeat(64) }],
    ["not beside the station file", { ...saved("aside.json", 3.5), file: "../aside.json" }],
  ] satisfies [string, NonNullable<Traveller["calibrations"]>[number]][])(
    "is today's where that file is %s",
    (_, named) => {
      const { calibration, origin } = asMade.for({ ...made, calibrations: [named] }, [timer]);
      expect(calibration.settle).toBe(LEARNED.settle);
      expect(origin.settle).toBe("today's");
    },
  );

  it("is nothing for a traveller made without, so that its curve gives what it gave", () => {
    const { calibration, origin } = asMade.for({ ...made, calibrations: [] }, [timer]);
    expect(calibration).toEqual(NOT_CALIBRATED);
    expect(origin).toEqual({ settle: "none", volume: "none" });
  });

  it("is today's for a method that needs it", () => {
    const { origin } = asMade.for({ ...made, calibrations: [] }, [timer, fit]);
    expect(origin).toEqual({ settle: "today's", volume: "none" });
    expect(new CalibrationsAsMade(stationPath, NOT_CALIBRATED).for(made, [fit]).origin.settle).toBe("none");
  });
});
