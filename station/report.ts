import { escaped } from "../limits/escaped-text.ts";
import { formatNumber } from "../limits/print-quantity.ts";
import type { Reason } from "./cycle/reason.ts";
import type { UnitProgress } from "./cycle/unit-progress.ts";
import { isKnown } from "./cycle/unit-reasons.ts";
import { doneSentence, type StudyNow } from "./guided-study/study-guide.ts";
import type { SignedIn } from "./people/person.ts";
import type { EarlyWarning } from "./quality/early-warning/early-warning.ts";
import { changeText } from "./quality/early-warning/warning-words.ts";
import type { FinishedAttempt } from "./recording.ts";
import type { Disposition } from "./records/disposition.ts";
import { decidedEarly } from "./records/early-verdict-text.ts";
import { failureNames } from "./records/failure-names.ts";
import type { Traveller } from "./records/traveller.ts";
import { airflowText, numberText, shortReason, shortUnit, suspectText, withLimit } from "./report-text.ts";
import { stopWords } from "./stop-words.ts";

/** Tells of a run as it goes: lines for people or events for programs. */
export interface Reporter {
  phase(serial: string, progress: UnitProgress): void;
  unit(finished: FinishedAttempt): void;
  reference(finished: FinishedAttempt): void;
  /** Where the study is now that is measured. */
  study(now: StudyNow): void;
  refused(serial: string, reasons: readonly Reason[]): void;
  faulted(reasons: readonly Reason[], areOutputsSafe: boolean): void;
  signedIn(who: SignedIn): void;
  signedOut(who: SignedIn): void;
  held(disposition: Disposition): void;
  warned(sentence: string): void;
  drifting(warnings: readonly EarlyWarning[]): void;
  interrupted(travellers: readonly { readonly traveller: Traveller; readonly path: string }[]): void;
  summary(tally: Tally, recordsFolder: string): void;
}

type Characteristic = Traveller["characteristics"][number];

/** Counts of a run; a unit counts once, by its first valid verdict. */
export class Tally {
  tested = 0;
  /** For a study: they count as nothing else. Null where production is tested. */
  studied: number | null = null;
  refused = 0;
  faults = 0;
  readonly verdicts = { pass: 0, fail: 0, void: 0 };
  readonly failures = new Map<string, number>();
  /** By unit, what its first failure was suspected of before anything else; null where nothing was. */
  readonly #suspected = new Map<string, string | null>();
  /** Serials alone: a run may take months. */
  readonly #inspected = new Set<string>();
  #firstPassed = 0;

  add({ attempt, traveller, against }: FinishedAttempt): void {
    if (attempt.study) {
      this.studied = (this.studied ?? 0) + 1;
      return;
    }
    this.tested++;
    this.verdicts[traveller.verdict]++;
    if (traveller.verdict === "fail") {
      for (const cause of failureNames(traveller))
        this.failures.set(cause, (this.failures.get(cause) ?? 0) + 1);
      if (!this.#suspected.has(attempt.serial)) {
        this.#suspected.set(attempt.serial, traveller.suspects?.[0]?.cause ?? null);
      }
    }
    if (traveller.verdict !== "void" && !attempt.isDraft && !this.#inspected.has(attempt.serial)) {
      this.#inspected.add(attempt.serial);
      const isGood = traveller.verdict === "pass" && against === undefined;
      if (isGood && attempt.kind === "first") this.#firstPassed++;
    }
  }

  get inspected(): number {
    return this.#inspected.size;
  }

  get firstPassed(): number {
    return this.#firstPassed;
  }

  /** Failed units by first suspect, the most frequent first; a unit that failed again at its retest counts once. */
  get suspected(): ReadonlyMap<string, number> {
    const counts = new Map<string, number>();
    for (const cause of this.#suspected.values()) {
      if (cause !== null) counts.set(cause, (counts.get(cause) ?? 0) + 1);
    }
    return new Map([...counts].sort((a, b) => b[1] - a[1]));
  }

  /** Failed units that no rule fits. */
  get notSuspected(): number {
    return [...this.#suspected.values()].filter((cause) => cause === null).length;
  }

  /** Good at first inspection by inspected (ISO 22400-2, from memory); null when nothing was inspected. */
  get firstPassYield(): number | null {
    return this.inspected === 0 ? null : this.firstPassed / this.inspected;
  }
}

/** As long as the demo's longest serial of a reference piece, so that their verdicts stand below each other. */
const PIECE_COLUMNS = "REF-ORIFICE-TUB-12".length;

/** A station without a screen has no key to acknowledge with: whoever scans has looked. */
const GO_ON = "The next scan acknowledges this, and connects to every instrument afresh.";
const GO_ON_AGAIN =
  "Mend that, then scan again: each scan acknowledges, and connects to every instrument afresh.";

/** Lines for people, one per unit. */
export class LineReporter implements Reporter {
  readonly #write: (text: string) => void;
  /** Sentences of the newest line of a void attempt. */
  #told: readonly Reason[] = [];
  constructor(write: (text: string) => void) {
    this.#write = (text) => write(`${escaped(text)}\n`);
  }

