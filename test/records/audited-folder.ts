import { mkdirSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import type { Clock } from "../../drivers/ports.ts";
import { type AuditReport, audit } from "../../station/records/audit.ts";
import { sha256Hex } from "../../station/records/chain.ts";
import { copyHeads } from "../../station/records/daily-head-copies.ts";
import { newStationKey, openStationKey, type StationKey } from "../../station/records/daily-head-key.ts";
import { DailyHeadLog } from "../../station/records/daily-head-log.ts";
import { type KeptFile, keepFiles } from "../../station/records/kept-files.ts";
import { type Recorded, RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";

const LIMITS_TEXT = "model: demo-body\nrevision: 3\n";
/** SHA-256 of the limit file that judges all units. */
export const JUDGED_BY = sha256Hex(LIMITS_TEXT);
const STATION_TEXT = "name: line 1\n";

/** The travellers of `smallFolder`, in order. */
export const SMALL_TRAVELLERS = [1, 2, 3].map((at) => `2026/01/05/0000000${at}-A${at}-1.json`);

export const named = (report: AuditReport) => report.findings.map(({ path }) => path);
export const kinds = (report: AuditReport) => report.findings.map(({ kind }) => kind);

/** A records folder as a station that signs heads leaves it, with the copies of its heads beside it. */
export class AuditedFolder {
  readonly folder: string;
  readonly copies: string;
  readonly keyFile: string;
  readonly publicKey: string;
  readonly key: StationKey;
  readonly clock: Clock & { wall: string } = stoppedClock();
  #store: RecordStore | null = null;
  #inForce: readonly KeptFile[] = [];

  /** @param parent a scratch folder */
  constructor(parent: string) {
    this.folder = join(parent, "records");
    this.copies = join(parent, "copies");
    this.keyFile = join(parent, "station-key.pem");
    mkdirSync(this.copies);
    const { privatePem, publicKey } = newStationKey();
    writeFileSync(this.keyFile, privatePem, { mode: 0o600 });
    this.publicKey = publicKey;
    this.key = openStationKey(this.keyFile, publicKey);
  }

  get store(): RecordStore {
    if (this.#store === null) throw new Error("The store is closed.");
    return this.#store;
  }

  /** Starts the station's records: head, files in force, event. */
  async open(): Promise<void> {
    const { folder, clock } = this;
    const { store } = await RecordStore.open({ folder, clock, station: "line 1" });
    this.#store = store;
    this.#inForce = await keepFiles(folder, [
      { what: "station_file", name: "station.yaml", text: STATION_TEXT },
      { what: "limit_file", name: "demo-body.yaml", text: LIMITS_TEXT },
    ]);
    const head = await this.sign("opened");
    await store.note({ event: "opened", in_force: this.#inForce, head });
  }

  /** Tests a unit. @param more of the outcome */
  async test(serial: string, attempt = 1, more: Parameters<typeof outcome>[0] = {}): Promise<Recorded> {
    return this.store.commit(await this.begin(serial, attempt), outcome({ curves: [], ...more }));
  }

  begin(serial: string, attempt = 1) {
    const limit_file = { ...facts(serial).limit_file, sha256: JUDGED_BY };
    return this.store.begin(facts(serial, attempt, { limit_file, reference_check: null }));
  }

  /** Holds a unit. */
  async hold({ sha256, traveller }: Recorded): Promise<void> {
    await this.store.dispose({
      kind: "hold",
      by: { name: "B. Imani", sign_in: "stated" },
      units: [{ serial: traveller.serial, attempt: traveller.attempt.number, traveller: sha256 }],
      reason: { code: "DOUBTED", sentence: "Looked odd." },
    });
  }

  async sign(moment: "opened" | "hour" | "closed"): Promise<{ sequence: number; sha256: string }> {
    const log = new DailyHeadLog(this.folder);
    const at = new Date(this.clock.wall_ms()).toISOString();
    const head = await log.append({ at, moment, station: "line 1", ...(await this.store.ends()) }, this.key);
    await copyHeads(log, this.copies, head);
    return { sequence: head.sequence, sha256: head.sha256 };
  }

  /** Ends the program in good order; without a last head where it is cut off. */
  async close(how: "signed" | "cut off" = "signed"): Promise<void> {
    if (how === "signed") {
      await this.store.note({ event: "closed" });
      await this.sign("closed");
    }
    await this.store.close();
    this.#store = null;
  }

  /** @param asked what else than the folder and the key is known */
  audit(
    asked: { readonly copies?: boolean; readonly keys?: readonly string[] | null } = {},
  ): Promise<AuditReport> {
    return audit({
      folder: this.folder,
      keys: asked.keys === undefined ? [this.publicKey] : asked.keys,
      copiesFolder: asked.copies ? this.copies : null,
    });
  }

  /** Every file of the records, relative to the folder; the lock and the index are none. */
  files(): string[] {
    return filesBelow(this.folder).filter((path) => !/^\.(?:index|station-lock)/.test(path));
  }
}

/** A few of everything, closed in good order. */
export async function smallFolder(parent: string): Promise<AuditedFolder> {
  const it = new AuditedFolder(parent);
  await it.open();
  await it.test("A1");
  const second = await it.test("A2");
  await it.hold(second);
  await it.sign("hour");
  await it.test("A3");
  await it.close();
  return it;
}

export function filesBelow(folder: string, inner = ""): string[] {
  return readdirSync(join(folder, inner))
    .sort()
    .flatMap((name) => {
      const path = inner === "" ? name : `${inner}/${name}`;
      return statSync(join(folder, path)).isDirectory() ? filesBelow(folder, path) : [path];
    });
}
