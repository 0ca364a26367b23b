import {
  copyFileSync,
  linkSync,
  mkdirSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  utimesSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import type { AuditReport } from "../../station/records/audit.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { isSigned, signedHead } from "../../station/records/daily-head.ts";
import { newStationKey, openStationKey } from "../../station/records/daily-head-key.ts";
import { DailyHeadLog } from "../../station/records/daily-head-log.ts";
import { AuditedFolder, filesBelow, smallFolder } from "./audited-folder.ts";
import { scratchFolder } from "./scratch-folder.ts";

const DAY = "2026/01/05";
const TRAVELLERS = [1, 2, 3].map((at) => `${DAY}/0000000${at}-A${at}-1.json`);
const [T1 = "", T2 = "", T3 = ""] = TRAVELLERS;

const small = () => smallFolder(scratchFolder());
const named = (report: AuditReport) => report.findings.map(({ path }) => path);
const kinds = (report: AuditReport) => report.findings.map(({ kind }) => kind);

describe("an audit of records nobody touched", () => {
  it("finds nothing, and relies on the last traveller by the newest head", async () => {
    const folder = await small();
    const report = await folder.audit({ copies: true });
    expect(report).toMatchObject({ intact: true, findings: [], notes: [], losses: [], heads: { count: 3 } });
    expect(report.chains.travellers).toMatchObject({
      count: 3,
      trusted: { sequence: 3, what: "A3 attempt 1", head: "head 3 of 2026-01-05 06:00 UTC" },
      unvouched: 0,
    });
    const { sha256 } = report.chains.travellers.trusted ?? { sha256: "" };
    expect(sha256).toBe(sha256Hex(readFileSync(join(folder.folder, T3))));
  });

  it("changes no file, makes none, and is indifferent to their times", async () => {
    const folder = await small();
    const before = snapshot(folder.folder);
    for (const path of folder.files()) utimesSync(join(folder.folder, path), 1, 1);
    expect((await folder.audit()).intact).toBe(true);
    expect(snapshot(folder.folder)).toEqual(before);
  });

  it("does not mind that the whole folder has another name", async () => {
    const folder = await small();
    const moved = join(scratchFolder(), "elsewhere");
    renameSync(folder.folder, moved);
    mkdirSync(folder.folder);
    rmSync(folder.folder, { recursive: true });
    renameSync(moved, folder.folder);
    expect((await folder.audit()).intact).toBe(true);
  });

  it("takes an attempt under way and half-written files for what they are", async () => {
    const folder = await small();
    await folder.open();
    await folder.begin("B1");
    writeFileSync(join(folder.folder, ".open/7.part"), '{"half');
    writeFileSync(join(folder.folder, "events/.12-ab.part"), '{"half');
    writeFileSync(join(folder.folder, "heads/.head.part"), '{"half');
    const report = await folder.audit({ copies: true });
    expect(report.findings).toEqual([]);
    expect(report.notes).toEqual(["1 attempts are begun and not recorded: under test now, or cut off."]);
    await folder.close("cut off");
  });

  it("says how many records no head vouches for yet", async () => {
    const folder = await small();
    await folder.open();
    await folder.test("A4");
    await folder.test("A5");
    await folder.close("cut off");
    const report = await folder.audit();
    expect(report.intact).toBe(true);
    expect(report.chains.travellers).toMatchObject({ trusted: { sequence: 3 }, unvouched: 2 });
  });

  it("takes what a station writes meanwhile for no finding", async () => {
    const folder = await small();
    await folder.open();
    let isOver = false;
    const audits = (async () => {
      const reports: AuditReport[] = [];
      while (!isOver) reports.push(await folder.audit({ copies: true }));
      return reports;
    })();
    for (let at = 0; at < 15; at++) {
      const recorded = await folder.test(`B${at}`);
      if (at % 5 === 0) await folder.hold(recorded);
      if (at % 4 === 0) await folder.sign("hour");
      if (at % 6 === 0)
        await folder.store.note({ event: "signed_in", who: { name: "Ines", sign_in: "stated" } });
    }
    isOver = true;
    const reports = await audits;
    expect(reports.length).toBeGreaterThan(2);
    expect(reports.flatMap(({ findings }) => findings)).toEqual([]);
    await folder.close();
  });

  it("refuses a folder that is not there, and one without a record", async () => {
    const folder = new AuditedFolder(scratchFolder());
    await expect(folder.audit()).rejects.toThrow("There is no records folder");
    mkdirSync(folder.folder);
    await expect(folder.audit()).rejects.toThrow("There are no records in");
  });
});

describe("an audit finds and names", () => {
  it("one changed bit of any byte of any record", { timeout: 600_000 }, async () => {
    const folder = await tiny();
    // Without the index, which is no evidence.
    rmSync(join(folder.folder, ".index.db"));
    const unfound: string[] = [];
    for (const path of folder.files()) {
      const file = join(folder.folder, path);
      const bytes = readFileSync(file);
      for (let at = 0; at < bytes.length; at++) {
        const changed = Buffer.from(bytes);
        changed[at] = (bytes[at] ?? 0) ^ (1 << (at % 8));
        writeFileSync(file, changed);
        const report = await folder.audit();
        if (report.intact || !named(report).includes(path)) unfound.push(`${path} at ${at}`);
      }
      writeFileSync(file, bytes);
    }
    expect(unfound).toEqual([]);
    expect((await folder.audit()).intact).toBe(true);
  });

  it("any file that was removed", async () => {
    const folder = await small();
    for (const path of folder.files()) {
      const file = join(folder.folder, path);
      const bytes = readFileSync(file);
      rmSync(file);
      const report = await folder.audit({ copies: true });
      expect(report.intact, path).toBe(false);
      // A last record that has gone is named by its number.
      const [name, number] = [path.split("/")[0], Number(/(\d{8})/.exec(path)?.[1])];
      const isNamed = report.findings.some(
        (it) =>
          it.path === path ||
          ([name, "travellers"].includes(it.path) && it.what.includes(`of number ${number},`)),
      );
      expect(isNamed, `${path}: ${JSON.stringify(report.findings)}`).toBe(true);
      writeFileSync(file, bytes);
    }
  });

  it("any two records of a kind that changed places", async () => {
    const folder = await small();
    for (const [one = "", other = ""] of [
      [T1, T2],
      [T2, T3],
      ["events/00000001.json", "events/00000002.json"],
      ["heads/00000001.json", "heads/00000002.json"],
      ["heads/00000002.json", "heads/00000003.json"],
    ]) {
      swap(folder.folder, one, other);
      expect(named(await folder.audit()), one).toEqual(expect.arrayContaining([one, other]));
      swap(folder.folder, one, other);
    }
    expect((await folder.audit()).intact).toBe(true);
  });

  it.each([
    ["under the next number", `${DAY}/00000004-A2-1.json`],
    ["under another serial", `${DAY}/00000002-A9-1.json`],
    ["in another day", "2026/01/06/00000002-A2-1.json"],
    ["under a name that is no traveller's", `${DAY}/00000002-A2-1 (copy).json`],
  ])("a traveller that was copied, %s", async (_, copy) => {
    const folder = await small();
    mkdirSync(dirname(join(folder.folder, copy)), { recursive: true });
    copyFileSync(join(folder.folder, T2), join(folder.folder, copy));
    expect(named(await folder.audit())).toEqual([copy]);
  });

  it("an event that was copied under the next number", async () => {
    const folder = await small();
    const [from, to] = ["events/00000002.json", "events/00000003.json"];
    copyFileSync(join(folder.folder, from), join(folder.folder, to));
    expect(named(await folder.audit())).toEqual([to]);
  });

  it("a day's folder that has another name", async () => {
    const folder = await small();
    renameSync(join(folder.folder, DAY), join(folder.folder, "2026/01/04"));
    const report = await folder.audit();
    expect(kinds(report)).toEqual(["misplaced", "misplaced", "misplaced"]);
    expect(report.findings[0]?.what).toContain(`belongs in ${T1}`);
    expect(report.chains.travellers.trusted).toBeNull();
  });

  it("a day's folder that is none any more", async () => {
    const folder = await small();
    renameSync(join(folder.folder, DAY), join(folder.folder, "2026/01/05.old"));
    const report = await folder.audit();
    expect(report.findings[0]).toMatchObject({ kind: "truncated", path: "travellers" });
    expect(report.notes).toContain("2026/01/05.old is no record, and was not looked at.");
  });

  it.each([1, 2, 3])("an end of %i travellers that was cut off, by the heads", async (count) => {
    const folder = await small();
    rmSync(join(folder.folder, ".index.db"));
    for (const path of TRAVELLERS.slice(3 - count)) rmSync(join(folder.folder, path));
    const report = await folder.audit();
    const [first] = report.findings;
    expect(first).toMatchObject({ kind: "truncated", path: "travellers" });
    expect(first?.what).toContain("head 3 of 2026-01-05 06:00 UTC");
    expect(report.chains.travellers.trusted?.sequence ?? 0).toBeLessThanOrEqual(3 - count);
  });

  it("an end that was cut off together with its heads, by their copies", async () => {
    const folder = await small();
    for (const path of [".index.db", T3, "events/00000002.json", "heads/00000003.json"]) {
      rmSync(join(folder.folder, path));
    }
    expect((await folder.audit()).intact).toBe(true);
    const report = await folder.audit({ copies: true });
    expect(kinds(report)).toEqual(expect.arrayContaining(["truncated"]));
    expect(named(report)).toEqual(expect.arrayContaining(["heads/00000003.json", "travellers", "events"]));
  });

  it("all heads that were removed, by what the station noted and by their copies", async () => {
    const folder = await small();
    rmSync(join(folder.folder, "heads"), { recursive: true });
    expect(named(await folder.audit())).toEqual(["heads/00000001.json"]);
    expect(named(await folder.audit({ copies: true }))).toContain("heads/00000001.json");
    rmSync(join(folder.folder, "events"), { recursive: true });
    const report = await folder.audit({ copies: true });
    expect(named(report)).toEqual(expect.arrayContaining(["heads/00000001.json", "events"]));
  });

  it("a traveller in due form that was added while the station was closed", async () => {
    const folder = await small();
    await folder.open();
    await folder.test("A4");
    await folder.close("cut off");
    // As if the last start had never been: its head and event go, its traveller stays.
    for (const path of ["heads/00000004.json", "events/00000003.json", ".index.db"]) {
      rmSync(join(folder.folder, path));
    }
    const report = await folder.audit();
    expect(named(report)).toEqual([`${DAY}/00000004-A4-1.json`]);
    expect(report.findings[0]?.what).toContain("it came after head 3 of 2026-01-05 06:00 UTC");
  });

  it("a chain that was written anew from a changed record on, by the heads", async () => {
    const folder = await small();
    rmSync(join(folder.folder, ".index.db"));
    let previous: string | null = null;
    for (const path of TRAVELLERS) {
      const traveller = JSON.parse(readFileSync(join(folder.folder, path), "utf8"));
      const changed = { ...traveller, who: { inspector: "Somebody", sign_in: "stated" } };
      const text = canonicalText({ ...changed, chain: { ...traveller.chain, previous } });
      previous = sha256Hex(text);
      writeFileSync(join(folder.folder, path), text);
    }
    const report = await folder.audit();
    expect(named(report)).toEqual(expect.arrayContaining([T2, T3]));
    expect(report.chains.travellers.trusted?.head ?? null).toBeNull();
  });

  it("heads that were signed anew with another key", async () => {
    const folder = await small();
    const { privatePem, publicKey } = newStationKey();
    writeFileSync(folder.keyFile, privatePem);
    const thief = openStationKey(folder.keyFile, publicKey);
    await resign(folder, thief, (head) => head);
    const report = await folder.audit();
    expect(report.findings.filter(({ kind }) => kind === "signature")).toHaveLength(3);
    expect(report.chains.travellers.trusted?.head).toBeNull();
    // Whoever does not say which key is the station's is told that nobody knows.
    const blind = await folder.audit({ keys: null });
    expect(blind.notes.join()).toContain("Nobody said which key is the station's");
  });

  it("a history that a thief of the key has signed anew, by the copies out of his reach and by nothing else", async () => {
    const folder = await small();
    for (const path of [".index.db", T3, "events/00000002.json"]) rmSync(join(folder.folder, path));
    const end = (path: string, sequence: number) => ({
      sequence,
      sha256: sha256Hex(readFileSync(join(folder.folder, path))),
    });
    await resign(folder, folder.key, (head) => ({
      ...head,
      ...(head.chain.sequence === 3
        ? { travellers: end(T2, 2), events: end("events/00000001.json", 1) }
        : {}),
    }));
    expect((await folder.audit()).intact).toBe(true);
    const report = await folder.audit({ copies: true });
    expect(named(report)).toContain("heads/00000003.json");
    expect(report.findings[0]?.what).toContain("it is not what the copy of head 3");
  });

  it("a copy of a limit file that was changed or removed, and whose it was", async () => {
    const folder = await small();
    const kept = folder.files().filter((path) => path.startsWith("kept/"));
    for (const path of kept) {
      const file = join(folder.folder, path);
      const bytes = readFileSync(file);
      writeFileSync(file, Buffer.concat([bytes, Buffer.from("\n")]));
      const report = await folder.audit();
      expect(named(report)).toEqual([path]);
      expect(report.findings[0]?.what).toMatch(/copy of (?:station|demo-body)\.yaml, which events\/00000001/);
      writeFileSync(file, bytes);
    }
  });

  it("records that are links, folders or pipes, and reads none of them", async () => {
    const folder = await small();
    const elsewhere = join(scratchFolder(), "other.json");
    renameSync(join(folder.folder, T1), elsewhere);
    symlinkSync(elsewhere, join(folder.folder, T1));
    rmSync(join(folder.folder, "events/00000002.json"));
    mkdirSync(join(folder.folder, "events/00000002.json"));
    const report = await folder.audit();
    expect(report.findings).toEqual(
      expect.arrayContaining([
        { kind: "unreadable", path: T1, what: "it is a symbolic link, and no record is one" },
        { kind: "unreadable", path: "events/00000002.json", what: "it is a folder or a device, no file" },
      ]),
    );
  });

  it("an index that says something else of a traveller", async () => {
    const folder = await small();
    const index = new Database(join(folder.folder, ".index.db"));
    index.exec("UPDATE attempts SET verdict = 'fail' WHERE sequence = 2");
    index.close();
    const report = await folder.audit();
    expect(report.findings).toEqual([expect.objectContaining({ kind: "index", path: ".index.db" })]);
    expect(report.findings[0]?.what).toContain(`of ${T2} it says something else: verdict`);
  });

  it("a last traveller that was changed or removed where no head was signed, by the index", async () => {
    const folder = await small();
    rmSync(join(folder.folder, "heads"), { recursive: true });
    rmSync(join(folder.folder, "events"), { recursive: true });
    const file = join(folder.folder, T3);
    const text = readFileSync(file, "utf8");
    writeFileSync(file, text.replace('"value":22.4', '"value":22.5'));
    expect(named(await folder.audit())).toContain(T3);
    rmSync(file);
    expect(named(await folder.audit())).toEqual([T3]);
    // Without the index either, nothing shows it, and that is said.
    rmSync(join(folder.folder, ".index.db"));
    const report = await folder.audit();
    expect(report.intact).toBe(true);
    expect(report.notes.join()).toContain("an end that was cut off");
  });

  it("files that are no records, without calling the records anything for it", async () => {
    const folder = await small();
    for (const path of ["notes.txt", `${DAY}/photo.jpg`, "events/.DS_Store", "kept/readme"]) {
      writeFileSync(join(folder.folder, path), "x");
    }
    linkSync(join(folder.folder, T1), join(folder.folder, "2026/backup.json"));
    const report = await folder.audit();
    expect(report.intact).toBe(true);
    expect(report.notes).toHaveLength(5);
  });
});

/** Two of what there is most of, so that each of its bytes can be tried in a few seconds. */
async function tiny(): Promise<AuditedFolder> {
  const folder = new AuditedFolder(scratchFolder());
  await folder.open();
  const short = { verdict: "void", characteristics: [], phases: [], ambient: null } as const;
  const reasons = [{ code: "ABORTED", sentence: "Aborted." }];
  await folder.test("A1", 1, { ...short, reasons });
  await folder.test("A2", 1, { ...short, reasons });
  await folder.close();
  return folder;
}

async function resign(
  { folder }: AuditedFolder,
  key: Parameters<typeof signedHead>[1],
  change: (head: Omit<Parameters<typeof signedHead>[0], never>) => Parameters<typeof signedHead>[0],
): Promise<void> {
  let previous: string | null = null;
  for (const { content, sequence } of await new DailyHeadLog(folder).all()) {
    const { signature: _, public_key: __, format: ___, ...draft } = content;
    const head = signedHead({ ...change(draft), chain: { sequence, previous } }, key);
    expect(isSigned(head)).toBe(true);
    const text = canonicalText(head);
    previous = sha256Hex(text);
    writeFileSync(join(folder, `heads/0000000${sequence}.json`), text);
  }
}

function swap(folder: string, one: string, other: string): void {
  renameSync(join(folder, one), join(folder, "swap"));
  renameSync(join(folder, other), join(folder, one));
  renameSync(join(folder, "swap"), join(folder, other));
}

function snapshot(folder: string): Record<string, string> {
  return Object.fromEntries(
    filesBelow(folder)
      // SQLite's own notes on who is reading.
      .filter((path) => path !== ".index.db-shm")
      .map((path) => [path, sha256Hex(readFileSync(join(folder, path)))]),
  );
}
