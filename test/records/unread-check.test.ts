import { copyFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { openDispositions } from "../../station/records/dispositions.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { find } from "./find-on-records.ts";
import { check, test as tested } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";
import { settleIndex } from "./settled-index.ts";

const ALL = {
  ...{ from: null, to: null, by: [], shifts: [] },
  now_ms: Date.parse("2026-12-01T00:00:00Z"),
};

/** A pass of A0, then those of A1 and A2 between a good and a failed check, whose hold was never written; the failed check is spoilt. */
async function spoiltCheck(index: "none" | "before it", spoil: (path: string) => void) {
  const folder = scratchFolder();
  const file = join(folder, ".index.db");
  const first = await open(folder);
  await tested(first.store, "A0", "pass");
  await check(first.store, "pass");
  await tested(first.store, "A1", "pass");
  await tested(first.store, "A2", "pass");
  await close(first.store);
  settleIndex(folder);
  copyFileSync(file, `${file}.before`);
  const again = await open(folder);
  const { path } = await check(again.store, "fail");
  await close(again.store);
  settleIndex(folder);
  rmSync(file);
  if (index === "before it") copyFileSync(`${file}.before`, file);
  rmSync(path);
  spoil(path);
  return { folder, path: path.slice(folder.length + 1) };
}

describe.each(["none", "before it"] as const)(
  "a failed check that can't be read, the folder's index: %s,",
  (index) => {
    it.each<[string, (path: string) => void]>([
      ["a link that leads nowhere", (path) => symlinkSync(`${path}.gone`, path)],
      ["no record", (path) => writeFileSync(path, "{")],
    ])("puts in doubt what was tested before it: %s", async (_, spoil) => {
      const { folder, path } = await spoiltCheck(index, spoil);
      const { status, stdout } = find("A1", "--records", folder);
      expect([status, stdout.split("\n")[1]]).toEqual([
        0,
        expect.stringMatching(
          new RegExp(`IN DOUBT .*piece REF-LEAK-1 was recorded after that test in ${path}, which can't`),
        ),
      ]);
      const inDoubt = await (await openDispositions(folder)).inDoubtOrAwaited();
      expect(inDoubt.map(({ serial }) => serial)).toEqual(["A1", "A2"]);
      const { total, heldUnits, source } = await collectYield({ folder, ...ALL });
      expect(source.broken.map((it) => it.path)).toEqual([join(folder, path)]);
      expect(heldUnits.map(({ serial }) => serial)).toEqual(["A1", "A2"]);
      // What was tested before the last good check is as good as ever.
      expect(find("A0", "--records", folder).stdout).toContain("PASSED");
      expect(total.inspected).toBe(1);
    });
  },
);
