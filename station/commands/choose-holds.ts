import { whyNot } from "../disposition-rules.ts";
import { type DisposedUnit, type Disposition, isReferenceHold } from "../records/disposition.ts";
import type { Dispositions, UnitStanding } from "../records/dispositions.ts";
import { heldTravellers } from "../records/doubts.ts";
import { serialsUnderTest } from "../records/open-attempts-beside.ts";
import { unknownSerial } from "../records/unknown-serial.ts";

/** Which holds somebody wants lifted. */
export interface HoldsAsked {
  readonly folder: string;
  /** Null: every unit in doubt, or every unit of `hold`. */
  readonly serials: readonly string[] | null;
  /** Only this one, by its number. */
  readonly hold: number | null;
  /** All holds of a unit, though they were made for different reasons. */
  readonly isEveryHold: boolean;
}

/** A hold on a unit that nobody has lifted. */
export interface HoldOnUnit {
  readonly unit: DisposedUnit;
  readonly number: number;
  readonly isReference: boolean;
  readonly hold: Disposition;
}

export interface HoldsChosen {
  readonly holds: readonly HoldOnUnit[];
  /** Why nothing is released; empty where something is. */
  readonly refusals: readonly string[];
}

/**
 * A hold is lifted by whoever knows why it was made. Where somebody's hold stands beside another one, or beside the station's, it must
 * be said which is meant: a gasket that was measured says nothing of a dent.
 * @throws RecordError CORRUPT when what it is about is not as it was recorded
 */
export async function chooseHolds(dispositions: Dispositions, asked: HoldsAsked): Promise<HoldsChosen> {
  const { folder, hold } = asked;
  // First, so that a test which ends meanwhile is seen recorded.
  const underTest = await serialsUnderTest(folder);
  const serials = asked.serials ?? (await serialsMeant(dispositions, hold));
  if (serials.length === 0) {
    const what = hold === null ? `No unit is in doubt in ${folder}.` : `No unit is held by number ${hold}.`;
    return { holds: [], refusals: [what] };
  }
  const refusals: string[] = [];
  const holds: HoldOnUnit[] = [];
  for (const unit of await dispositions.standingsOf(serials)) {
    if (unit.attempts.length === 0 && !underTest.has(unit.serial)) {
      // No more than are told: each takes a look at the whole folder.
      const isTold = refusals.length < 20;
      refusals.push(isTold ? await unknownSerial(folder, unit.serial) : `${unit.serial} is not recorded.`);
      continue;
    }
    const isUnderTest = underTest.has(unit.serial);
    const why = whyNot("release", unit, { isUnderTest, retest: null });
    const meant = why === null ? meantOf(unit, asked) : why;
    if (typeof meant === "string") refusals.push(meant);
    else holds.push(...meant);
  }
  return { holds, refusals };
}

/** Tells whether two looks found the same holds on the same travellers. */
export function holdsIn({ holds }: HoldsChosen): string {
  return holds.map(({ unit, number }) => `${unit.traveller} ${number}`).join("\n");
}

/** @returns every hold on the unit that stands: somebody's, and the station's unless it was tested again since */
function holdsOn({ serial, dispositions, inDoubt }: UnitStanding): HoldOnUnit[] {
  const byHand = [...heldTravellers(dispositions).byHand.values()].filter((unit) => unit.serial === serial);
  return [...byHand, ...(inDoubt ? [inDoubt] : [])]
    .flatMap(({ serial, attempt, traveller, holds }) =>
      holds.map((hold) => ({
        unit: { serial, attempt, traveller },
        number: hold.chain.sequence,
        isReference: isReferenceHold(hold),
        hold,
      })),
    )
    .sort((a, b) => a.number - b.number);
}

function meantOf(unit: UnitStanding, { serials, hold, isEveryHold }: HoldsAsked): HoldOnUnit[] | string {
  const all = holdsOn(unit);
  if (hold !== null) {
    const meant = all.filter(({ number }) => number === hold);
    return meant.length > 0 ? meant : `Unit ${unit.serial} is not held by number ${hold}.`;
  }
  if (serials === null) return all.filter(({ isReference }) => isReference);
  const reasons = all.filter(({ isReference }) => !isReference).length + (unit.inDoubt ? 1 : 0);
  if (reasons <= 1 || isEveryHold) return all;
  const list = all.map(({ number, hold: { by, reason } }) => {
    const whose =
      by.sign_in === "station" ? "the station's" : by.name === null ? "somebody's" : `${by.name}'s`;
    return `${number}, ${whose}: ${reason.sentence}`;
  });
  return `Unit ${unit.serial} is held for ${reasons} reasons (${list.join("; ")}): lift one with --hold NUMBER, or all with --every-hold.`;
}

/** @param hold null: those that are in doubt */
async function serialsMeant(dispositions: Dispositions, hold: number | null): Promise<string[]> {
  const inDoubt = (await dispositions.inDoubt()).filter(({ isScrapped }) => !isScrapped);
  const held = hold === null ? [] : await dispositions.heldByHand();
  const meant = [...inDoubt, ...held].filter(
    ({ holds }) => hold === null || holds.some(({ chain }) => chain.sequence === hold),
  );
  return [...new Set(meant.map(({ serial }) => serial))];
}
