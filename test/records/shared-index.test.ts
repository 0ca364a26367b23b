import { expect, it } from "vitest";
import { readAttempts } from "../../station/records/read-attempts.ts";
import { readDispositions } from "../../station/records/read-dispositions.ts";
import { withSharedIndex } from "../../station/records/shared-index.ts";
import { test } from "./held-units.ts";
import { open, record } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";

it("an index that is shared stays as it was, and what is recorded after it was looked at is found in the files", async () => {
  const folder = scratchFolder();
  const { store } = await open(folder);
  await test(store, "A1");
  await withSharedIndex(folder, async (shared) => {
    expect(shared.index?.history("A1")).toHaveLength(1);
    await record(store, "A1", 2);
    expect(shared.index?.history("A1")).toHaveLength(1);
    expect(shared.index?.countedEnd()).toEqual({ records: 1, last: 1 });
    const read = await readAttempts(folder, "A1", shared);
    expect(read.attempts.map(({ traveller }) => traveller?.attempt.number)).toEqual([1, 2]);
    expect(read.indexHasAll).toBe(false);
    expect(await readDispositions(folder, "A1", shared)).toEqual({ dispositions: [], problem: null });
  });
  expect((await readAttempts(folder, "A1")).indexHasAll).toBe(true);
});