  /** A line per unit is what people asked for. */
  phase(): void {}

  unit({ attempt, traveller, against }: FinishedAttempt): void {
    const leak = traveller.characteristics.find((it) => it.measurand === "leak_rate");
    const cells = [
      traveller.serial.padEnd(11),
      traveller.model.padEnd(8),
      `${markOf(traveller)}${traveller.verdict.toUpperCase()}`.padEnd(5),
      (leak ? `leak ${withLimit(leak)}` : "no leak step").padEnd(49),
      airflowText(traveller).padEnd(22),
      traveller.attempt.number > 1
        ? `(attempt ${traveller.attempt.number}${attempt.isAfterHold ? ", was held" : ""})`
        : "",
      [shortReason(traveller), suspectText(traveller)].filter((text) => text !== "").join("; "),
    ].filter((cell) => cell !== "");
    this.#write(cells.join(" ").trimEnd());
    if (against !== undefined) this.#write(`DO NOT SEND ON: ${against}`);
    this.#told = toldOf(traveller);
  }

  reference({ traveller }: FinishedAttempt): void {
    const leak = traveller.characteristics[0];
    const certified = traveller.reference;
    const value = leak ? `${numberText(leak)} ${shortUnit(leak.unit)}` : "not measured";
    const against = certified
      ? `certified ${formatNumber(certified.certified_value)} +- ${formatNumber(certified.tolerance)}`
      : "";
    this.#write(
      `${traveller.serial.padEnd(PIECE_COLUMNS)} reference ${markOf(traveller)}${traveller.verdict.toUpperCase()}  ${value}, ${against}  ${shortReason(traveller)}`.trimEnd(),
    );
    this.#told = toldOf(traveller);
  }

  study(now: StudyNow): void {
    this.#write(studyText(now));
  }

  refused(serial: string, reasons: readonly Reason[]): void {
    for (const { code, sentence } of reasons) {
      const goOn = code === "STATION_FAULTED" ? ` ${GO_ON_AGAIN}` : "";
      this.#write(`${serial || "station"}: not started. ${sentence}${goOn}`);
    }
  }

  /** In one line, without what the attempt's line above has said. */
  faulted(reasons: readonly Reason[], areOutputsSafe: boolean): void {
    if (reasons.length === 0) return;
    const { what } = stopWords(
      reasons.map(({ code }) => code),
      areOutputsSafe,
    );
    const sentences = reasons
      .filter((reason) => !isKnown(reason, this.#told))
      .map(({ sentence }) => sentence);
    // Only an engineer may, where people sign in.
    const goOn = reasons.some(({ code }) => code === "SAME_FAIL_IN_A_ROW") ? [] : [GO_ON];
    this.#write([`STOPPED, ${what}.`, ...sentences, ...goOn].join(" "));
    this.#told = [];
  }

  signedIn({ name, role }: SignedIn): void {
    if (name !== null) this.#write(`Signed in: ${name}${role === null ? "" : `, ${role}`}.`);
  }

  signedOut({ name }: SignedIn): void {
    if (name !== null) this.#write(`Signed out: ${name}.`);
  }

  held({ reason, units }: Disposition): void {
    const serials = [...new Set(units.map(({ serial }) => serial))];
    const count = serials.length === 1 ? "1 unit" : `${serials.length} units`;
    this.#write(`ON HOLD, ${count}: ${serials.join(", ")}. ${reason.sentence}`);
  }

  warned(sentence: string): void {
    this.#write(`Look into this soon: ${sentence}`);
  }

  drifting(warnings: readonly EarlyWarning[]): void {
    for (const it of warnings) this.#write(`Early warning: ${it.sentence} ${changeText(it)}`);
  }

  interrupted(travellers: readonly { readonly traveller: Traveller; readonly path: string }[]): void {
    for (const { traveller, path } of travellers) {
      this.#write(
        `${traveller.serial}: attempt ${traveller.attempt.number} was interrupted and is void (${path}).`,
      );
    }
  }

  summary(tally: Tally, recordsFolder: string): void {
    const { tested, verdicts, failures, suspected, notSuspected, inspected, firstPassed, firstPassYield } =
      tally;
    this.#write("");
    if (tally.studied !== null) {
      this.#write(`Measured for a study: ${tally.studied}. None of them counts as a test of a unit.`);
      if (tested === 0) {
        if (tally.refused > 0) this.#write(`Not started: ${tally.refused}.`);
        this.#write(`Travellers in ${recordsFolder}`);
        return;
      }
    }
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
    if (suspected.size > 0) {
      const causes = [...suspected].map(([cause, count]) => `${cause} ${count}`);
      if (notSuspected > 0) causes.push(`no suspect ${notSuspected}`);
      this.#write(`Failed units by first suspect: ${causes.join(", ")}.`);
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

  phase(serial: string, { phase, step, point }: UnitProgress): void {
    this.#write({
      event: "phase",
      serial,
      phase,
      ...(step === null ? {} : { step: step.name }),
      ...(point === null ? {} : { point: point.name }),
    });
  }

  unit(finished: FinishedAttempt): void {
    this.#attempt("unit", finished);
  }

  reference(finished: FinishedAttempt): void {
    this.#attempt("reference", finished);
  }

  study({ name, of, next, evaluate }: StudyNow): void {
    const study = { study: name, of };
    this.#write(
      next ? { event: "study_next", ...study, ...next } : { event: "study_complete", ...study, evaluate },
    );
  }

