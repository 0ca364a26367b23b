import { lstatSync, readdirSync } from "node:fs";
import { join } from "node:path";
import type { Findings } from "./audit-finding.ts";
import { AuditReader } from "./audit-read.ts";
import { DAILY_HEADS } from "./daily-head.ts";
import { KEPT_FILES } from "./kept-files.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";
import { errnoOf, RecordError, readError, requireFolderName } from "./record-error.ts";
import { OPEN_FOLDER, RECORD_NAME } from "./record-name.ts";
import { EVENTS } from "./station-logs.ts";
import { TRAVELLER_FORMAT } from "./traveller-rules.ts";

const YEAR = /^\d{4}$/;
const MONTH_OR_DAY = /^\d{2}$/;
const ENTRY_NAME = /^(\d{8,15})\.json$/;
/** Recorded conversations lie in "flight"; they are evidence beside the records and in no chain. */
const OWN_FOLDERS: ReadonlySet<string> = new Set([
  OPEN_FOLDER,
  DISPOSITIONS,
  EVENTS,
  DAILY_HEADS,
  KEPT_FILES,
  "flight",
]);
const OWN_FILES = /^\.(?:index|station-lock)\./;
/** Names of as many days are kept at hand: records of one day lie together but for those about midnight. */
const DAYS_AT_HAND = 3;

/** Where travellers lie, by their numbers; four bytes each, so that a million of them are no burden. */
export class TravellerListing {
  readonly #folder: string;
  readonly #findings: Findings;
  readonly #days: string[] = [];
  /** By number: 1 + the place of its day in `#days`; 0 for none. */
  #dayOf = new Uint32Array(0);
  /** Days of numbers that are there twice, or greater than the count of files: after gaps, or not of this chain. */
  readonly #others = new Map<number, number[]>();
  readonly #atHand = new Map<number, Map<number, string[]>>();
  #count = 0;

