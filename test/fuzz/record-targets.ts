import { mkdirSync, mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, normalize, relative } from "node:path";
import fc from "fast-check";
import { unitText } from "../../station/records/attempt-text.ts";
import { canonicalText, readRecord, sha256Hex } from "../../station/records/chain.ts";
import { Disposition } from "../../station/records/disposition.ts";
import { foundState } from "../../station/records/found-state.ts";
import { summaryOf } from "../../station/records/indexed-attempt.ts";
import type { FoundUnit } from "../../station/records/read-attempts.ts";
import { RecordError } from "../../station/records/record-error.ts";
import { mayBeAbout, RECORD_NAME, travellerPath } from "../../station/records/record-name.ts";
import { StationEvent } from "../../station/records/station-event.ts";
import { RecordStore } from "../../station/records/store.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { TRAVELLER_FORMAT } from "../../station/records/traveller-rules.ts";
import { airflow, facts, outcome, SUSPECTS, stoppedClock } from "../records/example-attempt.ts";
import { Misbehaved, require, requireDeclared, requireSentence } from "./clear-words.ts";
import { anyText, mutated } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const CHAIN = { sequence: 1, previous: null };
const HASH = "a".repeat(64);
const traveller = (serial: string, more: object = {}) => ({
  format: TRAVELLER_FORMAT,
  id: "0123456789abcdef".repeat(2),
  ...facts(serial),
  ...outcome(),
  chain: CHAIN,
  ...more,
});
const TRAVELLERS = [
  canonicalText(traveller("POD000123")),
  canonicalText(
    traveller("POD000124", {
      verdict: "fail",
      reasons: [{ code: "OUT_OF_LIMITS", sentence: "It leaks." }],
      airflow: [airflow()],
      suspects: SUSPECTS,
    }),
  ),
];
const DECISION = canonicalText({
  format: "drumtight/disposition/1",
  at: "2026-01-05T07:12:40.000Z",
  kind: "rework",
  by: { name: "A. Marsh", sign_in: "stated" },
  units: [{ serial: "POD000123", attempt: 1, traveller: HASH }],
  reason: { code: "REWORKED", sentence: "Gasket pinched." },
  rework: { cause: "gasket pinched", action: "new gasket" },
  chain: CHAIN,
});
const EVENT = canonicalText({
  format: "drumtight/station-event/1",
  at: "2026-01-05T06:00:00.000Z",
  after_traveller: 0,
  event: "fault",
  reasons: [{ code: "INSTRUMENT_FAULT", sentence: "leak_gauge was unplugged; put its cable back." }],
  chain: CHAIN,
});

/** No serial, however nasty, may take a file elsewhere. */
function requireInside(path: string): void {
  require(normalize(path) === path && !path.startsWith("/") && !path.includes("\0"), `goes to ${path}`);
  const [year, month, day, name, ...rest] = path.split("/");
  require(rest.length === 0 && /^\d{4}\/\d\d\/\d\d$/.test(`${year}/${month}/${day}`), `goes to ${path}`);
  require(RECORD_NAME.test(name ?? "") && (name ?? "").length <= 128, `is named ${name}`);
}

/** What is not as it was written is never taken for a record; what is taken is used as readers do. */
const records = fuzzTarget(
  "travellers",
  60_000,
  fc.oneof(
    { weight: 6, arbitrary: mutated([...TRAVELLERS, DECISION, EVENT], 3) },
    { weight: 1, arbitrary: anyText },
  ),
  (text) => {
    const bytes = Buffer.from(text, "utf8");
    const record = readRecord(bytes);
    if (!record.ok) {
      requireSentence(record.problem);
      return false;
    }
    require(record.sha256 === sha256Hex(bytes), "has another hash");
    // What was in the file: of half a surrogate pair there is nothing there to be read.
    require(canonicalText(record.content) === bytes.toString("utf8"), "is taken though it is not canonical");
    const parsed = Traveller.safeParse(record.content);
    if (parsed.success) {
      const { sequence } = parsed.data.chain;
      const path = travellerPath({ ...parsed.data, sequence, attempt: parsed.data.attempt.number });
      requireInside(path);
      const { serial } = summaryOf(parsed.data, record.sha256, path);
      require(mayBeAbout({ sequence, path }, serial), "is not found by its serial");
      requireShown(told(serial, found(parsed.data, record.sha256, path)));
    }
    const disposition = Disposition.safeParse(record.content);
    if (disposition.success) requireShown(told("POD000123", NOTHING, [disposition.data]));
    const event = StationEvent.safeParse(record.content);
    return parsed.success || disposition.success || event.success;
  },
);

const serials = fc.oneof(
  {
    weight: 2,
    arbitrary: mutated(["POD000123", "../../x", "/etc/passwd", "A/../../B", ".", "..", ".open"], 2),
  },
  { weight: 1, arbitrary: anyText },
);

