import type { RetestRule } from "../../limits/model.ts";
import { verifyChain } from "../../station/records/chain.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import type { Kept, KeptRecords } from "./kept-records.ts";
import type { Told } from "./told.ts";

/*
 * What must hold of a records folder, worked out from its files alone and by other ways than the station's own: plain loops
 * over what was recorded, in the order of the chain.
 */

/** @returns each chain that is broken, in a sentence */
export async function chainProblems({ travellers, dispositions, events }: KeptRecords): Promise<string[]> {
  const problems: string[] = [];
  for (const chain of [travellers, dispositions, events]) {
    const report = await verifyChain(
      chain.map(({ path, text }) => ({ path, bytes: Buffer.from(text, "utf8") })),
    );
    if (!report.ok) problems.push(`${report.path}: ${report.problem}`);
  }
  return problems;
}

/**
 * Units of the model that a failed reference check found tested since the piece's last passed one, and that neither a hold
 * made for that check names nor a later valid attempt has replaced.
 * @returns a sentence for each
 */
export function holdsMissing({ travellers, dispositions }: KeptRecords): string[] {
  const missing: string[] = [];
  for (const check of travellers.filter(isReference)) {
    if (check.content.verdict !== "fail") continue;
    const before = travellers.filter((one) => sequenceOf(one) < sequenceOf(check));
    const passed = before.findLast(
      (one) =>
        isReference(one) && one.content.serial === check.content.serial && one.content.verdict === "pass",
    );
    const held = dispositions.filter(({ content }) => content.reference === check.sha256);
    const named = new Set(held.flatMap(({ content }) => content.units.map(({ traveller }) => traveller)));
    for (const unit of before.slice(passed ? sequenceOf(passed) : 0)) {
      if (isReference(unit) || unit.content.verdict === "void" || unit.content.model !== check.content.model)
        continue;
      const isReplaced = travellers.some(
        (one) =>
          one.content.serial === unit.content.serial &&
          one.content.verdict !== "void" &&
          sequenceOf(one) > sequenceOf(unit),
      );
      if (isReplaced || named.has(unit.sha256)) continue;
      missing.push(`${nameOf(unit)} is in doubt since ${nameOf(check)} failed`);
    }
  }
  return missing;
}

/** Tests that the retest rule forbids, of units that no rework and no hold of the station's names: those begin anew. */
export function ruleBreaks(records: KeptRecords, rule: RetestRule): string[] {
  const named = new Set(
    records.dispositions
      .filter(({ content: { kind, reference } }) => kind === "rework" || reference !== undefined)
      .flatMap(({ content }) => content.units.map(({ serial }) => serial)),
  );
  const breaks: string[] = [];
  for (const [serial, attempts] of bySerial(records.travellers.filter((one) => !isReference(one)))) {
    if (named.has(serial)) continue;
    const counts = { pass: 0, fail: 0, void: 0 };
    for (const attempt of attempts) {
      const { kind } = attempt.content.attempt;
      if (counts.pass > 0) breaks.push(`${nameOf(attempt)} came after a pass`);
      if (counts.fail > rule.afterFail) breaks.push(`${nameOf(attempt)} came after ${counts.fail} fails`);
      if (counts.void > rule.afterVoid) breaks.push(`${nameOf(attempt)} came after ${counts.void} voids`);
      if ((kind === "retest") !== counts.fail > 0) breaks.push(`${nameOf(attempt)} is recorded as ${kind}`);
      if (kind === "retest" && rule.reasons.length > 0 && attempt.content.retest_reason === undefined) {
        breaks.push(`${nameOf(attempt)} has no reason`);
      }
      counts[attempt.content.verdict]++;
    }
  }
  return breaks;
}

/** Faults after which a reference check is due where the station file says so, as far as travellers tell of them. */
const STOPPING: ReadonlySet<string> = new Set([
  "INTERRUPTED",
  "INSTRUMENT_FAULT",
  "GAUGE_FROZEN",
  "OUTPUT_FAULT",
]);

