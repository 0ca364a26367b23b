import { access } from "node:fs/promises";
import { join, relative } from "node:path";
import { awaitedBeside } from "./awaited-beside.ts";
import { readRecord } from "./chain.ts";
import {
  type DisposedUnit,
  type Disposition,
  type DispositionDraft,
  requireRecorded,
} from "./disposition.ts";
import { DispositionLog } from "./disposition-log.ts";
import { counts, type HeldUnit, isSuperseded, type UnitInDoubt } from "./doubts.ts";
import { type AttemptSummary, RecordIndex } from "./index-db.ts";
import { summaryOf } from "./indexed-attempt.ts";
import { readAttempts } from "./read-attempts.ts";
import { errnoOf, notAsRecorded, RecordError, readError, requireFolderName } from "./record-error.ts";
import { readInBatches } from "./record-files.ts";
import { listRecords, nameProblem, safeSerial, safeSerialIn } from "./record-name.ts";
import { Traveller } from "./traveller.ts";
import { type UnitState, unitState } from "./unit-state.ts";

/** What the records say about a unit, dispositions included. */
export interface UnitStanding {
  readonly serial: string;
  /** As recorded, references and drafts included, in order of the attempt number. */
  readonly attempts: readonly AttemptSummary[];
  /** Those that name the unit, in the order in which they were recorded. */
  readonly dispositions: readonly Disposition[];
  /** The newest attempt that counts (of a unit, on approved limits), void or not: a rework or scrap names it. */
  readonly newest: AttemptSummary | null;
  readonly inDoubt: UnitInDoubt | null;
  /** A rework of the newest attempt is recorded: the unit is to be tested anew. */
  readonly isReworked: boolean;
  readonly isScrapped: boolean;
  readonly state: UnitState;
}

export interface DispositionsOptions {
  /** The time of what is disposed; the machine's own where not given. */
  readonly now_ms?: () => number;
}

/** @throws RecordError FOLDER_MISSING, NOT_READABLE */
export async function openDispositions(
  folder: string,
  { now_ms = Date.now }: DispositionsOptions = {},
): Promise<Dispositions> {
  requireFolderName(folder);
  try {
    await access(folder);
  } catch (error) {
    if (errnoOf(error) !== "ENOENT")
      throw readError(error, folder, `The records folder ${folder} can't be read`);
    throw new RecordError("FOLDER_MISSING", folder, `There is no records folder ${folder}.`, {
      cause: error,
    });
  }
  return new Dispositions(folder, now_ms);
}

/**
 * The dispositions of a records folder, for commands: no lock is taken and no index used, so that the station may be running.
 * What it or another command records meanwhile is seen at the next question.
 */
export class Dispositions {
  readonly #folder: string;
  readonly #now_ms: () => number;
  readonly #log: DispositionLog;

  constructor(folder: string, now_ms: () => number) {
    this.#folder = folder;
    this.#now_ms = now_ms;
    this.#log = new DispositionLog(folder);
  }

  /** @throws RecordError CORRUPT when a traveller of the unit, or a disposition, is not as recorded */
  async standingOf(serial: string): Promise<UnitStanding> {
    await this.#log.refreshBesideStation();
    return this.#standing(serial, await this.#attemptsOf(serial));
  }

