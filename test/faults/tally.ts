import { atLeast, noRisks, type RiskCounts } from "./risk.ts";
import type { Count, ShiftResult } from "./shift.ts";

/** Where so many passes are so unlikely, the stated risk is not what the station takes. */
const UNBELIEVABLE = 1e-6;
/** What a simple acceptance promises of a unit at its limit. */
const SIMPLE_RISK = 0.5;
/** An early verdict's risk comes on top of the rule's, and is stated in the campaign's limit files. */
const EARLY_RISK = 0.002;
const GUARDED_RISK = 0.05;
/** Failed seeds are named in the summary up to so many. */
const NAMED = 50;

/** What many seeds came to; plain data, so that it may go from one process to another. */
export interface Tally {
  seeds: number;
  counts: Record<Count, number>;
  risks: RiskCounts;
  /** Faults that came to it, by kind. */
  struck: Record<string, number>;
  failed: FailedSeed[];
}

export interface FailedSeed {
  readonly seed: number;
  readonly variant: string;
  readonly faults: readonly string[];
  readonly violations: readonly { readonly invariant: string; readonly text: string }[];
}

export function emptyTally(): Tally {
  const counts: Record<Count, number> = {
    attempts: 0,
    pass: 0,
    fail: 0,
    void: 0,
    programs: 0,
    crashes: 0,
    faults: 0,
    holds: 0,
    holds_by_hand: 0,
    simulated_s: 0,
  };
  return { seeds: 0, counts, risks: noRisks(), struck: {}, failed: [] };
}

/** One shift's part of a tally. */
export function tallyOf(result: ShiftResult): Tally {
  const { model, pieces, afterFault, signsHeads } = result.variant;
  const failed = {
    seed: result.seed,
    variant: `${model}, reference pieces ${pieces}${afterFault ? ", proven anew after a fault" : ""}${signsHeads ? ", signing heads" : ""}`,
    faults: result.faults,
    violations: result.violations,
  };
  const struck = Object.fromEntries(result.struck.map((kind) => [kind, 0]));
  for (const kind of result.struck) struck[kind] = (struck[kind] ?? 0) + 1;
  const { counts, risks } = result;
  const isBad = result.violations.length > 0;
  return { seeds: 1, counts, risks, struck, failed: isBad ? [failed] : [] };
}

export function addTally(to: Tally, from: Tally): void {
  to.seeds += from.seeds;
  for (const name of Object.keys(to.counts) as Count[]) to.counts[name] += from.counts[name];
  for (const rule of ["guarded", "simple"] as const) {
    to.risks[rule].tests += from.risks[rule].tests;
    to.risks[rule].passes += from.risks[rule].passes;
  }
  for (const [kind, times] of Object.entries(from.struck)) to.struck[kind] = (to.struck[kind] ?? 0) + times;
  to.failed.push(...from.failed);
}

/** Tests of units truly beyond a limit, held against the risk that the limit files state for a unit right at it. */
export function riskOf({ risks }: Tally): { readonly text: string; readonly isKept: boolean } {
  const rules = [
    { rule: "guarded acceptance", count: risks.guarded, risk: GUARDED_RISK + EARLY_RISK },
    { rule: "simple acceptance", count: risks.simple, risk: SIMPLE_RISK + EARLY_RISK },
  ].map(({ rule, count: { tests, passes }, risk }) => ({
    text: `${passes} of ${tests} valid tests of units beyond a limit passed by ${rule}, stated risk at the limit ${(100 * risk).toFixed(1)} %`,
    isKept: atLeast(passes, tests, risk) >= UNBELIEVABLE,
  }));
  return { text: rules.map(({ text }) => text).join("; "), isKept: rules.every(({ isKept }) => isKept) };
}

export function failedText({ seed, variant, faults, violations }: FailedSeed): string {
  return [
    `seed ${seed} FAILED (${variant}); replay it with --first ${seed} --seeds 1 --verbose`,
    ...faults.map((fault) => `    drew: ${fault}`),
    ...[...timesOf(violations.map(({ invariant, text }) => `    ${invariant}: ${text}`))].map(
      ([line, times]) => (times > 1 ? `${line} (${times} times)` : line),
    ),
    "",
  ].join("\n");
}

function timesOf(lines: readonly string[]): ReadonlyMap<string, number> {
  const times = new Map<string, number>();
  for (const line of lines) times.set(line, (times.get(line) ?? 0) + 1);
  return times;
}

export function summaryText(tally: Tally, took_s: number): string {
  const { seeds, counts, struck } = tally;
  const kinds = Object.entries(struck).sort(([a], [b]) => (a < b ? -1 : 1));
  return [
    `${seeds} shifts, ${(counts.simulated_s / 3600).toFixed(1)} h of simulated time in ${took_s.toFixed(0)} s`,
    `${counts.attempts} tests begun: ${counts.pass} passed, ${counts.fail} failed, ${counts.void} void as told; ${counts.holds} holds, ${counts.holds_by_hand} by hand`,
    `${counts.programs} program starts, ${counts.crashes} crashes, ${counts.faults} faults: ${kinds.map(([kind, times]) => `${kind} ${times}`).join(", ")}`,
    riskOf(tally).text,
    `${tally.failed.length} of ${seeds} seeds failed${failedSeeds(tally)}`,
    "",
  ].join("\n");
}

/** Which, in order; they were printed as they were found. */
function failedSeeds({ failed }: Tally): string {
  if (failed.length === 0) return "";
  const seeds = failed.map(({ seed }) => seed).sort((a, b) => a - b);
  const more = seeds.length > NAMED ? ` and ${seeds.length - NAMED} more` : "";
  return `: ${seeds.slice(0, NAMED).join(", ")}${more}`;
}
