import { linkSync, mkdirSync, readFileSync, renameSync, rmSync, utimesSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { AuditReport } from "../../station/records/audit.ts";
import { sha256Hex } from "../../station/records/chain.ts";
import { AuditedFolder, filesBelow, SMALL_TRAVELLERS, smallFolder } from "./audited-folder.ts";
import { scratchFolder } from "./scratch-folder.ts";

const [T1 = "", , T3 = ""] = SMALL_TRAVELLERS;

const small = () => smallFolder(scratchFolder());

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
    for (let at = 0; at < 6; at++) {
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

  it("files that are no records, without calling the records anything for it", async () => {
    const folder = await small();
    for (const path of ["notes.txt", "2026/01/05/photo.jpg", "events/.DS_Store", "kept/readme"]) {
      writeFileSync(join(folder.folder, path), "x");
    }
    linkSync(join(folder.folder, T1), join(folder.folder, "2026/backup.json"));
    const report = await folder.audit();
    expect(report.intact).toBe(true);
    expect(report.notes).toHaveLength(5);
  });
});

function snapshot(folder: string): Record<string, string> {
  return Object.fromEntries(
    filesBelow(folder)
      // SQLite's own notes on who is reading.
      .filter((path) => path !== ".index.db-shm")
      .map((path) => [path, sha256Hex(readFileSync(join(folder, path)))]),
  );
}