  refused(serial: string, reasons: readonly Reason[]): void {
    this.#write({ event: "refused", serial, reasons });
  }

  faulted(reasons: readonly Reason[]): void {
    this.#write({ event: "fault", reasons });
  }

  signedIn({ name, role, how }: SignedIn): void {
    if (name !== null) this.#write({ event: "signed_in", name, role, sign_in: how });
  }

  signedOut({ name }: SignedIn): void {
    if (name !== null) this.#write({ event: "signed_out", name });
  }

  held({ reason, units, reference, at }: Disposition): void {
    this.#write({ event: "held", at, reason, reference, units });
  }

  warned(sentence: string): void {
    this.#write({ event: "warning", sentence });
  }

  drifting(warnings: readonly EarlyWarning[]): void {
    for (const it of warnings) this.#write({ event: "early_warning", ...it });
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
      ...(tally.studied !== null ? { studied: tally.studied } : {}),
      verdicts: tally.verdicts,
      not_started: tally.refused,
      inspected: tally.inspected,
      first_passed: tally.firstPassed,
      first_pass_yield: tally.firstPassYield,
      failures: Object.fromEntries(tally.failures),
      first_suspects: Object.fromEntries(tally.suspected),
      failed_without_suspect: tally.notSuspected,
      records: recordsFolder,
    });
  }

  #attempt(
    kind: "unit" | "reference",
    { attempt, traveller, path, seconds, against }: FinishedAttempt,
  ): void {
    const { study } = traveller;
    this.#write({
      // Whoever counts units must not count these.
      ...(study ? { event: "study_attempt", study } : { event: kind }),
      serial: traveller.serial,
      model: traveller.model,
      attempt: traveller.attempt.number,
      verdict: traveller.verdict,
      // Counts instead of a test that a failed reference check put in doubt.
      ...(attempt.isAfterHold ? { after_hold: true } : {}),
      // Held or scrapped meanwhile: not to be sent on, whatever the verdict.
      ...(against === undefined ? {} : { do_not_send_on: against }),
      reasons: traveller.reasons,
      traveller: path,
      seconds,
      characteristics: traveller.characteristics.map((it) => ({
        name: it.name,
        measurand: it.measurand,
        ...(it.point === undefined ? {} : { point: it.point }),
        value: it.value,
        unit: it.unit,
        uncertainty: it.uncertainty,
        verdict: it.verdict,
        ...(it.lower === undefined ? {} : { lower: it.lower }),
        ...(it.upper === undefined ? {} : { upper: it.upper }),
        conformance: it.conformance,
        ...decisionOf(it),
      })),
      suspects: traveller.suspects ?? [],
      airflow: (traveller.airflow ?? []).map(airflowOf),
      draft: traveller.draft,
      parts: traveller.parts,
    });
  }
}

function markOf({ study, draft }: Traveller): string {
  if (study) return `STUDY ${study.name} ${study.run}/${study.of} `;
  return draft ? "DRAFT " : "";
}

/** @example "Study RR-1, 7 of 90: put TUB531812 on and scan it. Appraiser B. Reyes, trial 1." */
function studyText(now: StudyNow): string {
  const { name, of, next } = now;
  if (!next) return doneSentence(now);
  const { run, part, appraiser, trial } = next;
  return `Study ${name}, ${run} of ${of}: put ${part} on and scan it. Appraiser ${appraiser}, trial ${trial}.`;
}

function toldOf({ verdict, reasons }: Traveller): readonly Reason[] {
  return verdict === "void" ? (reasons as readonly Reason[]) : [];
}

function decisionOf(characteristic: Characteristic) {
  const early = decidedEarly(characteristic);
  return early ? { decided_early: { after_fill_s: early.afterFill_s, look: early.look } } : {};
}

/** Results alone: readings and budgets stand in the traveller. */
function airflowOf({ step, air, stated_at, points, curve }: NonNullable<Traveller["airflow"]>[number]) {
  return {
    step,
    density_kg_m3: air.density_kg_m3,
    stated_at,
    points: points.map(({ readings: _, samples: __, ...results }) => results),
    curve,
  };
}
