import { expect, it } from "vitest";
import { pieceLines } from "../../station/bring-up/check-lines.ts";
import type { LeakNeed } from "../../station/bring-up/leak-needs.ts";
import type { ReferencePiece } from "../../station/cycle/attempt.ts";
import { mLmin } from "../made-traveller.ts";

const need = (noise_mLmin: number): LeakNeed => ({
  model: "POD-4",
  characteristic: "leak rate",
  limit_m3_s: mLmin(25),
  measureLongest_s: 13,
  noise_m3_s: mLmin(noise_mLmin),
  noiseMost_m3_s: mLmin(2.5),
  change_Pa: 120,
  resolutionMost_Pa: 12,
  readings: 185,
  readingsLeast: 20,
  earlyReadings: 28,
  lagMost_s: 1,
});

const piece = (tolerance_mLmin: number, more: Partial<ReferencePiece> = {}): ReferencePiece => ({
  serial: `REF-${tolerance_mLmin}`,
  kind: "tight",
  model: "POD-4",
  certified_m3_s: 0,
  tolerance_m3_s: mLmin(tolerance_mLmin),
  unit: "mL/min @ 20 degC",
  orifice: null,
  ...more,
});

it("a gauge that meets the limit file and is too noisy for the strictest reference piece is not good enough", () => {
  const lines = pieceLines(need(2.2), [piece(7), piece(2)], "mL/min");
  expect(lines).toEqual([
    {
      what: "POD-4 leak rate: reference pieces",
      verdict: "not good enough",
      sentence: expect.stringMatching(
        /^REF-2 has to read within 2(\.0)? mL\/min of its certificate, the noise alone leaves \+- 4\.4 mL\/min \(k = 2\).*less noise/,
      ),
    },
  ]);
});

it("a gauge whose noise leaves half of the strictest tolerance at most is good enough for the pieces", () => {
  expect(pieceLines(need(0.99), [piece(2)], "mL/min")[0]?.verdict).toBe("ok");
  expect(pieceLines(need(1.01), [piece(2)], "mL/min")[0]?.verdict).toBe("not good enough");
});

it("pieces of other models, and those that are not measured by leak, say nothing of the leak gauge", () => {
  expect(
    pieceLines(need(2.2), [piece(0.1, { model: "TUB-12" }), piece(0.1, { kind: "orifice" })], "mL/min"),
  ).toEqual([]);
});
