import { rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import Database from "libsql";
import { beforeEach, describe, expect, it } from "vitest";
import { checkIndex } from "../../station/records/index-check.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { copyIndex, emptyPage } from "./emptied-page.ts";
import { scratchFolder } from "./scratch-folder.ts";
import { writeTravellers } from "./written-travellers.ts";

const COLUMNS = [
  ...[
    "sha256",
    "path",
    "id",
    "record_kind",
    "serial",
    "model",
    "attempt",
    "attempt_kind",
    "draft",
    "verdict",
  ],
  ...[
    "started_at",
    "ended_at",
    "ended",
    "duration_s",
    "form",
    "codes",
    "causes",
    "suspect",
    "measured",
    "unit",
  ],
];

describe("a check of the index names", () => {
  let folder: string;
  let paths: string[];
  beforeEach(async () => {
    folder = scratchFolder();
    paths = writeTravellers(folder, 12);
    await rebuildIndex({ folder, at_ms: 0 });
  });

  function change(sql: string): void {
    const database = new Database(copyIndex(folder));
    database.exec(sql);
    database.close();
  }

  it("the column of any value that is not the traveller's", async () => {
    for (const column of COLUMNS) change(`UPDATE attempts SET ${column} = '77' WHERE sequence = 5`);
    const { differences, differenceCount } = await checkIndex(folder);
    const ofIt = differences.find(({ path }) => path === paths[4])?.what ?? "";
    expect(ofIt.replace("the index has it otherwise: ", "").split(", ").sort()).toEqual([...COLUMNS].sort());
    expect(differenceCount).toBe(differences.length);
  });

  it.each([
    ["the stored numbers", "UPDATE stored_values SET numbers = x'00' WHERE sequence = 5", 4, "numbers"],
    ["the parts", "UPDATE stored_values SET parts = '{}' WHERE sequence = 5", 4, "parts"],
    ["a row that is missing", "DELETE FROM attempts WHERE sequence = 5", 4, "the index does not have it"],
    ["the newest row that is missing", "DELETE FROM attempts WHERE sequence = 12", 11, "does not have it"],
  ])("%s", async (_, sql, at, what) => {
    change(sql);
    const { differences } = await checkIndex(folder);
    expect(differences.find(({ path }) => path === paths[at])?.what).toContain(what);
  });

  it.each([
    ["a form that is of no traveller", "INSERT INTO forms VALUES (1, 'M', '{}')", "form 1"],
    ["values of no traveller", "INSERT INTO stored_values VALUES (99, 1, '{}', x'')", "number 99"],
    [
      "a count of travellers that is not theirs",
      "UPDATE counted SET attempts = 13",
      "counts 13 travellers, and has 12",
    ],
    ["a count that is not there", "DELETE FROM counted", "counts no travellers, and has 12"],
    [
      "a unit's row",
      "UPDATE units SET voids = 7 WHERE serial = 'A1'",
      "unit A1, the table units differs: voids",
    ],
  ])("%s", async (_, sql, what) => {
    change(sql);
    const { differences } = await checkIndex(folder);
    expect(differences.map((it) => `${it.path} ${it.what}`).join("\n")).toContain(what);
  });

  it.each(["attempts_ended", "attempts_failed", "attempts_id", "units_first"])(
    "rows that SQLite's own index %s lost with a page, though no table lacks one",
    async (name) => {
      emptyPage(folder, name);
      const { differences } = await checkIndex(folder);
      expect(differences.map((it) => `${it.path} ${it.what}`).join("\n")).toMatch(
        new RegExp(`^\\.index\\.db it is damaged: .*${name}`, "m"),
      );
    },
  );

  it.each([
    ["a traveller's text", "UPDATE attempts SET path = CAST(x'32ff36' AS TEXT) WHERE sequence = 5"],
    ["a unit's text", "UPDATE units SET serial = CAST(x'41b1' AS TEXT) WHERE serial = 'A1'"],
  ])("an index that can't be read, where the disk has turned a bit of %s", async (_, sql) => {
    change(sql);
    expect(await checkIndex(folder)).toMatchObject({ isThere: false });
  });

  it("a traveller that has gone, one that is broken, and goes on with the others", async () => {
    const [second = "", third = ""] = paths.slice(1, 3);
    rmSync(join(folder, second));
    writeFileSync(join(folder, third), "{");
    const { differences, travellers } = await checkIndex(folder);
    expect(differences).toEqual([
      { path: third, what: "can't be compared: it is not readable JSON" },
      { path: second, what: "the index has it, and it is not there" },
    ]);
    expect(travellers).toBe(11);
  });

  it("nothing where nothing differs, and that there is none where it was deleted", async () => {
    expect(await checkIndex(folder)).toMatchObject({ isThere: true, travellers: 12, differences: [] });
    rmSync(join(folder, ".index.db"));
    expect(await checkIndex(folder)).toMatchObject({ isThere: false, travellers: 0 });
  });
});
