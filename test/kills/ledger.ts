import { createHash } from "node:crypto";
import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import type { ModelLimits } from "../../limits/model.ts";
import type { Population } from "../../sim/population.ts";
import { verifyChain } from "../../station/records/chain.ts";
import { REAL_DISK } from "../../station/records/disk.ts";
import { type AttemptSummary, RecordIndex } from "../../station/records/index-db.ts";
import { IndexedAttempts } from "../../station/records/indexed-attempts.ts";
import { listRecords, OPEN_FOLDER } from "../../station/records/record-name.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { incompleteEvidence } from "../faults/pass-evidence.ts";
import { noRisks, weigh } from "../faults/risk.ts";
import type { Told } from "./victim.ts";

/** A note of an attempt that was begun, as it lies in the records folder. */
interface Intent {
  readonly id: string;
  readonly serial: string;
  readonly attempt: number;
}

/** What a kill left of the writing order. */
export type Left =
  | "nothing open"
  | "an attempt open"
  | "an attempt open, its traveller half written"
  | "a traveller and its open attempt";

/** What was tested, where it is recorded, and what it really was. */
export interface Tested {
  readonly records: string;
  readonly models: readonly ModelLimits[];
  readonly population: Population;
}

/** Serials are looked for among so many first units. */
const UNITS_MOST = 10_000;

interface Recorded {
  readonly path: string;
  readonly sha256: string;
  readonly traveller: Traveller;
}

/**
 * What must be in a records folder, by what was seen from outside: told on standard output, on disk before, or true of the
 * unit. Each look compares; what it finds wrong it says in a sentence.
 */
export class Ledger {
  readonly #folder: string;
  readonly #tested: Tested;
  /** Hash by path, of every traveller seen before. */
  readonly #seen = new Map<string, string>();
  /** Attempts each serial had when somebody last looked, recorded or open. */
  readonly #attempts = new Map<string, number>();
  /** Open attempts without a traveller that the next start has to make void. */
  #owed: readonly Intent[] = [];

  constructor(tested: Tested) {
    this.#folder = tested.records;
    this.#tested = tested;
  }

  get travellers(): number {
    return this.#seen.size;
  }

  /** By verdict. */
  readonly verdicts = { pass: 0, fail: 0, void: 0 };
  interrupted = 0;

  /**
   * After a program has ended, however it did.
   * @param told what it had told of
   * @returns what it left of the writing order, and sentences on what is wrong
   */
  async look(told: readonly Told[]): Promise<{ readonly left: Left; readonly wrong: readonly string[] }> {
    const wrong: string[] = [];
    const recorded = await this.#travellers(wrong);
    const intents = this.#intents(wrong);
    const byId = new Map(recorded.map((it) => [it.traveller.id, it]));
    const open = intents.filter(({ id }) => !byId.has(id));
    this.#lookAtOwed(told, open, byId, wrong);
    this.#lookAtAttempts(told, recorded, open, wrong);
    lookAtVerdicts(told, recorded, wrong);
    for (const log of ["events", "dispositions"]) await this.#lookAtLog(log, wrong);
    this.#owed = open;
    const isHalf = this.#parts().length > 0;
    const left: Left =
      intents.length > open.length
        ? "a traveller and its open attempt"
        : open.length === 0
          ? "nothing open"
          : isHalf
            ? "an attempt open, its traveller half written"
            : "an attempt open";
    return { left, wrong };
  }

