import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { type RandomStream, randomStream } from "../../sim/random.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import type { LogEntry } from "../../station/records/chained-log.ts";
import { REAL_DISK } from "../../station/records/disk.ts";
import { type Disposition, dispositionAt } from "../../station/records/disposition.ts";
import { type IndexedAttempt, RecordIndex } from "../../station/records/index-db.ts";
import { takeUnfinished } from "../../station/records/index-file.ts";
import { indexedAttempt } from "../../station/records/indexed-attempt.ts";
import { DISPOSITIONS, logFile } from "../../station/records/numbered-log.ts";
import { readInBatches } from "../../station/records/record-files.ts";
import { listRecords, travellerPath } from "../../station/records/record-name.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { PROGRAM } from "../program.ts";

const AT_ONCE = 5000;
/** From one test to the next of the plant's two stations together. */
const EACH_MS = 50_000;
const BEGIN_MS = Date.UTC(2025, 0, 6, 5);
/** The newest units, whose travellers lie on disk: more than a day's. */
const NEWEST = 1900;
/** Tested by the station itself, to deal from. */
const POOL = 100;
const SHIFT_MS = 8 * 3_600_000;
/** At most: each is tested once at least. */
const SHIFT_UNITS = SHIFT_MS / EACH_MS;

export interface PlantRecords {
  readonly folder: string;
  readonly attempts: number;
  readonly units: number;
  readonly decided: number;
  /** First and newest day of tests, UTC. */
  readonly from: string;
  readonly to: string;
  /** A unit of the newest day, whose travellers are there, and so are those after them. */
  readonly serial: string;
}

/**
 * A records folder as a plant's two stations leave it after so many units: an index that is full by itself, the travellers of its
 * newest day, and every decision about a unit. What units measure like is the simulator's population's: a pool of its units was
 * tested by the simulated station, and is dealt from, failures so that 4 % of all fail at first. Of those most are tested again,
 * some are reworked and tested anew; few are void, held or scrapped. Days of three shifts, a reference check at the start of each;
 * cavities, lots and a limit file's revision change on the way, some tests are drafts. The travellers on disk name their shift's checks,
 * which are on disk, too.
 * @param pool of `poolOf`
 * @param decidedPart of units that fail twice: how many of them somebody sends to rework
 */
export async function plantRecords(
  folder: string,
  units: number,
  decidedPart: number,
  pool: Pool,
): Promise<PlantRecords> {
  const plant = new Plant(folder, pool, decidedPart);
  for (let unit = 1; unit <= units; unit++)
    plant.testUnit(unit, unit > units - NEWEST, unit > units - NEWEST - SHIFT_UNITS);
  return plant.end(units);
}

interface Dealt {
  readonly traveller: Traveller;
  /** Of each kind of attempt, station and revision, made when it is first dealt. */
  readonly rows: Map<string, IndexedAttempt>;
}

export interface Pool {
  readonly models: readonly (readonly [
    model: string,
    Readonly<Record<Traveller["verdict"], readonly Dealt[]>>,
  ])[];
  /** A check of each piece that conformed. */
  readonly references: readonly Dealt[];
}

class Plant {
  readonly #folder: string;
  readonly #pool: Pool;
  readonly #decidedPart: number;
  readonly #index: RecordIndex;
  readonly #random: RandomStream = randomStream(1, "plant of the yield bench");
  #batch: IndexedAttempt[] = [];
  #sequence = 0;
  #previous: string | null = null;
  #at_ms = BEGIN_MS;
  #shift = -1;
  #decided = 0;
  #decision: string | null = null;
  #decisions: LogEntry<Disposition>[] = [];
  #serial = "";
  /** Of this shift. */
  #checks: Traveller["reference_check"] = null;

  constructor(folder: string, pool: Pool, decidedPart: number) {
    this.#folder = folder;
    this.#pool = pool;
    this.#decidedPart = decidedPart;
    // As a rebuild makes it: with a cache in which a million units find room, and without a sync for every batch.
    this.#index = RecordIndex.beside(folder);
    mkdirSync(join(folder, DISPOSITIONS), { recursive: true });
  }

