import {
  copyFileSync,
  mkdirSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import { AuditedFolder, kinds, named, SMALL_TRAVELLERS, smallFolder } from "./audited-folder.ts";
import { scratchFolder } from "./scratch-folder.ts";

const DAY = "2026/01/05";
const [T1 = "", T2 = "", T3 = ""] = SMALL_TRAVELLERS;

const small = () => smallFolder(scratchFolder());

describe("an audit finds and names", () => {
  // Of every 37th byte, another bit of each; the bench tries every bit of every byte.
  it("one changed bit anywhere in any record", async () => {
    const folder = await tiny();
    // Without the index, which is no evidence.
    rmSync(join(folder.folder, ".index.db"));
    const unfound: string[] = [];
    for (const path of folder.files()) {
      const file = join(folder.folder, path);
      const bytes = readFileSync(file);
      for (let at = 0; at < bytes.length; at += 37) {
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

  it.each([
    ["that ends otherwise", `${DAY}/00000004-A9-1.JSON`],
    ["that hides", `${DAY}/.00000009-A1-1.json`],
    ["without an end", `${DAY}/00000004-A9-1`],
  ])("a traveller under a name %s, among the others", async (_, copy) => {
    const folder = await small();
    copyFileSync(join(folder.folder, T2), join(folder.folder, copy));
    const report = await folder.audit();
    expect([kinds(report), named(report)]).toEqual([["added"], [copy]]);
  });

  it.each([DAY, "2026", "events", "heads", "kept", ".open"])(
    "a link in the place of the folder %s, and does not follow it",
    async (inner) => {
      const folder = await small();
      const elsewhere = join(scratchFolder(), "elsewhere");
      renameSync(join(folder.folder, inner), elsewhere);
      symlinkSync(elsewhere, join(folder.folder, inner));
      const report = await folder.audit();
      expect(report.findings).toContainEqual({
        kind: "unreadable",
        path: inner,
        what: "it is a symbolic link, and no folder of records is one",
      });
    },
  );

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
});

/** Small, so that much of it can be tried in a few seconds. */
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

function swap(folder: string, one: string, other: string): void {
  renameSync(join(folder, one), join(folder, "swap"));
  renameSync(join(folder, other), join(folder, one));
  renameSync(join(folder, "swap"), join(folder, other));
}