  /** After a program that ended in good order: nothing is open, and the index says what the files say. */
  async lookWhenClosed(): Promise<readonly string[]> {
    const wrong: string[] = [];
    if (this.#intents(wrong).length > 0)
      wrong.push("An attempt is open after a program that ended in good order.");
    if (this.#parts().length > 0)
      wrong.push("A half-written file was left by a program that ended in good order.");
    const index = RecordIndex.open(this.#folder);
    const asIs = index.after(0);
    index.close();
    const anew = await rebuilt(this.#folder);
    if (JSON.stringify(asIs) !== JSON.stringify(anew)) {
      wrong.push(`The index holds ${asIs.length} attempts and differs from one made anew of ${anew.length}.`);
    }
    return wrong;
  }

  async #travellers(wrong: string[]): Promise<Recorded[]> {
    // It is made at the first start, and a station may be killed before.
    const there = existsSync(this.#folder) ? await listRecords(this.#folder) : [];
    const files = there.map(({ path }) => ({
      path,
      bytes: readFileSync(join(this.#folder, path)),
    }));
    const chain = await verifyChain(files);
    if (!chain.ok) wrong.push(`The chain is broken at ${chain.path}: ${chain.problem}.`);
    const recorded = files.map(({ path, bytes }) => ({
      path,
      sha256: createHash("sha256").update(bytes).digest("hex"),
      traveller: Traveller.parse(JSON.parse(bytes.toString())),
    }));
    const found = new Map(recorded.map(({ path, sha256 }) => [path, sha256]));
    for (const [path, sha256] of this.#seen) {
      if (found.get(path) !== sha256) wrong.push(`${path} was there before and is gone or another one now.`);
    }
    for (const { path, sha256, traveller } of recorded) {
      if (this.#seen.has(path)) continue;
      this.#seen.set(path, sha256);
      this.verdicts[traveller.verdict]++;
      if (traveller.reasons.some(({ code }) => code === "INTERRUPTED")) this.interrupted++;
      wrong.push(...this.#lookAtPass(traveller));
    }
    if (new Set(recorded.map(({ traveller }) => traveller.id)).size < recorded.length) {
      wrong.push("An attempt has two travellers.");
    }
    return recorded;
  }

  /** A pass has everything its limit file asks for, and its unit is not truly beyond a limit by more than any measurement errs. */
  #lookAtPass(traveller: Traveller): string[] {
    const { serial, model, verdict, reference } = traveller;
    if (verdict !== "pass" || reference) return [];
    const { models, population } = this.#tested;
    const limits = models.find((one) => one.model === model);
    const index = population.indexOf(serial, UNITS_MOST);
    if (!limits || index === null) return [`${serial} passed, and there is no such unit.`];
    return [
      ...incompleteEvidence(traveller, limits).map((lacks) => `${serial} passed without evidence: ${lacks}.`),
      ...weigh(traveller, population.unitAt(index), limits, noRisks()).map(({ text }) => `${text}.`),
    ];
  }

  #intents(wrong: string[]): Intent[] {
    return namesIn(join(this.#folder, OPEN_FOLDER))
      .filter((name) => name.endsWith(".json"))
      .flatMap((name) => {
        try {
          const { id, facts } = JSON.parse(readFileSync(join(this.#folder, OPEN_FOLDER, name), "utf8"));
          return [{ id, serial: facts.serial, attempt: facts.attempt.number }];
        } catch {
          wrong.push(`The note of an open attempt, ${name}, can't be read.`);
          return [];
        }
      });
  }

  #parts(): string[] {
    return namesIn(join(this.#folder, OPEN_FOLDER)).filter((name) => name.endsWith(".part"));
  }

  /** A start that came as far as a scan has made every attempt void that it found open. */
  #lookAtOwed(
    told: readonly Told[],
    open: readonly Intent[],
    byId: ReadonlyMap<string, Recorded>,
    wrong: string[],
  ): void {
    const hasStarted = told.some(({ event }) => ["phase", "refused", "unit", "summary"].includes(event));
    for (const { id, serial, attempt } of this.#owed) {
      const isOpen = open.some((one) => one.id === id);
      const traveller = byId.get(id)?.traveller;
      if (isOpen && hasStarted) wrong.push(`Attempt ${attempt} of ${serial} is still open after a start.`);
      if (!isOpen && !traveller) wrong.push(`Attempt ${attempt} of ${serial} is lost.`);
      if (traveller && !(traveller.verdict === "void" && traveller.reasons[0]?.code === "INTERRUPTED")) {
        wrong.push(`Attempt ${attempt} of ${serial} was cut off and is recorded as ${traveller.verdict}.`);
      }
    }
  }

  /** Every attempt that was seen to begin is there once, and its number follows the one before. */
  #lookAtAttempts(
    told: readonly Told[],
    recorded: readonly Recorded[],
    open: readonly Intent[],
    wrong: string[],
  ): void {
    const numbers = new Map<string, number[]>();
    const add = (serial: string, number: number) =>
      numbers.set(serial, [...(numbers.get(serial) ?? []), number]);
    for (const { traveller } of recorded) add(traveller.serial, traveller.attempt.number);
    for (const { serial, attempt } of open) add(serial, attempt);
    for (const [serial, found] of numbers) {
      const inOrder = found.sort((a, b) => a - b);
      if (inOrder.some((number, at) => number !== at + 1)) {
        wrong.push(`${serial} has the attempts ${inOrder.join(", ")}, where they should count from 1.`);
      }
    }
    const begins = beginsOf(told);
    for (const serial of new Set([...numbers.keys(), ...begins.keys(), ...this.#attempts.keys()])) {
      const now = numbers.get(serial)?.length ?? 0;
      const before = this.#attempts.get(serial) ?? 0;
      const { sure, perhaps } = begins.get(serial) ?? { sure: 0, perhaps: 0 };
      if (now < before + sure || now > before + sure + perhaps) {
        wrong.push(
          `${serial} has ${now} attempts; it had ${before}, and ${sure} to ${sure + perhaps} have begun since.`,
        );
      }
      this.#attempts.set(serial, now);
    }
  }

  async #lookAtLog(log: string, wrong: string[]): Promise<void> {
    const files = namesIn(join(this.#folder, log))
      .filter((name) => /^\d+\.json$/.test(name))
      .sort()
      .map((name) => ({ path: join(log, name), bytes: readFileSync(join(this.#folder, log, name)) }));
    const chain = await verifyChain(files);
    if (!chain.ok) wrong.push(`The chain of ${log} is broken at ${chain.path}: ${chain.problem}.`);
  }
}

/** What was announced is on disk as it was announced. */
function lookAtVerdicts(told: readonly Told[], recorded: readonly Recorded[], wrong: string[]): void {
  for (const { event, traveller: path, serial, attempt, verdict } of told) {
    if (event !== "unit" && event !== "interrupted" && event !== "reference") continue;
    const found = recorded.find((it) => basename(it.path) === basename(String(path)))?.traveller;
    const isSame =
      found?.serial === serial && found?.attempt.number === attempt && found?.verdict === verdict;
    if (!isSame) wrong.push(`${serial} was told of as ${verdict}, and its traveller is not on disk as that.`);
  }
}

/** The phase "opening" is told before the attempt is on disk, every other one after. */
function beginsOf(told: readonly Told[]): Map<string, { sure: number; perhaps: number }> {
  const begins = new Map<string, { sure: number; perhaps: number }>();
  for (const { event, serial, phase } of told) {
    if (event !== "phase") continue;
    const one = begins.get(String(serial)) ?? { sure: 0, perhaps: 0 };
    begins.set(String(serial), one);
    if (phase === "opening") one.perhaps++;
    else if (one.perhaps > 0) {
      one.perhaps--;
      one.sure++;
    }
  }
  return begins;
}

async function rebuilt(folder: string): Promise<readonly AttemptSummary[]> {
  const copy = mkdtempSync(join(tmpdir(), "drumtight-anew-"));
  try {
    for (const year of readdirSync(folder).filter((name) => /^\d{4}$/.test(name))) {
      cpSync(join(folder, year), join(copy, year), { recursive: true });
    }
    const attempts = new IndexedAttempts(copy, REAL_DISK);
    await attempts.sync();
    const all = await attempts.ask((records) => records.after(0));
    attempts.close();
    return all;
  } finally {
    rmSync(copy, { recursive: true, force: true });
  }
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch {
    // It is made at the first start.
    return [];
  }
}
