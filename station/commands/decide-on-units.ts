import { escaped } from "../../limits/escaped-text.ts";
import { type Act, LEAST_ROLE, whyNot } from "../disposition-rules.ts";
import { type Disposition, type DispositionDraft, decider } from "../records/disposition.ts";
import { type Dispositions, openDispositions, type UnitStanding } from "../records/dispositions.ts";
import { serialsUnderTest } from "../records/open-attempts-beside.ts";
import { unknownSerial } from "../records/unknown-serial.ts";
import { type RecordsAt, whoDecides } from "./records-at.ts";

/** A unit with the test that is decided on. */
export type UnitWithTest = UnitStanding & { readonly newest: NonNullable<UnitStanding["newest"]> };

export interface Decision {
  readonly act: Extract<Act, "hold" | "scrap">;
  readonly at: RecordsAt;
  /** `--as` */
  readonly as: string | undefined;
  readonly serials: readonly string[];
  /** @returns whether a unit is passed over, because there is nothing to decide about it any more */
  readonly isPassedOver?: (unit: UnitStanding) => boolean;
  readonly reason: Disposition["reason"];
  readonly whereProven: string;
}

export type Decided =
  | { readonly kind: "refused"; readonly sentences: readonly string[] }
  | {
      readonly kind: "recorded";
      /** Null where all were passed over. */
      readonly disposition: Disposition | null;
      readonly units: readonly UnitWithTest[];
      readonly passedOver: readonly UnitStanding[];
    };

/**
 * Decides the same about some units, all or none, in one record: looks how they stand, asks who decides, and looks again, since
 * they may have been tested while a PIN was typed.
 * @throws UsageError where somebody may not; RecordError where the records are not as they were recorded, or can't be written
 */
export async function decideOnUnits(decision: Decision): Promise<Decided> {
  const { act, at, as, reason, whereProven } = decision;
  const dispositions = await openDispositions(at.folder);
  const before = await look(dispositions, decision);
  if (before.refusals.length > 0) return { kind: "refused", sentences: before.refusals };
  const tests = await dispositions.testsOf(before.units.map(disposedOf));
  const who = await whoDecides({ at, as, least: LEAST_ROLE[act], tests, whereProven });
  const now = await look(dispositions, decision);
  if (now.refusals.length > 0) return { kind: "refused", sentences: now.refusals };
  if (act === "scrap" && testsIn(now.units) !== testsIn(before.units)) {
    return {
      kind: "refused",
      sentences: ["A unit was tested meanwhile: look at drumtight find, then again."],
    };
  }
  const { units, passedOver } = now;
  if (units.length === 0) return { kind: "recorded", disposition: null, units, passedOver };
  const draft: DispositionDraft = { kind: act, by: decider(who), units: units.map(disposedOf), reason };
  return { kind: "recorded", disposition: await dispositions.dispose(draft), units, passedOver };
}

/** Tells all that speaks against it, so that a long list need not be mended one by one. */
export function refuseAll(sentences: readonly string[]): 1 {
  const told = sentences.slice(0, MOST_TOLD);
  const more = sentences.length > told.length ? [`And ${sentences.length - told.length} more.`] : [];
  process.stderr.write(`${[...told, ...more].map(escaped).join("\n")} Nothing was recorded.\n`);
  return 1;
}

const MOST_TOLD = 20;

interface Look {
  readonly units: readonly UnitWithTest[];
  readonly passedOver: readonly UnitStanding[];
  readonly refusals: readonly string[];
}

async function look(dispositions: Dispositions, decision: Decision): Promise<Look> {
  const { act, at, serials, isPassedOver = () => false } = decision;
  // First, so that a test which ends meanwhile is seen recorded.
  const underTest = await serialsUnderTest(at.folder);
  const standings = await dispositions.standingsOf(serials);
  const passedOver = standings.filter(isPassedOver);
  const meant = standings.filter((unit) => !passedOver.includes(unit));
  const refusals: string[] = [];
  for (const unit of meant) {
    const isUnderTest = underTest.has(unit.serial);
    const why = whyNot(act, unit, { isUnderTest, retest: null });
    if (why === null) continue;
    // More are not told: each takes a look at the whole folder.
    const isUnknown = unit.attempts.length === 0 && !isUnderTest && refusals.length < MOST_TOLD;
    refusals.push(isUnknown ? await unknownSerial(at.folder, unit.serial) : why);
  }
  const units = meant.flatMap((unit) => (unit.newest ? [{ ...unit, newest: unit.newest }] : []));
  return { units, passedOver, refusals };
}

function disposedOf({ serial, newest }: UnitWithTest) {
  return { serial, attempt: newest.attempt, traveller: newest.sha256 };
}

function testsIn(units: readonly UnitWithTest[]): string {
  return units.map(({ newest }) => newest.sha256).join(" ");
}
