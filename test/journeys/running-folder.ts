import { readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import type { OpenAttempt, RecordStore } from "../../station/records/store.ts";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";
import { INSPECTOR, peopleIn } from "../people/people-at.ts";
import { facts, outcome, stoppedClock } from "../records/example-attempt.ts";
import { open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { commandInProcess } from "./command-in-process.ts";
import { drumtight, type Finished } from "./command-line.ts";

export const FAIL = {
  verdict: "fail",
  reasons: [{ code: "GROSS_LEAK", sentence: "It leaks." }],
} satisfies Partial<AttemptOutcome>;
export const VOID = {
  verdict: "void",
  reasons: [{ code: "GUARD_OPENED", sentence: "The guard was opened." }],
} satisfies Partial<AttemptOutcome>;
export const REFERENCE = { piece: "REF-LEAK-POD-4", certified_value: 50, tolerance: 2, unit: "mL/min" };
/** A station that runs on a records folder, and the commands of those beside it. */
export class Folder {
  readonly path: string;
  readonly store: RecordStore;

  private constructor(path: string, store: RecordStore) {
    this.path = path;
    this.store = store;
  }

  static async running(path = scratchFolder()): Promise<Folder> {
    return new Folder(path, (await open(path, stoppedClock())).store);
  }

  async tested(
    serial: string,
    attempt: number,
    result: Partial<AttemptOutcome> = {},
    more: Partial<AttemptFacts> = {},
  ): Promise<void> {
    const model = more.model ?? "POD-4";
    const limits = { ...facts(serial).limit_file, model };
    const begun = await this.store.begin(facts(serial, attempt, { model, limit_file: limits, ...more }));
    await this.store.commit(begun, outcome(result));
  }

  /** A test that had begun ends, as a pass where nothing else is said. */
  async ended(begun: OpenAttempt, result: Partial<AttemptOutcome> = {}): Promise<void> {
    await this.store.commit(begun, outcome(result));
  }

  /** The leak reference reads so much, and the station holds what that puts in doubt. */
  async checked(attempt: number, measured: number): Promise<void> {
    const conforms = Math.abs(measured - 50) <= 2;
    await this.tested(
      REFERENCE.piece,
      attempt,
      {
        ...(conforms
          ? {}
          : { verdict: "fail", reasons: [{ code: "REFERENCE", sentence: "It reads wrong." }] }),
        reference: { measured, conforms },
      },
      { kind: "reference", reference: REFERENCE },
    );
    await this.store.ensureHolds();
  }

  /** @param env PINs, where people sign in */
  run(args: readonly string[], env: Readonly<Record<string, string>> = {}): Promise<Finished> {
    return commandInProcess([...args, "--records", this.path], env);
  }

  /** The same by a program of its own, also several at once. */
  start(args: readonly string[]): Promise<Finished> {
    return drumtight([...args, "--records", this.path]);
  }

  async kinds(serial: string): Promise<string[]> {
    return (await this.store.dispositionsOf(serial)).map(({ kind }) => kind);
  }
}

export const BY_BADGE: AttemptFacts["who"] = { inspector: "A. Marsh", sign_in: "badge", role: "inspector" };

/** The file of the station of these records, or another one's, with people: a supervisor and an inspector. */
export async function stationWithPeople(
  records: string,
  name = "line 1",
  limits = resolve("limits/models"),
): Promise<string> {
  const folder = scratchFolder();
  await peopleIn(folder, INSPECTOR);
  const path = join(folder, "line-2.yaml");
  const text = readFileSync("sim/demo-station.yaml", "utf8")
    .replace(/^sign_in: .*$/m, 'sign_in: { people: people.json, badge: "^B[0-9]{6}$" }')
    .replace(/^name: .*$/m, `name: ${name}`)
    .replace(/^records: .*$/m, `records: ${records}`)
    .replace("../limits/models", limits);
  writeFileSync(path, text);
  return path;
}
