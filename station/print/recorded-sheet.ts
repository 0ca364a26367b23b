import { foundAwaited } from "../records/found-awaited.ts";
import { type FoundUnit, readAttempts } from "../records/read-attempts.ts";
import { readDispositions } from "../records/read-dispositions.ts";
import { withSharedIndex } from "../records/shared-index.ts";
import { unknownSerial } from "../records/unknown-serial.ts";
import { type UnitSheet, unitSheet } from "./unit-sheet.ts";

export type RecordedSheet =
  | { readonly kind: "sheet"; readonly sheet: UnitSheet }
  /** Sentences that say why. */
  | { readonly kind: "not printable"; readonly why: readonly string[] };

export interface SheetAsked {
  readonly folder: string;
  readonly serial: string;
  readonly attempt: number | undefined;
  readonly printed_at: string;
}

/**
 * What a page about a unit says, from the files themselves. Where anything of this unit is not as it was recorded, or may be missing,
 * there is no page: a newer fail or a hold might be what is missing.
 * @throws RecordError where the folder can't be read
 */
export async function recordedSheet({
  folder,
  serial,
  attempt,
  printed_at,
}: SheetAsked): Promise<RecordedSheet> {
  const { unit, decided, awaited } = await withSharedIndex(folder, async (shared) => {
    const unit = await readAttempts(folder, serial, shared);
    // After the tests: what is decided meanwhile is seen.
    const decided = await readDispositions(folder, serial, shared);
    const awaited = await foundAwaited(folder, serial, unit, decided.dispositions, shared);
    return { unit, decided, awaited };
  });
  const { dispositions, problem } = decided;
  const told = " Nothing was printed: tell the quality engineer.";
  const why = [
    ...unit.attempts.flatMap((it) =>
      it.problem === null ? [] : [`${it.path} is not as it was recorded: ${it.problem}.${told}`],
    ),
    ...unit.gaps.map((gap) => `Attempts of ${serial} may be missing in ${folder}: ${gap}.${told}`),
    ...(problem === null ? [] : [`${problem}${told}`]),
  ];
  for (const { reason } of awaited) {
    why.push(`${reason.sentence} Nothing was printed.`);
  }
  if (why.length > 0) return { kind: "not printable", why };
  const sheet = unitSheet({ unit, serial, dispositions, attempt, printed_at });
  return sheet
    ? { kind: "sheet", sheet }
    : { kind: "not printable", why: [await missing(folder, serial, unit, attempt)] };
}

async function missing(
  folder: string,
  serial: string,
  unit: FoundUnit,
  attempt: number | undefined,
): Promise<string> {
  const numbers = unit.attempts.flatMap(({ traveller }) => (traveller ? [traveller.attempt.number] : []));
  if (numbers.length > 0) {
    return `There is no test ${attempt} of ${serial} in ${folder}: there ${numbers.length === 1 ? "is" : "are"} ${numbers.join(", ")}.`;
  }
  if (unit.open.length > 0)
    return `${serial} is under test, or its test was interrupted: there is no record to print yet.`;
  return unknownSerial(folder, serial);
}