  /**
   * As `standingOf`, of as many units as one likes with one look at the folder.
   * @param serials each once
   */
  async standingsOf(serials: readonly string[]): Promise<readonly UnitStanding[]> {
    await this.#log.refreshBesideStation();
    const histories = await historiesOf(this.#folder, new Set(serials));
    requireIndexed(this.#folder, serials, histories);
    return serials.map((serial) => this.#standing(serial, histories.get(serial) ?? []));
  }

  #standing(serial: string, attempts: readonly AttemptSummary[]): UnitStanding {
    const dispositions = this.#log.of(serial);
    const newest = attempts.filter(counts).at(-1) ?? null;
    const naming = (kind: Disposition["kind"]) => dispositions.filter((one) => one.kind === kind);
    return {
      serial,
      attempts,
      dispositions,
      newest,
      inDoubt: this.#inDoubtOf(new Map([[serial, attempts]]))[0] ?? null,
      isReworked: naming("rework").some(({ units }) =>
        units.some(({ traveller }) => traveller === newest?.sha256),
      ),
      isScrapped: naming("scrap").length > 0,
      state: unitState({ serial, attempts, dispositions }),
    };
  }

  /**
   * @returns units in doubt, in the order in which they were tested; those that were scrapped since come too
   * @throws RecordError CORRUPT when one of their travellers, or a disposition, is not as recorded
   */
  async inDoubt(): Promise<readonly UnitInDoubt[]> {
    await this.#log.refreshBesideStation();
    return this.#unitsHeldBy(this.#log.held.untrusted);
  }

  /**
   * As `inDoubt`, and by the holds that a failed check calls for and that the station has not recorded yet, see `awaitedHolds`: there
   * is nothing to release about these before they are.
   */
  async inDoubtOrAwaited(): Promise<readonly UnitInDoubt[]> {
    const awaited = await awaitedBeside(this.#folder, async () => {
      await this.#log.refreshBesideStation();
      return (serial) => this.#log.of(serial);
    });
    await this.#log.refreshBesideStation();
    const untrusted = new Map(this.#log.held.untrusted);
    for (const hold of awaited) {
      for (const unit of hold.units) {
        const holds = [...(untrusted.get(unit.traveller)?.holds ?? []), hold];
        untrusted.set(unit.traveller, { ...unit, holds });
      }
    }
    return this.#unitsHeldBy(untrusted);
  }

  async #unitsHeldBy(untrusted: ReadonlyMap<string, HeldUnit>): Promise<readonly UnitInDoubt[]> {
    const serials = new Set([...untrusted.values()].map(({ serial }) => serial));
    return this.#inDoubtOf(await historiesOf(this.#folder, serials), untrusted);
  }

  /**
   * @returns travellers that somebody holds, in the order in which they were held; not of units that were scrapped since
   * @throws RecordError CORRUPT when a disposition is not as recorded
   */
  async heldByHand(): Promise<readonly HeldUnit[]> {
    await this.#log.refreshBesideStation();
    const { byHand, scrapped } = this.#log.held;
    return [...byHand.values()]
      .filter(({ serial }) => !scrapped.has(serial))
      .map((unit) => ({ ...unit, holds: [...unit.holds] }));
  }

  /**
   * Records durably what was decided about units.
   * @throws RecordError INVALID_RECORD when a unit's traveller is not in the records or does not count, DISK_FULL ...;
   * nothing was recorded then
   */
  async dispose(draft: DispositionDraft): Promise<Disposition> {
    await this.#log.refreshBesideStation();
    const histories = await historiesOf(this.#folder, new Set(draft.units.map(({ serial }) => serial)));
    requireRecorded(draft, ({ serial }) => histories.get(serial) ?? []);
    return this.#log.append(draft, this.#now_ms());
  }

  /**
   * @param units tests of units, each by its traveller
   * @returns these travellers as they were recorded, as far as they are there
   * @throws RecordError CORRUPT when one of the units' travellers is not as recorded
   */
  async testsOf(units: readonly Pick<DisposedUnit, "serial" | "traveller">[]): Promise<readonly Traveller[]> {
    const wanted = new Set(units.map(({ traveller }) => traveller));
    const serials = new Set(units.map(({ serial }) => serial));
    const found: Traveller[] = [];
    for await (const { traveller, summary } of recordsOf(this.#folder, serials)) {
      if (wanted.has(summary.sha256)) found.push(traveller);
    }
    return found;
  }

  #inDoubtOf(
    histories: ReadonlyMap<string, readonly AttemptSummary[]>,
    untrusted: ReadonlyMap<string, HeldUnit> = this.#log.held.untrusted,
  ): UnitInDoubt[] {
    const units: { readonly sequence: number; readonly unit: UnitInDoubt }[] = [];
    const { scrapped } = this.#log.held;
    for (const unit of untrusted.values()) {
      const history = histories.get(unit.serial);
      const held = history?.find(({ sha256 }) => sha256 === unit.traveller);
      if (!history || !held || isSuperseded(unit.attempt, history)) continue;
      const { model, verdict, sequence } = held;
      // As it is now: the log goes on adding to its own.
      units.push({
        sequence,
        unit: { ...unit, holds: [...unit.holds], model, verdict, isScrapped: scrapped.has(unit.serial) },
      });
    }
    return units.sort((a, b) => a.sequence - b.sequence).map(({ unit }) => unit);
  }

  async #attemptsOf(serial: string): Promise<AttemptSummary[]> {
    const { attempts } = await readAttempts(this.#folder, serial);
    return attempts
      .map(({ path, sha256, problem, traveller }) => {
        if (problem !== null || traveller === null) throw notAsRecorded(path, problem ?? "it can't be read");
        return summaryOf(traveller, sha256, relative(this.#folder, path));
      })
      .sort((a, b) => a.attempt - b.attempt);
  }
}

/** A file that has gone is not seen among the files. @throws RecordError CORRUPT where the index knows of one */
function requireIndexed(
  folder: string,
  serials: readonly string[],
  histories: ReadonlyMap<string, readonly AttemptSummary[]>,
): void {
  const index = RecordIndex.openToRead(folder);
  if (!index) return;
  let lost: AttemptSummary | undefined;
  try {
    for (const serial of serials) {
      const found = new Set(histories.get(serial)?.map(({ sha256 }) => sha256));
      lost ??= index.history(serial).find(({ sha256 }) => !found.has(sha256));
    }
  } catch {
    // The index can't be read: the files are the truth.
  } finally {
    index.close();
  }
  if (lost) throw notAsRecorded(join(folder, lost.path), "it was recorded and is not there as it was");
}

async function historiesOf(
  folder: string,
  serials: ReadonlySet<string>,
): Promise<Map<string, AttemptSummary[]>> {
  const histories = new Map<string, AttemptSummary[]>();
  for await (const { summary } of recordsOf(folder, serials)) {
    const known = histories.get(summary.serial);
    if (known) known.push(summary);
    else histories.set(summary.serial, [summary]);
  }
  for (const history of histories.values()) history.sort((a, b) => a.attempt - b.attempt);
  return histories;
}

interface CheckedRecord {
  readonly traveller: Traveller;
  readonly summary: AttemptSummary;
}

/** Found by the files' names; a file that hides under another name stops the station's next start. */
async function* recordsOf(folder: string, serials: ReadonlySet<string>): AsyncGenerator<CheckedRecord> {
  if (serials.size === 0) return;
  const names = new Set([...serials].map(safeSerial));
  const files = (await listRecords(folder)).filter((file) => names.has(safeSerialIn(file.path)));
  for await (const batch of readInBatches(folder, files)) {
    for (const { file, bytes } of batch) yield recordIn(folder, file.path, bytes);
  }
}

function recordIn(folder: string, path: string, bytes: Uint8Array): CheckedRecord {
  const record = readRecord(bytes);
  if (!record.ok) throw notAsRecorded(join(folder, path), record.problem);
  const parsed = Traveller.safeParse(record.content);
  if (!parsed.success) {
    throw notAsRecorded(
      join(folder, path),
      "it is not a traveller that this version of the program knows",
      parsed.error,
    );
  }
  const summary = summaryOf(parsed.data, record.sha256, path);
  const misnamed = nameProblem(summary, path);
  if (misnamed !== null) throw notAsRecorded(join(folder, path), misnamed);
  return { traveller: parsed.data, summary };
}
