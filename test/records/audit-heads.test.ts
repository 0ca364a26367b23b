import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { isSigned, signedHead } from "../../station/records/daily-head.ts";
import { newStationKey, openStationKey } from "../../station/records/daily-head-key.ts";
import { DailyHeadLog } from "../../station/records/daily-head-log.ts";
import { RecordStore } from "../../station/records/store.ts";
import {
  type AuditedFolder,
  JUDGED_BY,
  kinds,
  named,
  SMALL_TRAVELLERS,
  smallFolder,
} from "./audited-folder.ts";
import { facts, outcome } from "./example-attempt.ts";
import { scratchFolder } from "./scratch-folder.ts";

const [, T2 = "", T3 = ""] = SMALL_TRAVELLERS;

const small = () => smallFolder(scratchFolder());

describe("by the heads, an audit finds", () => {
  it.each([1, 2, 3])("an end of %i travellers that was cut off", async (count) => {
    const folder = await small();
    rmSync(join(folder.folder, ".index.db"));
    for (const path of SMALL_TRAVELLERS.slice(3 - count)) rmSync(join(folder.folder, path));
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

  it.each([
    ["a pass", {}],
    [
      "a void as an inspector aborts it",
      { verdict: "void", reasons: [{ code: "ABORTED", sentence: "Aborted." }] },
    ],
    ["a void as cut off, with results", { verdict: "void", reasons: [CUT_OFF] }],
  ] as const)(
    "%s that came while the station was closed, before and after the station signs again",
    async (_, more) => {
      const folder = await small();
      await forge(folder, more);
      for (const signs of [false, true]) {
        if (signs) await reopened(folder);
        const report = await folder.audit({ copies: true });
        expect([kinds(report), named(report)]).toEqual([["unsigned"], ["2026/01/05/00000004-FORGED-1.json"]]);
        expect(report.findings[0]?.what).toContain("it came after head 3 of 2026-01-05 06:00 UTC");
      }
    },
  );

  it("no fault in an attempt made void as cut off since the station closed, and names it", async () => {
    const folder = await small();
    const { facts: begun } = await forge(folder, null);
    await folder.open();
    await folder.close();
    const report = await folder.audit({ copies: true });
    expect(report.findings).toEqual([]);
    expect(report.notes).toEqual([
      expect.stringContaining(
        `attempt 1 of ${begun.serial}, void as cut off. If no test of that unit was cut off`,
      ),
    ]);
  });

  it("a chain that was written anew from a changed record on", async () => {
    const folder = await small();
    rmSync(join(folder.folder, ".index.db"));
    let previous: string | null = null;
    for (const path of SMALL_TRAVELLERS) {
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
});

const CUT_OFF = { code: "INTERRUPTED", sentence: "The station stopped during this attempt." } as const;

/** What whoever has the folder and not the station's key can write. @param more of the outcome; null leaves the attempt open */
async function forge({ folder, clock }: AuditedFolder, more: Parameters<typeof outcome>[0] | null) {
  const { store } = await RecordStore.open({ folder, clock, station: "line 1" });
  const limit_file = { ...facts("").limit_file, sha256: JUDGED_BY };
  const begun = await store.begin(facts("FORGED", 1, { limit_file, reference_check: null }));
  if (more !== null) await store.commit(begun, outcome({ curves: [], ...more }));
  await store.close();
  return begun;
}

async function reopened(folder: AuditedFolder): Promise<void> {
  await folder.open();
  await folder.test("A4");
  await folder.close();
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