  /** @param areChecksOnDisk of a unit that is on disk itself, find reads the checks that it names */
  testUnit(unit: number, isOnDisk: boolean, areChecksOnDisk: boolean): void {
    const { references } = this.#pool;
    const shift = Math.floor((this.#at_ms - BEGIN_MS) / SHIFT_MS);
    if (shift !== this.#shift) {
      this.#checks = null;
      const checks = references.map(
        (piece) => this.#test(piece, piece.traveller.serial, 1 + shift, "first", areChecksOnDisk).sha256,
      );
      this.#checks = { at: new Date(this.#at_ms).toISOString(), travellers: checks };
      this.#shift = shift;
    }
    const random = this.#random;
    let attempt = 0;
    const [model, dealt] = random.pick(this.#pool.models);
    const serial = `${model.slice(0, 3)}${String(unit).padStart(7, "0")}`;
    const test = (verdict: "pass" | "fail" | "void", kind: Traveller["attempt"]["kind"]) =>
      this.#test(random.pick(dealt[verdict]), serial, ++attempt, kind, isOnDisk, unit);
    if (random.chance(0.005)) test("void", "first");
    if (!random.chance(0.04)) test("pass", "first");
    else {
      const failed = test("fail", "first");
      if (random.chance(0.5)) test("pass", "retest");
      else if (random.chance(0.9)) {
        const again = test("fail", "retest");
        if (random.chance(this.#decidedPart)) {
          this.#decide("rework", again, { cause: "gasket pinched", action: "new gasket" });
          test(random.chance(0.9) ? "pass" : "fail", "after_rework");
        } else if (random.chance(0.02)) this.#decide("scrap", again);
      } else if (random.chance(0.05)) this.#decide("hold", failed);
    }
    if (isOnDisk && this.#serial === "") this.#serial = serial;
  }

  async end(units: number): Promise<PlantRecords> {
    this.#flush();
    this.#index.complete();
    this.#index.close();
    await takeUnfinished(this.#folder, REAL_DISK);
    const day = (at_ms: number) => new Date(at_ms).toISOString().slice(0, "2026-01-05".length);
    return {
      folder: this.#folder,
      attempts: this.#sequence,
      units,
      decided: this.#decided,
      from: day(BEGIN_MS),
      to: day(this.#at_ms),
      serial: this.#serial,
    };
  }

  #test(
    dealt: Dealt,
    serial: string,
    number: number,
    kind: Traveller["attempt"]["kind"],
    isOnDisk: boolean,
    unit = 0,
  ): IndexedAttempt {
    this.#sequence++;
    this.#at_ms += EACH_MS;
    const station = `Station ${1 + (this.#sequence % 2)}`;
    const revision = 1 + Math.floor(this.#sequence / 300_000);
    const place = {
      sequence: this.#sequence,
      serial,
      attempt: number,
      started_at: new Date(this.#at_ms - EACH_MS + 2000).toISOString(),
      ended_at: new Date(this.#at_ms).toISOString(),
    };
    const parts = {
      tub_cavity: `P${1 + (unit % 4)}`,
      lid_cavity: `Q${1 + (unit % 6)}`,
      gasket_lot: `G${2400 + Math.floor(unit / 20_000)}`,
      motor_serial: `N${unit}`,
    };
    const variant = { kind, station, revision };
    const row = isOnDisk
      ? this.#written(dealt, place, parts, variant)
      : this.#indexOnly(dealt, place, parts, variant);
    this.#previous = row.sha256;
    this.#batch.push(row);
    if (this.#batch.length >= AT_ONCE) this.#flush();
    return row;
  }

  /** As if the traveller had been there once. */
  #indexOnly(dealt: Dealt, place: Place, parts: Traveller["parts"], variant: Variant): IndexedAttempt {
    const key = Object.values(variant).join(" ");
    const known = dealt.rows.get(key) ?? indexedAttempt(varied(dealt.traveller, variant), "", "");
    dealt.rows.set(key, known);
    return {
      ...known,
      ...place,
      kind: variant.kind,
      path: travellerPath(place),
      sha256: sha256Hex(String(place.sequence)),
      id: sha256Hex(`id ${place.sequence}`).slice(0, 32),
      duration_s: Math.round(10 * (known.duration_s ?? 20) + 10 * this.#random.between(-1, 1)) / 10,
      stored: { ...known.stored, parts: canonicalText(parts) },
    };
  }

  #written(dealt: Dealt, place: Place, parts: Traveller["parts"], variant: Variant): IndexedAttempt {
    const { sequence, serial, attempt, ...times } = place;
    const traveller: Traveller = {
      ...varied(dealt.traveller, variant),
      ...times,
      serial,
      parts,
      id: sha256Hex(`id ${sequence}`).slice(0, 32),
      attempt: { number: attempt, kind: variant.kind },
      chain: { sequence, previous: this.#previous },
      reference_check: this.#checks,
    };
    const text = canonicalText(traveller);
    const path = travellerPath(place);
    mkdirSync(join(this.#folder, dirname(path)), { recursive: true });
    writeFileSync(join(this.#folder, path), text);
    return indexedAttempt(traveller, sha256Hex(text), path);
  }

  #decide(kind: Disposition["kind"], test: IndexedAttempt, rework?: Disposition["rework"]): void {
    const { serial, attempt, sha256 } = test;
    const chain = { sequence: ++this.#decided, previous: this.#decision };
    const by = { name: "S. Ode", sign_in: "stated", role: "supervisor" } as const;
    const reason = { code: "DECIDED", sentence: "Decided at the bench." };
    const units = [{ serial, attempt, traveller: sha256 }];
    const draft = { kind, by, units, reason, ...(rework ? { rework } : {}) };
    const text = canonicalText({ ...dispositionAt(draft, this.#at_ms), chain });
    writeFileSync(join(this.#folder, logFile(DISPOSITIONS, chain.sequence)), text);
    this.#decision = sha256Hex(text);
    this.#decisions.push({
      sequence: chain.sequence,
      sha256: this.#decision,
      content: JSON.parse(text),
      text,
    });
  }

  #flush(): void {
    this.#index.add(this.#batch);
    this.#batch = [];
    this.#index.decided.add(this.#decisions);
    this.#decisions = [];
  }
}

interface Place {
  readonly sequence: number;
  readonly serial: string;
  readonly attempt: number;
  readonly started_at: string;
  readonly ended_at: string;
}

interface Variant {
  readonly kind: Traveller["attempt"]["kind"];
  readonly station: string;
  readonly revision: number;
}

function varied(traveller: Traveller, { kind, station, revision }: Variant): Traveller {
  return {
    ...traveller,
    attempt: { ...traveller.attempt, kind },
    station: { ...traveller.station, name: station },
    limit_file: { ...traveller.limit_file, revision },
  };
}

/** Tests of the population's first units by the simulated station itself. */
export async function poolOf(): Promise<Pool> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-bench-pool-"));
  try {
    const args = ["run", "--simulate", "--units", String(POOL), "--json", "--records", folder];
    spawnSync(process.execPath, [PROGRAM, ...args], { stdio: "ignore" });
    const dealt: Dealt[] = [];
    for await (const batch of readInBatches(folder, await listRecords(folder))) {
      for (const { bytes } of batch) {
        dealt.push({ traveller: JSON.parse(bytes.toString("utf8")) as Traveller, rows: new Map() });
      }
    }
    const units = dealt.filter(({ traveller: it }) => it.kind === "unit" && !it.draft);
    const models = [...new Set(units.map(({ traveller }) => traveller.model))].map((model) => {
      const of = (verdict: Traveller["verdict"]) =>
        units.filter(({ traveller: it }) => it.model === model && it.verdict === verdict);
      const [passed, failed, none] = [of("pass"), of("fail"), of("void")];
      return [
        model,
        { pass: passed, fail: failed, void: none.length > 0 ? none : failed.slice(0, 1).map(voided) },
      ] as const;
    });
    const checks = dealt.filter(({ traveller: it }) => it.kind === "reference" && it.verdict === "pass");
    const pieces = new Map(checks.map((it) => [it.traveller.serial, it]));
    return { models, references: [...pieces.values()] };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** No test of the pool's is void: what its gauge's silence would have left of one. */
function voided({ traveller }: Dealt): Dealt {
  const { suspects: _, ...others } = traveller;
  return {
    traveller: {
      ...others,
      verdict: "void",
      reasons: [{ code: "GAUGE_SILENT", sentence: "The leak gauge did not answer." }],
      characteristics: traveller.characteristics.map((it) => ({
        ...it,
        ...{ value: null, uncertainty: null, expanded_uncertainty: null, conformance: null },
        ...{ verdict: "void", why: "Not measured." },
      })),
    },
    rows: new Map(),
  };
}
