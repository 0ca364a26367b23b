import { existsSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { askedUndisturbed } from "../../station/records/index-file.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { test } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";
import { writeTravellers } from "./written-travellers.ts";

const rebuilt = async (folder: string) => {
  await rebuildIndex({ folder, at_ms: Date.UTC(2026, 0, 6) });
};

it("a question during which a station started is asked once more, and no more while it runs", async () => {
  const folder = scratchFolder();
  const first = await open(folder);
  await test(first.store, "A1");
  await close(first.store);
  // Not before this does SQLite let go of the journal in this process.
  await rebuilt(folder);
  expect(existsSync(join(folder, ".index.db-wal"))).toBe(false);
  let asked = 0;
  let running: Awaited<ReturnType<typeof open>> | undefined;
  const answer = await askedUndisturbed(folder, async () => {
    if (asked++ === 0) running = await open(folder);
    return asked;
  });
  expect(answer).toBe(2);
  const again = await askedUndisturbed(folder, async () => {
    await test((running as NonNullable<typeof running>).store, "A2");
    return ++asked;
  });
  expect(again).toBe(3);
});

it("a question during which the index was made anew is asked once more, and one that failed then as well", async () => {
  const folder = scratchFolder();
  writeTravellers(folder, 5);
  await rebuilt(folder);
  let asked = 0;
  const answer = await askedUndisturbed(folder, async () => {
    if (asked++ > 0) return "whole";
    await rebuilt(folder);
    throw new Error("two halves");
  });
  expect([answer, asked]).toEqual(["whole", 2]);
});

it("an undisturbed question is asked once, and fails with its own error", async () => {
  const folder = scratchFolder();
  writeTravellers(folder, 5);
  await rebuilt(folder);
  let asked = 0;
  const refused = askedUndisturbed(folder, async () => {
    asked++;
    throw new Error("no");
  });
  await expect(refused).rejects.toThrow("no");
  expect(asked).toBe(1);
});