/** Records as the station writes them, of whatever texts got into them. */
const written = fuzzTarget(
  "records of hostile texts",
  20_000,
  fc.record({ serial: serials, text: fc.oneof(serials, anyText) }),
  ({ serial, text }) => {
    const part = text.slice(0, 60);
    const draft = traveller(serial, {
      verdict: "fail",
      model: part,
      parts: { tub_cavity: part, ["__proto__"]: part },
      reasons: [{ code: "OUT_OF_LIMITS", sentence: text }],
      who: { inspector: part, sign_in: "stated" },
      suspects: SUSPECTS.map((suspect) => ({ ...suspect, look_at: text, evidence: [text] })),
    });
    const parsed = Traveller.safeParse(draft);
    if (!parsed.success) return false;
    const bytes = Buffer.from(canonicalText(parsed.data), "utf8");
    const record = readRecord(bytes);
    require(record.ok, "can't be read again");
    const path = travellerPath({ ...parsed.data, sequence: 1, attempt: 1 });
    requireInside(path);
    require(canonicalText(Traveller.parse(record.content)) ===
      bytes.toString("utf8"), "reads otherwise than written");
    requireShown(told(serial, found(parsed.data, record.sha256, path)));
    return true;
  },
);

function told(serial: string, unit: FoundUnit, dispositions: readonly Disposition[] = []): string {
  const state = foundState(serial, unit, dispositions, null);
  return unitText(serial, unit, { dispositions, state, checks: new Map() });
}

const NOTHING = { attempts: [], open: [], gaps: [] };

function found(traveller: Traveller, sha256: string, path: string) {
  return { attempts: [{ path, sha256, problem: null, traveller }], open: [], gaps: [] };
}

/** Lines for people, of whatever is in a record. */
function requireShown(text: string): void {
  // A unit's line is its serial, which may be blank in a record of somebody else's making.
  for (const line of text.split("\n")) if (line.trim() !== "") requireSentence(line, 3000);
}

const names = fuzzTarget(
  "names of records",
  40_000,
  fc.record({
    serial: serials,
    sequence: fc.integer({ min: 1, max: 1e9 }),
    attempt: fc.integer({ min: 1, max: 1e6 }),
  }),
  ({ serial, sequence, attempt }) => {
    const at = "2026-01-05T06:00:00.000Z";
    const path = travellerPath({ serial, sequence, attempt, started_at: at, ended_at: at });
    requireInside(path);
    require(mayBeAbout({ sequence, path }, serial), "is not found by its serial");
    return true;
  },
);

/** A records folder of its own beside others: whatever the serials say, nothing beside it changes. */
class WatchedFolder {
  readonly #parent = mkdtempSync(join(tmpdir(), "drumtight-fuzz-"));
  readonly #folder = join(this.#parent, "plant", "records");
  #store: Promise<RecordStore> | undefined;
  #before: readonly string[] = [];

  async store(): Promise<RecordStore> {
    this.#store ??= this.#open();
    return this.#store;
  }

  async #open(): Promise<RecordStore> {
    mkdirSync(this.#folder, { recursive: true });
    const { store } = await RecordStore.open({
      folder: this.#folder,
      clock: stoppedClock(),
      station: "fuzz",
    });
    this.#before = this.#beside();
    return store;
  }

  /** Everything that lies beside the folder, and what in it is neither hidden, a log nor a day's. */
  #beside(): string[] {
    const all = [this.#parent, join(this.#parent, "plant"), this.#folder];
    const day = join(this.#folder, "2026", "01", "05");
    return all
      .flatMap((folder) => readdirSync(folder).map((name) => relative(this.#parent, join(folder, name))))
      .filter((path) => join(this.#parent, path) !== join(this.#folder, "2026") && path !== day)
      .sort();
  }

  requireNothingBeside(): void {
    const now = this.#beside();
    require(now.join("\n") === this.#before.join("\n"), `wrote beside the records: ${now.join(", ")}`);
  }

  async close(): Promise<void> {
    await (await this.#store)?.close();
    rmSync(this.#parent, { recursive: true, force: true });
  }
}

const stored: FuzzTarget = {
  name: "hostile serials on disk",
  share: 1_500,
  run: async (options, seen) => {
    const folder = new WatchedFolder();
    const attempts = new Map<string, number>();
    const { run } = fuzzTarget("", 0, serials, async (serial) => {
      const store = await folder.store();
      const number = (attempts.get(serial) ?? 0) + 1;
      let isRecorded = false;
      try {
        const { path, traveller } = await store.commit(await store.begin(facts(serial, number)), outcome());
        attempts.set(serial, number);
        require(traveller.serial === serial, "records another serial");
        const history = await store.history(serial);
        require(history.length === number, `finds ${history.length} attempts of ${number}`);
        require(path.endsWith(history.at(-1)?.path ?? "?"), "finds another file");
        isRecorded = true;
      } catch (error) {
        if (error instanceof Misbehaved) throw error;
        requireShown(requireDeclared(error, RecordError).message);
      }
      folder.requireNothingBeside();
      return isRecorded;
    });
    try {
      return await run(options, seen);
    } finally {
      await folder.close();
    }
  },
};

export const RECORD_TARGETS: readonly FuzzTarget[] = [records, written, names, stored];
