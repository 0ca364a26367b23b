import { expect, it } from "vitest";
import { canonicalText } from "../../station/records/chain.ts";
import { Packing, unpacked } from "../../station/records/sealed-pack.ts";
import { SealedReader } from "../../station/records/sealed-traveller.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { facts, outcome, SUSPECTS } from "./example-attempt.ts";

const OUT_OF_LIMITS = [{ code: "OUT_OF_LIMITS", sentence: "leak rate is above the upper limit." }];
const piece = { piece: "R1", certified_value: 48, tolerance: 3, unit: "mL/min" };

function textOf(sequence: number, of: object): string {
  return canonicalText(
    Traveller.parse({
      format: "drumtight/traveller/1",
      id: String(sequence).padStart(32, "0"),
      ...facts("A1", sequence),
      ...outcome(),
      chain: { sequence, previous: sequence === 1 ? null : "ab".repeat(32) },
      ...of,
    }),
  );
}

const failing = outcome().characteristics.map((it) => ({ ...it, verdict: "fail" as const }));

it("brings from one thread to another all that was read of every traveller, in its order", () => {
  const texts = [
    textOf(1, {}),
    textOf(2, {
      verdict: "fail",
      reasons: OUT_OF_LIMITS,
      suspects: SUSPECTS,
      characteristics: failing,
      attempt: { number: 2, kind: "after_rework" },
      parts: { lid: 'L "1"' },
    }),
    "left to a whole check",
    textOf(3, { kind: "reference", reference: { ...piece, measured: 48.25, conforms: true } }),
    textOf(4, { verdict: "void", reasons: OUT_OF_LIMITS, ended_at: null, duration_s: null, draft: true }),
  ];
  const paths = texts.map((_, at) => `2026/01/05/${at}.json`);
  const reader = new SealedReader();
  const read = texts.map((text, at) => reader.read(Buffer.from(text), paths[at] ?? ""));
  expect(read.map((it) => it?.chain.sequence)).toEqual([1, 2, undefined, 3, 4]);
  const [, failed, , reference] = read;
  expect(failed?.attempt).toMatchObject({
    codes: ["OUT_OF_LIMITS"],
    causes: ["leak rate"],
    suspect: SUSPECTS[0]?.cause,
  });
  expect(reference?.attempt.reference).toMatchObject({ measured: 48.25, certified: 48 });
  const packing = new Packing();
  for (const round of [read, read.toReversed()]) {
    const own = round === read ? paths : paths.toReversed();
    for (const it of round) packing.add(it);
    expect(unpacked(structuredClone(packing.take()), own)).toEqual(round);
  }
});
