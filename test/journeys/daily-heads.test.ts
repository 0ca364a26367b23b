import { chmodSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { expect, it } from "vitest";
import { acceptLoss } from "../../station/records/accept-loss.ts";
import { audit } from "../../station/records/audit.ts";
import { sha256Hex } from "../../station/records/chain.ts";
import type { DailyHead } from "../../station/records/daily-head.ts";
import { newStationKey, openStationKey } from "../../station/records/daily-head-key.ts";
import { StationEvent } from "../../station/records/station-event.ts";
import { RecordStore } from "../../station/records/store.ts";
import { filesBelow } from "../records/audited-folder.ts";
import { facts, outcome, stoppedClock } from "../records/example-attempt.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/** A station that signs heads, its key and their copies beside its file. */
class SigningStation {
  readonly path: string;
  readonly records: string;
  readonly copies: string;
  readonly keyFile: string;
  readonly publicKey: string;
  #startsAt_ms = Date.parse("2026-01-05T06:00:00.000Z");

  constructor() {
    const { privatePem, publicKey } = newStationKey();
    this.publicKey = publicKey;
    this.path = changedStation(
      (text) => `${plain(text)}\ndaily_head: { key: key.pem, public_key: ${publicKey}, copies: copies }\n`,
    );
    const beside = dirname(this.path);
    this.keyFile = join(beside, "key.pem");
    this.copies = join(beside, "copies");
    this.records = join(scratchFolder(), "records");
    writeFileSync(this.keyFile, privatePem, { mode: 0o600 });
    mkdirSync(this.copies);
  }

  begin(startsAt_ms = this.#startsAt_ms): Promise<SimulatedShift> {
    return SimulatedShift.begin({ stationPath: this.path, recordsFolder: this.records, startsAt_ms });
  }

  /** One program, from its start to its end. */
  async shift(units: number): Promise<SimulatedShift> {
    const shift = await this.begin();
    const { population } = shift.simulated;
    const from = this.count("travellers");
    for (let at = from; at < from + units; at++) await shift.tryUnit(population.unitAt(at));
    this.#startsAt_ms = (await shift.close()).startsAt_ms;
    return shift;
  }

  count(what: "travellers" | "heads"): number {
    const files = filesBelow(this.records).filter((path) => path.endsWith(".json"));
    return files.filter((path) => (what === "heads" ? path.startsWith("heads/") : /^\d{4}\//.test(path)))
      .length;
  }

  heads(): DailyHead[] {
    const folder = join(this.records, "heads");
    return readdirSync(folder)
      .sort()
      .map((name) => JSON.parse(readFileSync(join(folder, name), "utf8")));
  }

  /** Takes away whatever a restored backup of an earlier time would not have. @returns how to put it back */
  loses(...paths: RegExp[]): void {
    for (const path of filesBelow(this.records)) {
      if (paths.some((lost) => lost.test(path)) || path.startsWith(".index"))
        rmSync(join(this.records, path));
    }
  }

  /** Somebody without the station's key records a test, or begins one and lets the next start make it void. */
  async forges(what: "pass" | "cut off"): Promise<void> {
    const { records: folder } = this;
    const clock = stoppedClock(new Date(this.#startsAt_ms).toISOString());
    const open = () => RecordStore.open({ folder, clock, station: "somebody" });
    const { store } = await open();
    const judgedBy = sha256Hex(readFileSync("limits/models/pod-4.yaml"));
    const limit_file = { ...facts("").limit_file, path: "pod-4.yaml", sha256: judgedBy };
    const started_at = new Date(this.#startsAt_ms).toISOString();
    const begun = await store.begin(facts("FORGED", 1, { started_at, limit_file }));
    if (what === "pass") await store.commit(begun, outcome({ curves: [] }));
    await store.close();
    if (what === "cut off") await (await open()).store.close();
  }

  accept(reason = "disk failed, restored from the night's backup") {
    return acceptLoss({
      folder: this.records,
      station: "Demo station 1",
      key: openStationKey(this.keyFile, this.publicKey),
      keys: [this.publicKey],
      copiesFolder: this.copies,
      by: { name: "A. Marsh", sign_in: "stated" },
      reason,
      at_ms: this.#startsAt_ms,
    });
  }

  audit() {
    return audit({ folder: this.records, keys: [this.publicKey], copiesFolder: this.copies });
  }
}

it("a station signs its records when it opens and closes, and the copies lie elsewhere", async () => {
  const station = new SigningStation();
  await station.shift(1);
  await station.shift(1);
  const heads = station.heads();
  expect(heads.map(({ moment }) => moment)).toEqual(["opened", "closed", "opened", "closed"]);
  expect(heads.map(({ travellers }) => travellers?.sequence ?? 0)).toEqual([0, 1, 1, 2]);
  expect(filesBelow(station.copies)).toHaveLength(4);
  const report = await station.audit();
  expect(report).toMatchObject({ findings: [], notes: [] });
  expect(report.chains.travellers.trusted).toMatchObject({
    sequence: 2,
    head: expect.stringContaining("head 4"),
  });
});

it("each file that decides about units is kept by its content when a station opens", async () => {
  const station = new SigningStation();
  await station.shift(1);
  const [opened] = filesBelow(join(station.records, "events"));
  const event = StationEvent.parse(
    JSON.parse(readFileSync(join(station.records, "events", opened ?? ""), "utf8")),
  );
  expect(event.in_force?.map(({ what }) => what)).toEqual([
    "station_file",
    "limit_file",
    "approval",
    "calibration",
  ]);
  const limits = event.in_force?.find(({ what }) => what === "limit_file");
  const [traveller = ""] = filesBelow(station.records).filter((path) => /^\d{4}\//.test(path));
  const { limit_file } = JSON.parse(readFileSync(join(station.records, traveller), "utf8"));
  expect(limits?.sha256).toBe(limit_file.sha256);
  expect(readFileSync(join(station.records, `kept/${limit_file.sha256}.yaml`), "utf8")).toBe(
    readFileSync("limits/models/pod-4.yaml", "utf8"),
  );
});

it("a station does not start on records whose end was cut off, and starts again when they are back", async () => {
  const station = new SigningStation();
  await station.shift(3);
  const last = filesBelow(station.records).filter((path) => path.includes("00000003-"))[0] ?? "";
  const aside = join(scratchFolder(), "aside.json");
  renameSync(join(station.records, last), aside);
  rmSync(join(station.records, ".index.db"));
  await expect(station.begin()).rejects.toThrow(
    /head 2 of 2026-01-05 06:0\d UTC knew of traveller number 3, and it is not there any more/,
  );
  expect(station.count("heads")).toBe(2);
  renameSync(aside, join(station.records, last));
  await station.shift(1);
  expect((await station.audit()).findings).toEqual([]);
});

it("a station does not start where the heads were cut off as well, while their copies know of them", async () => {
  const station = new SigningStation();
  await station.shift(1);
  await station.shift(1);
  station.loses(/00000002-/, /^heads\/0000000[34]/, /^events\/0000000[34]/);
  await expect(station.begin()).rejects.toThrow("head 4 of 2026-01-05 06:");
  // Not even where no head is left at all.
  station.loses(/^heads\//);
  await expect(station.begin()).rejects.toThrow("Records are missing in");
});

it("somebody answers for a loss: the heads come back, the station starts, and every audit tells of it", async () => {
  const station = new SigningStation();
  await station.shift(1);
  await station.shift(1);
  station.loses(/00000002-/, /^heads\/0000000[34]/, /^events\/0000000[34]/);
  await expect(station.begin()).rejects.toThrow("drumtight audit accept-loss");
  expect(await station.accept()).toMatchObject({ kind: "accepted", restored: 2 });
  await station.shift(1);
  const report = await station.audit();
  expect(report.findings).toEqual([]);
  expect(report.losses).toEqual([
    expect.stringMatching(
      /^Known loss: head 4 of .* UTC knew of 2 travellers, 0 dispositions, 4 events; 1 traveller, 0 dispositions, 2 events were there when A\. Marsh answered for it on .*: disk failed, restored from the night's backup$/,
    ),
  ]);
  expect(report.chains.travellers.trusted).toMatchObject({ sequence: 2 });
  expect(station.heads().map(({ moment }) => moment)).toEqual([
    "opened",
    "closed",
    "opened",
    "closed",
    "loss_accepted",
    "opened",
    "closed",
  ]);
  // What comes after is held to as before.
  station.loses(/00000002-/);
  await expect(station.begin()).rejects.toThrow("knew of traveller number 2");
});

it("nobody answers for records in which more is wrong than a missing end, or nothing", async () => {
  const station = new SigningStation();
  await station.shift(3);
  expect(await station.accept()).toEqual({ kind: "nothing missing", restored: 0 });
  station.loses(/00000001-/, /00000003-/);
  expect(await station.accept()).toMatchObject({ kind: "refused", why: expect.stringContaining("number 1") });
});

it("a station does not start on a test that was recorded while it was closed, until somebody answers for it", async () => {
  const station = new SigningStation();
  await station.shift(1);
  await station.forges("pass");
  await expect(station.begin()).rejects.toThrow(
    /00000002-FORGED-1\.json was added while the station was closed: it came after head 2 of /,
  );
  expect(station.count("heads")).toBe(2);
  expect((await station.audit()).findings).toEqual([expect.objectContaining({ kind: "unsigned" })]);
  expect(await station.accept("ran without daily_head")).toMatchObject({ kind: "accepted", restored: 0 });
  await station.shift(1);
  const report = await station.audit();
  expect(report.findings).toEqual([]);
  expect(report.losses).toEqual([
    expect.stringMatching(/head 2 .* knew of 1 traveller, .*; 2 travellers, .*: ran without daily_head$/),
  ]);
});

it("a station starts on an attempt that was made void as cut off while it was closed, and names it", async () => {
  const station = new SigningStation();
  await station.shift(1);
  await station.forges("cut off");
  const { simulated } = await station.shift(0);
  expect(simulated.unseen).toEqual([
    expect.stringMatching(
      /00000002-FORGED-1\.json came after head 2 of .* attempt 1 of FORGED, void as cut off/,
    ),
  ]);
  expect((await station.audit()).findings).toEqual([]);
});

it("a share that is away stops nothing: it is told, and the copies are made up for", async () => {
  const station = new SigningStation();
  await station.shift(1);
  renameSync(station.copies, `${station.copies}-away`);
  const shift = await station.shift(1);
  expect(shift.simulated.unseen.join()).toMatch(/The copies of the daily heads in .* could not be written/);
  renameSync(`${station.copies}-away`, station.copies);
  await station.shift(1);
  expect(filesBelow(station.copies)).toHaveLength(6);
  expect(await station.audit()).toMatchObject({ findings: [], notes: [] });
});

it("a station does not start with a key that is not its own, and says that others can read the one it has", async () => {
  const station = new SigningStation();
  chmodSync(station.keyFile, 0o644);
  const shift = await station.shift(0);
  expect(shift.simulated.unseen).toEqual([expect.stringContaining("can be read by others than its owner")]);
  writeFileSync(station.keyFile, newStationKey().privatePem);
  await expect(station.begin()).rejects.toThrow("does not belong to the public_key under daily_head");
  rmSync(station.keyFile);
  await expect(station.begin()).rejects.toThrow("there is no such file");
});