/** Units that were tested though a reference piece had not passed, had come to nothing, or a fault had followed. */
export function notProven(records: KeptRecords, pieces: readonly string[], afterFault: boolean): string[] {
  const found: string[] = [];
  const { travellers } = records;
  for (const unit of travellers.filter((one) => !isReference(one))) {
    // Cut off before it could know of anything.
    const before = travellers.filter((one) => sequenceOf(one) < sequenceOf(unit));
    for (const piece of pieces) {
      const checks = before.filter(({ content }) => content.serial === piece);
      const last = checks.at(-1);
      if (last?.content.verdict !== "pass") {
        found.push(
          `${nameOf(unit)} though ${piece} ${last ? `came out ${last.content.verdict}` : "was never tested"}`,
        );
        continue;
      }
      const fault = before
        .slice(sequenceOf(last))
        .find(({ content }) => content.reasons.some(({ code }) => STOPPING.has(code)));
      if (afterFault && fault)
        found.push(`${nameOf(unit)} though ${nameOf(fault)} stopped the station since ${piece}`);
    }
  }
  return found;
}

/** @returns what was told and is not so in the files, or is there twice */
export function tellingProblems({ travellers }: KeptRecords, told: readonly Told[]): string[] {
  const problems: string[] = [];
  const names = new Set<string>();
  for (const one of travellers) {
    const name = nameOf(one);
    if (names.has(name)) problems.push(`${name} is recorded twice`);
    names.add(name);
  }
  for (const { traveller, sha256 } of told) {
    const { serial, attempt, verdict } = traveller;
    if (travellers.some((one) => one.sha256 === sha256)) continue;
    problems.push(`${verdict} of ${serial} attempt ${attempt.number} was told and is not among the records`);
  }
  return problems;
}

interface BegunAttempt {
  readonly serial: string;
  readonly number: number;
  readonly isDriven: boolean;
}

/** @returns attempts that were begun and have no traveller or several, and travellers of attempts that nobody began */
export function accountProblems({ travellers }: KeptRecords, begun: readonly BegunAttempt[]): string[] {
  const problems: string[] = [];
  const kept = new Map<string, number>();
  for (const { content } of travellers) {
    const key = `${content.serial} attempt ${content.attempt.number}`;
    kept.set(key, (kept.get(key) ?? 0) + 1);
  }
  const driven = new Set<string>();
  for (const { serial, number, isDriven } of begun) {
    const key = `${serial} attempt ${number}`;
    if (!isDriven) continue;
    if (driven.has(key)) problems.push(`${key} was run twice under one number`);
    driven.add(key);
    if (kept.get(key) !== 1) problems.push(`${key} was run and has ${kept.get(key) ?? 0} travellers`);
  }
  const known = new Set(begun.map(({ serial, number }) => `${serial} attempt ${number}`));
  for (const key of kept.keys())
    if (!known.has(key)) problems.push(`${key} has a traveller and was never begun`);
  return problems;
}

/** @returns attempts of a serial whose numbers have a gap or go back */
export function numberProblems({ travellers }: KeptRecords): string[] {
  const problems: string[] = [];
  for (const [serial, attempts] of bySerial(travellers)) {
    attempts.forEach(({ content }, at) => {
      if (content.attempt.number !== at + 1) {
        problems.push(`${serial}: attempt ${content.attempt.number} is the ${at + 1}. that was recorded`);
      }
    });
  }
  return problems;
}

function bySerial(travellers: readonly Kept<Traveller>[]): Map<string, Kept<Traveller>[]> {
  const found = new Map<string, Kept<Traveller>[]>();
  for (const one of travellers) {
    const known = found.get(one.content.serial);
    if (known) known.push(one);
    else found.set(one.content.serial, [one]);
  }
  return found;
}

function isReference({ content }: Kept<Traveller>): boolean {
  return content.kind === "reference";
}

function sequenceOf({ content }: Kept<Traveller>): number {
  return content.chain.sequence;
}

function nameOf({ content }: Kept<Traveller>): string {
  return `${content.serial} attempt ${content.attempt.number}`;
}
