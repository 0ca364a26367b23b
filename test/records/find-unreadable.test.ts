import { mkdirSync, renameSync, rmSync, symlinkSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { listRecords } from "../../station/records/record-name.ts";
import { find } from "./find-on-records.ts";
import { decision, test as tested } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";
import { UNREADABLE } from "./unreadable-travellers.ts";

/** Passes of A1, A2 and A3, the station switched off. */
async function threeUnits() {
  const folder = scratchFolder();
  const { store } = await open(folder);
  for (const serial of ["A1", "A2", "A3"]) await tested(store, serial, "pass");
  await close(store);
  const [, path = ""] = (await listRecords(folder)).map((file) => join(folder, file.path));
  return { folder, path };
}

describe.each(["beside its index", "without an index"])("drumtight find, %s,", (how) => {
  it.each(UNREADABLE)("names %s in a traveller's place, and tells of the others", async (_, put, words) => {
    const { folder, path } = await threeUnits();
    rmSync(path);
    put(path);
    if (how === "without an index") rmSync(join(folder, ".index.db"));
    const broken = find("A2", "--records", folder);
    expect(broken.status).toBe(1);
    expect(broken.stderr).toMatch(new RegExp(`^${path} is not as it was recorded: .*${words.source}.*\n`));
    // Whether it passed is not known, and it was not left untested.
    expect(broken.stdout).toContain("IN DOUBT");
    for (const serial of ["A1", "A3"]) {
      const other = find(serial, "--records", folder);
      expect(other).toMatchObject({ status: 0, stderr: "" });
      expect(other.stdout).toContain("PASSED");
    }
  });

  it("follows a link to where a traveller was put", async () => {
    const { folder, path } = await threeUnits();
    const elsewhere = join(scratchFolder(), "kept");
    mkdirSync(elsewhere);
    renameSync(path, join(elsewhere, "second.json"));
    symlinkSync(join(elsewhere, "second.json"), path);
    if (how === "without an index") rmSync(join(folder, ".index.db"));
    const found = find("A2", "--records", folder);
    expect(found).toMatchObject({ status: 0, stderr: "" });
    expect(found.stdout).toContain("PASSED");
  });
});

/** A1 on hold, A2 not, and something else where the hold's record was. */
async function spoiltHold(put: (path: string) => void) {
  const folder = scratchFolder();
  const { store } = await open(folder);
  const held = await tested(store, "A1", "pass");
  await store.dispose(decision("hold", held));
  await tested(store, "A2", "pass");
  await close(store);
  const path = join(folder, "dispositions", "00000001.json");
  rmSync(path);
  put(path);
  return { folder, path };
}

describe("drumtight find, where a hold's record can't be read,", () => {
  it.each(UNREADABLE)("calls no unit good and names the record: %s", async (_, put) => {
    const { folder, path } = await spoiltHold(put);
    for (const serial of ["A1", "A2"]) {
      const { status, stdout, stderr } = find(serial, "--records", folder);
      expect(status).toBeGreaterThan(0);
      expect(stdout).not.toContain("PASSED");
      expect(stderr).toContain(path);
      // Whoever put it away, or looked for a disk, would be led astray.
      expect(stderr).not.toMatch(/move it|is connected/);
    }
  });
});
