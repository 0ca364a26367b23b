import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { afterAll, expect, it } from "vitest";
import { newRunFolder } from "../station/run-folder.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-runs-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const BEGUN = new Date("2026-11-25T11:19:25.400Z");

it("simulated runs that begin in the same second get a folder each", () => {
  const parent = join(scratch, "not", "there yet");
  const folders = [1, 2, 3].map(() => basename(newRunFolder(parent, 7, BEGUN)));
  expect(folders).toEqual([
    "2026-11-25-111925-seed-7",
    "2026-11-25-111925-seed-7-2",
    "2026-11-25-111925-seed-7-3",
  ]);
  expect(basename(newRunFolder(parent, 8, BEGUN))).toBe("2026-11-25-111925-seed-8");
  expect(readdirSync(parent)).toHaveLength(4);
});

it("where no folder can be made, the path is handed on to whoever says so", () => {
  const file = join(scratch, "a file");
  writeFileSync(file, "");
  // Below /proc nothing can be made, and Node's own way of making folders never comes back from there.
  for (const parent of [file, join(file, "below"), "/proc/drumtight/records"]) {
    expect(existsSync(newRunFolder(parent, 7, BEGUN))).toBe(false);
  }
});
