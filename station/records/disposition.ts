import { z } from "zod";
import type { SignedIn } from "../people/person.ts";
import { counts } from "./doubts.ts";
import type { AttemptSummary } from "./index-db.ts";
import { RecordError } from "./record-error.ts";
import { Instant, Reason, Serial, Sha256Hex, Text } from "./record-words.ts";

/** What a disposition's `format` says; a reader that meets another one must not guess. */
const DISPOSITION_FORMAT = "drumtight/disposition/1";

/** The reason's code of every hold that the station makes because a reference check failed. */
export const REFERENCE_FAILED = "REFERENCE_FAILED";

/** Who decided: somebody, as signed in or as named on the command line, or the station itself. */
export const Decider = z
  .strictObject({
    name: Text.nullable(),
    sign_in: z.enum(["off", "stated", "badge", "pin", "station"]),
    role: z.enum(["inspector", "engineer", "supervisor"]).optional(),
  })
  .refine((it) => it.sign_in !== "station" || (it.name === null && it.role === undefined), {
    path: ["name"],
    error: "what the station does by itself has nobody's name",
  });
export type Decider = z.infer<typeof Decider>;

/** One unit, by the very traveller that was decided on. */
export const DisposedUnit = z.strictObject({
  serial: Serial,
  attempt: z.int().positive(),
  traveller: Sha256Hex,
});
export type DisposedUnit = z.infer<typeof DisposedUnit>;

/** What is decided, without what writing it adds: format, time and place in the chain. */
const Decision = {
  /** hold: not to be used; accept: a hold is lifted; rework: repaired, to be tested anew; scrap: never again. */
  kind: z.enum(["hold", "accept", "rework", "scrap"]),
  by: Decider,
  units: z.array(DisposedUnit).min(1).readonly(),
  reason: Reason,
  rework: z.strictObject({ cause: Text, action: Text }).optional(),
  /** Of a hold the station makes: the traveller of the reference check that failed. */
  reference: Sha256Hex.optional(),
  /** Of an acceptance: the numbers of the holds that it lifts from its units; absent: all made before it. */
  lifts: z.array(z.int().positive()).min(1).readonly().optional(),
};

/** What was decided about units after their test: an appended record that points at travellers and changes none. */
export const Disposition = z
  .strictObject({
    format: z.literal(DISPOSITION_FORMAT),
    at: Instant,
    ...Decision,
    chain: z.strictObject({ sequence: z.int().positive(), previous: Sha256Hex.nullable() }),
  })
  .superRefine((it, context) => {
    for (const [path, message] of contradictions(it))
      context.addIssue({ code: "custom", path: [path], message });
    if (it.lifts?.some((hold) => hold >= it.chain.sequence)) {
      context.addIssue({
        code: "custom",
        path: ["lifts"],
        message: "only what was recorded before is lifted",
      });
    }
  });
export type Disposition = z.infer<typeof Disposition>;

/** A disposition that is still to be written. */
export type DispositionDraft = Omit<Disposition, "format" | "at" | "chain">;

/** @returns the record's content but for its place in the chain */
export function dispositionAt(draft: DispositionDraft, at_ms: number): Omit<Disposition, "chain"> {
  return { format: DISPOSITION_FORMAT, at: new Date(at_ms).toISOString(), ...draft };
}

/** @example decider(NOBODY) // { name: null, sign_in: "off" } */
export function decider({ name, how, role }: SignedIn): Decider {
  return { name, sign_in: how, ...(role === null ? {} : { role }) };
}

/** @returns whether the station itself holds the units, because it was not proven when it tested them; else somebody does */
export function isReferenceHold({ kind, reference }: Pick<Disposition, "kind" | "reference">): boolean {
  return kind === "hold" && reference !== undefined;
}

/**
 * @param historyOf the attempts of one of the units
 * @throws RecordError INVALID_RECORD when a unit's traveller is not in the records, or is none that counts
 */
export function requireRecorded(
  { units }: Pick<DispositionDraft, "units">,
  historyOf: (unit: DisposedUnit) => readonly AttemptSummary[],
): void {
  for (const unit of units) {
    const { serial, attempt, traveller } = unit;
    const isRecorded = historyOf(unit).some(
      (it) => it.sha256 === traveller && it.serial === serial && it.attempt === attempt && counts(it),
    );
    if (isRecorded) continue;
    throw new RecordError(
      "INVALID_RECORD",
      "",
      `Attempt ${attempt} of ${serial} with this traveller is no recorded test of a unit that counts: nothing was decided.`,
    );
  }
}

function* contradictions(it: DispositionDraft): Generator<[path: string, message: string]> {
  if ((it.kind === "rework") !== (it.rework !== undefined)) {
    yield ["rework", "a rework, and nothing else, says what was the cause and what was done"];
  }
  const isStations = it.by.sign_in === "station";
  if ((it.reference !== undefined) !== (it.reason.code === REFERENCE_FAILED)) {
    yield ["reference", "a hold because a reference check failed, and nothing else, names that check"];
  }
  if (it.reference !== undefined && !(it.kind === "hold" && isStations)) {
    yield ["kind", "only a hold that the station makes names a reference check"];
  }
  if (isStations && it.reference === undefined) {
    yield ["by", "the station decides nothing by itself but to hold units after a failed reference check"];
  }
  if (it.lifts !== undefined && it.kind !== "accept") {
    yield ["lifts", "only an acceptance lifts holds"];
  }
  if (new Set(it.units.map(({ traveller }) => traveller)).size !== it.units.length) {
    yield ["units", "no traveller is named twice"];
  }
}
