import { formatMeasured, formatNumber } from "../limits/print-quantity.ts";
import type { FinishedAttempt } from "./controller.ts";
import type { Reason } from "./cycle/reason.ts";
import { decidedEarly, secondsText } from "./records/early-verdict-text.ts";
import type { Traveller } from "./records/traveller.ts";

/** Tells of a run as it goes: lines for people or events for programs. */
export interface Reporter {
  phase(serial: string, phase: string): void;
  unit(finished: FinishedAttempt): void;
  reference(finished: FinishedAttempt): void;
  refused(serial: string, reasons: readonly Reason[]): void;
  faulted(reasons: readonly Reason[]): void;
  interrupted(travellers: readonly { readonly traveller: Traveller; readonly path: string }[]): void;
  summary(tally: Tally, recordsFolder: string): void;
}

type Characteristic = Traveller["characteristics"][number];

/** Counts of a run; a unit counts once, by its first valid verdict. */
export class Tally {
  tested = 0;
  refused = 0;
  faults = 0;
  readonly verdicts = { pass: 0, fail: 0, void: 0 };
  readonly failures = new Map<string, number>();
  #inspected = new Map<string, { firstPassed: boolean }>();

  add({ attempt, traveller }: FinishedAttempt): void {
    this.tested++;
    this.verdicts[traveller.verdict]++;
    if (traveller.verdict === "fail") {
      for (const cause of failureNames(traveller))
        this.failures.set(cause, (this.failures.get(cause) ?? 0) + 1);
    }
    if (traveller.verdict !== "void" && !attempt.isDraft && !this.#inspected.has(attempt.serial)) {
      this.#inspected.set(attempt.serial, {
        firstPassed: traveller.verdict === "pass" && attempt.kind === "first",
      });
    }
  }

  get inspected(): number {
    return this.#inspected.size;
  }

  get firstPassed(): number {
    return [...this.#inspected.values()].filter((unit) => unit.firstPassed).length;
  }

  /** Good at first inspection by inspected (ISO 22400-2, from memory); null when nothing was inspected. */
  get firstPassYield(): number | null {
    return this.inspected === 0 ? null : this.firstPassed / this.inspected;
  }
}

/** What a terminal might obey instead of showing it: control and formatting characters, halves of characters. */
const NOT_SHOWN = /[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu;

/** Lines for people, one per unit. */
export class LineReporter implements Reporter {
  readonly #write: (text: string) => void;
  constructor(write: (text: string) => void) {
    this.#write = (text) => write(`${text.replace(NOT_SHOWN, escaped)}\n`);
  }

  /** A line per unit is what people asked for. */
  phase(): void {}

  unit({ traveller }: FinishedAttempt): void {
    const leak = traveller.characteristics.find((it) => it.measurand === "leak_rate");
    const suction = traveller.characteristics.find((it) => it.measurand === "suction");
    const cells = [
      traveller.serial.padEnd(11),
      traveller.model.padEnd(8),
      `${traveller.draft ? "DRAFT " : ""}${traveller.verdict.toUpperCase()}`.padEnd(5),
      (leak ? `leak ${withLimit(leak)}` : "no leak step").padEnd(49),
      (suction ? `suction ${plainText(suction)}` : "no airflow step").padEnd(20),
      traveller.attempt.number > 1 ? `(attempt ${traveller.attempt.number})` : "",
      shortReason(traveller),
    ].filter((cell) => cell !== "");
    this.#write(cells.join(" ").trimEnd());
  }

  reference({ traveller }: FinishedAttempt): void {
    const leak = traveller.characteristics[0];
    const certified = traveller.reference;
    const value = leak ? `${numberText(leak)} ${shortUnit(leak.unit)}` : "not measured";
    const against = certified
      ? `certified ${formatNumber(certified.certified_value)} +- ${formatNumber(certified.tolerance)}`
      : "";
    this.#write(
      `${traveller.serial.padEnd(17)} reference ${traveller.verdict.toUpperCase()}  ${value}, ${against}  ${shortReason(traveller)}`.trimEnd(),
    );
  }

  refused(serial: string, reasons: readonly Reason[]): void {
    for (const reason of reasons) this.#write(`${serial || "station"}: not started. ${reason.sentence}`);
  }

  faulted(reasons: readonly Reason[]): void {
    for (const reason of reasons) this.#write(`STOPPED, outputs safe. ${reason.sentence}`);
  }

  interrupted(travellers: readonly { readonly traveller: Traveller; readonly path: string }[]): void {
    for (const { traveller, path } of travellers) {
      this.#write(
        `${traveller.serial}: attempt ${traveller.attempt.number} was interrupted and is void (${path}).`,
      );
    }
  }

  summary(tally: Tally, recordsFolder: string): void {
    const { tested, verdicts, failures, inspected, firstPassed, firstPassYield } = tally;
    this.#write("");
    this.#write(
      `Tested ${tested}: ${verdicts.pass} pass, ${verdicts.fail} fail, ${verdicts.void} void` +
        `${tally.refused > 0 ? `; ${tally.refused} not started` : ""}.`,
    );
    const yieldText = firstPassYield === null ? "none inspected" : `${(100 * firstPassYield).toFixed(1)} %`;
    this.#write(`First pass yield ${yieldText} (${firstPassed} of ${inspected} units).`);
    if (failures.size > 0) {
      const causes = [...failures].sort((a, b) => b[1] - a[1]).map(([cause, count]) => `${cause} ${count}`);
      this.#write(`Failures by reason: ${causes.join(", ")}.`);
    }
    this.#write(`Travellers in ${recordsFolder}`);
  }
}