  /**
   * Lists a folder's travellers, and names what is no record's.
   * @throws RecordError when a folder can't be listed
   */
  constructor(folder: string, findings: Findings) {
    this.#folder = folder;
    this.#findings = findings;
    for (const year of this.#subfolders("", YEAR)) {
      for (const month of this.#subfolders(year, MONTH_OR_DAY)) {
        for (const day of this.#subfolders(`${year}/${month}`, MONTH_OR_DAY)) {
          this.#days.push(`${year}/${month}/${day}`);
        }
      }
    }
    const newest = new Map<string, string[]>();
    for (const [at, day] of this.#days.entries()) {
      const names = this.#names(day, (name) => this.#stray(day, name));
      this.#count += names.length;
      if (at >= this.#days.length - DAYS_AT_HAND) newest.set(day, names);
    }
    this.#dayOf = new Uint32Array(this.#count + 1);
    for (const [at, day] of this.#days.entries()) {
      for (const name of newest.get(day) ?? this.#names(day)) this.#take(Number.parseInt(name, 10), at + 1);
    }
  }

  get count(): number {
    return this.#count;
  }

  /** @returns numbers that a file has, each once, ascending */
  *numbers(): Generator<number> {
    for (let number = 0; number < this.#dayOf.length; number++) if (this.#dayOf[number] !== 0) yield number;
    for (const number of [...this.#others.keys()].sort((a, b) => a - b)) {
      if (number >= this.#dayOf.length) yield number;
    }
  }

  /** @returns the files with this number, relative to the records folder: one, but where a record was copied */
  at(number: number): readonly string[] {
    const first = this.#dayOf[number] ?? 0;
    const days = [...new Set([...(first === 0 ? [] : [first]), ...(this.#others.get(number) ?? [])])];
    return days.flatMap((day) => this.#namesOf(day).get(number) ?? []);
  }

  #take(number: number, day: number): void {
    if (number < this.#dayOf.length && this.#dayOf[number] === 0) this.#dayOf[number] = day;
    else this.#others.set(number, [...(this.#others.get(number) ?? []), day]);
  }

  #namesOf(day: number): ReadonlyMap<number, string[]> {
    const known = this.#atHand.get(day);
    if (known) return known;
    const names = new Map<number, string[]>();
    const path = this.#days[day - 1] ?? "";
    for (const name of this.#names(path)) {
      const number = Number.parseInt(name, 10);
      names.set(number, [...(names.get(number) ?? []), `${path}/${name}`]);
    }
    const [oldest] = this.#atHand.keys();
    if (this.#atHand.size >= DAYS_AT_HAND && oldest !== undefined) this.#atHand.delete(oldest);
    this.#atHand.set(day, names);
    return names;
  }

  /** Names of travellers in a day's folder. */
  #names(day: string, other: (name: string) => void = () => undefined): string[] {
    const names: string[] = [];
    for (const name of list(this.#folder, day)) {
      if (RECORD_NAME.test(name)) names.push(name);
      else other(name);
    }
    return names;
  }

  #subfolders(parent: string, pattern: RegExp): string[] {
    const found: string[] = [];
    for (const name of list(this.#folder, parent)) {
      if (pattern.test(name)) {
        if (!isLink(this.#folder, parent === "" ? name : `${parent}/${name}`, this.#findings))
          found.push(name);
      } else if (parent !== "" || !(OWN_FOLDERS.has(name) || OWN_FILES.test(name))) this.#stray(parent, name);
    }
    return found.sort();
  }

  #holdsTraveller(path: string): boolean {
    const file = new AuditReader().read(join(this.#folder, path));
    return file.ok && file.bytes.includes(TRAVELLER_FORMAT);
  }

  #stray(folder: string, name: string): void {
    const path = folder === "" ? name : `${folder}/${name}`;
    const isAmongRecords = folder.split("/").length === 3;
    const isNamedAsOne = name.endsWith(".json") && !name.startsWith(".");
    if (isAmongRecords && (isNamedAsOne || this.#holdsTraveller(path))) {
      this.#findings.add("added", path, "by its name it is no traveller, and it lies among them");
    } else this.#findings.note(`${path} is no record, and was not looked at.`);
  }
}

/**
 * The numbers of a log's records, ascending, and names what is none of them.
 * @param name the log's folder in the records folder
 */
export function loggedNumbers(folder: string, name: string, findings: Findings): Float64Array {
  const numbers: number[] = [];
  if (isLink(folder, name, findings)) return Float64Array.from(numbers);
  for (const file of list(folder, name)) {
    const number = Number(ENTRY_NAME.exec(file)?.[1] ?? Number.NaN);
    if (number > 0 && logFile(name, number) === `${name}/${file}`) numbers.push(number);
    else if (file.endsWith(".json") && !file.startsWith(".")) {
      findings.add("added", `${name}/${file}`, "by its name it is none of the records it lies among");
    } else if (!file.endsWith(".part")) findings.note(`${name}/${file} is no record, and was not looked at.`);
  }
  return Float64Array.from(numbers).sort();
}

/**
 * Whether a folder inside the records folder is a link, which is told: what it leads to may be another one tomorrow.
 * @param inner relative to the records folder
 */
export function isLink(folder: string, inner: string, findings: Findings): boolean {
  const isOne = lstatSync(join(folder, inner), { throwIfNoEntry: false })?.isSymbolicLink() === true;
  if (isOne) findings.add("unreadable", inner, "it is a symbolic link, and no folder of records is one");
  return isOne;
}

/** @throws RecordError FOLDER_MISSING, or why it can't be listed */
export function requireFolder(folder: string): void {
  requireFolderName(folder);
  list(folder, "");
}

/** @throws RecordError; nothing, where a folder inside is not there or is no folder */
function list(folder: string, inner: string): string[] {
  const path = join(folder, inner);
  try {
    return readdirSync(path).sort();
  } catch (error) {
    if (inner === "" && errnoOf(error) === "ENOENT") {
      throw new RecordError("FOLDER_MISSING", folder, `There is no records folder ${folder}.`, {
        cause: error,
      });
    }
    if (inner !== "" && ["ENOENT", "ENOTDIR"].includes(errnoOf(error))) return [];
    throw readError(error, path, `The folder ${path} can't be listed`);
  }
}
