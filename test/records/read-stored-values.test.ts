import { expect, it } from "vitest";
import { RecordIndex } from "../../station/records/index-db.ts";
import { indexedAttempt } from "../../station/records/indexed-attempt.ts";
import { storedAttempts } from "../../station/records/read-stored-values.ts";
import { test as tested } from "./held-units.ts";
import { open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";

it("stored values are those of one moment: of a retest that a station adds meanwhile nothing shows, nor that the unit goes on", async () => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  const { traveller, sha256 } = await tested(store, "A1", "fail");
  const index = RecordIndex.open(folder);
  const retest = {
    ...indexedAttempt(traveller, sha256, "retest.json"),
    ...{ sequence: 2, attempt: 2, id: "the retest's", sha256: "b".repeat(64) },
  };
  const told = async (meanwhile: () => void) => {
    const found: [number, boolean][] = [];
    for await (const it of storedAttempts(folder, { model: traveller.model }, meanwhile)) {
      if (it.kind === "attempt") found.push([it.attempt.attempt, it.attempt.goesOn]);
    }
    return found;
  };
  expect(await told(() => index.add([retest]))).toEqual([[1, false]]);
  expect(await told(() => undefined)).toEqual([
    [1, true],
    [2, false],
  ]);
  index.close();
});