/** One JSON object per line. */
export class EventReporter implements Reporter {
  readonly #write: (event: object) => void;
  constructor(write: (text: string) => void) {
    this.#write = (event) => write(`${JSON.stringify(event)}\n`);
  }

  phase(serial: string, phase: string): void {
    this.#write({ event: "phase", serial, phase });
  }

  unit(finished: FinishedAttempt): void {
    this.#attempt("unit", finished);
  }

  reference(finished: FinishedAttempt): void {
    this.#attempt("reference", finished);
  }

  refused(serial: string, reasons: readonly Reason[]): void {
    this.#write({ event: "refused", serial, reasons });
  }

  faulted(reasons: readonly Reason[]): void {
    this.#write({ event: "fault", reasons });
  }

  interrupted(travellers: readonly { readonly traveller: Traveller; readonly path: string }[]): void {
    for (const { traveller, path } of travellers) {
      const { serial, model, attempt, verdict, reasons } = traveller;
      this.#write({
        event: "interrupted",
        serial,
        model,
        attempt: attempt.number,
        verdict,
        reasons,
        traveller: path,
      });
    }
  }

  summary(tally: Tally, recordsFolder: string): void {
    this.#write({
      event: "summary",
      tested: tally.tested,
      verdicts: tally.verdicts,
      not_started: tally.refused,
      inspected: tally.inspected,
      first_passed: tally.firstPassed,
      first_pass_yield: tally.firstPassYield,
      failures: Object.fromEntries(tally.failures),
      records: recordsFolder,
    });
  }

  #attempt(event: "unit" | "reference", { traveller, path, seconds }: FinishedAttempt): void {
    this.#write({
      event,
      serial: traveller.serial,
      model: traveller.model,
      attempt: traveller.attempt.number,
      verdict: traveller.verdict,
      reasons: traveller.reasons,
      traveller: path,
      seconds,
      characteristics: traveller.characteristics.map((it) => ({
        name: it.name,
        value: it.value,
        unit: it.unit,
        uncertainty: it.uncertainty,
        verdict: it.verdict,
        ...(it.lower === undefined ? {} : { lower: it.lower }),
        ...(it.upper === undefined ? {} : { upper: it.upper }),
        conformance: it.conformance,
        ...decisionOf(it),
      })),
      draft: traveller.draft,
      parts: traveller.parts,
    });
  }
}

function decisionOf(characteristic: Characteristic) {
  const early = decidedEarly(characteristic);
  return early ? { decided_early: { after_fill_s: early.afterFill_s, look: early.look } } : {};
}

/** @example escaped("\x1b") // "\\u001b" */
function escaped(character: string): string {
  const code = character.codePointAt(0) ?? 0;
  return code > 0xffff ? `\\u{${code.toString(16)}}` : `\\u${code.toString(16).padStart(4, "0")}`;
}

/** @returns what failed, in the words the Pareto counts: characteristics out of limits, else the finding itself */
function failureNames(traveller: Traveller): string[] {
  const found = traveller.reasons
    .filter((reason) => reason.code !== "OUT_OF_LIMITS")
    .map((reason) => reason.code.toLowerCase().replaceAll("_", " "));
  const out = traveller.characteristics
    .filter((it) => it.verdict === "fail" && it.uncertainty !== null)
    .map((it) => it.name.replaceAll("_", " "));
  return [...found, ...out];
}

/** @example withLimit(leak) // "6 +- 27 (<= 60, sure after 6.3 s) mL/min", without these words where it was measured to the end */
function withLimit(characteristic: Characteristic): string {
  const { lower, upper, unit } = characteristic;
  const early = decidedEarly(characteristic);
  const limits = [
    lower === undefined ? "" : `>= ${formatNumber(lower)}`,
    upper === undefined ? "" : `<= ${formatNumber(upper)}`,
    early === null ? "" : `sure after ${secondsText(early.afterFill_s)}`,
  ].filter((text) => text !== "");
  return `${numberText(characteristic)} (${limits.join(", ")}) ${shortUnit(unit)}`;
}

/** @example numberText(leak) // "34.3 +- 1.7", U with k = 2 */
function numberText({ value, uncertainty, expanded_uncertainty, lower, upper }: Characteristic): string {
  if (value === null) return "not measured";
  if (uncertainty === null || expanded_uncertainty === null) return `about ${Number(value.toPrecision(2))}`;
  const comparedWith = [lower, upper].filter((limit) => limit !== undefined);
  const text = formatMeasured({ value, uncertainty: expanded_uncertainty, comparedWith });
  return `${text.value} +- ${text.uncertainty}`;
}

/** Without uncertainty, but with as many digits as it takes to tell the value from its limits. */
function plainText({ value, unit, lower, upper }: Characteristic): string {
  if (value === null) return "not measured";
  const comparedWith = [lower, upper].filter((limit) => limit !== undefined);
  return `${formatMeasured({ value, comparedWith }).value} ${shortUnit(unit)}`;
}

function shortReason(traveller: Traveller): string {
  if (traveller.verdict === "fail") {
    const close = new Set(
      traveller.characteristics.filter((it) => isWithinLimits(it)).map((it) => it.name.replaceAll("_", " ")),
    );
    return failureNames(traveller)
      .map((name) => (close.has(name) ? `${name} too close to its limit` : name))
      .join(", ");
  }
  return traveller.reasons.map((reason) => reason.sentence).join(" ");
}

/** Within its limits and yet failed means: not by enough to be sure. */
function isWithinLimits({ value, lower, upper }: Characteristic): boolean {
  return value !== null && value >= (lower ?? value) && value <= (upper ?? value);
}

/** Reference conditions stand in the traveller; a line for people has no room for them. */
function shortUnit(unit: string): string {
  return unit.split(" @ ")[0] ?? unit;
}
