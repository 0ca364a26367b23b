import { spawn } from "node:child_process";
import { once } from "node:events";
import { existsSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it, onTestFinished } from "vitest";
import type { DispositionDraft } from "../../station/records/disposition.ts";
import { openDispositions } from "../../station/records/dispositions.ts";
import { check, decision, test } from "./held-units.ts";
import { open } from "./running-store.ts";
import { readOnlyView, scratchFolder } from "./scratch-folder.ts";

const CHILD = fileURLToPath(new URL("dispose-child.mjs", import.meta.url));
const BUILT = fileURLToPath(new URL("../../dist/station/records/dispositions.js", import.meta.url));
const now_ms = () => Date.UTC(2026, 0, 5, 9);

describe("while a station runs, a command", () => {
  it("sees what the station has held, and what it releases the station sees at its next question", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const a = await test(store, "A1");
    const b = await test(store, "B2", "fail");
    const dispositions = await openDispositions(folder, { now_ms });
    expect(await dispositions.inDoubt()).toEqual([]);
    await check(store, "fail");
    const [hold] = await store.ensureHolds();
    expect(await dispositions.inDoubt()).toEqual([
      {
        serial: "A1",
        model: "demo-body",
        attempt: 1,
        traveller: a.sha256,
        verdict: "pass",
        holds: [hold],
        isScrapped: false,
      },
      expect.objectContaining({ serial: "B2", verdict: "fail" }),
    ]);
    const released = await dispositions.dispose(decision("accept", a));
    expect(released).toMatchObject({ at: "2026-01-05T09:00:00.000Z", chain: { sequence: 2 } });
    expect([...(await store.inDoubt()).inDoubt]).toEqual([b.sha256]);
    expect(await store.dispositionsOf("A1")).toEqual([hold, released]);
    await test(store, "B2");
    expect(await dispositions.inDoubt()).toEqual([]);
  });

  it("knows how a unit stands: its attempts, the decisions about it and what comes next", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const dispositions = await openDispositions(folder, { now_ms });
    expect(await dispositions.standingOf("A1")).toEqual({
      serial: "A1",
      attempts: [],
      dispositions: [],
      newest: null,
      inDoubt: null,
      isReworked: false,
      isScrapped: false,
      state: { state: "none", since: null, by: null, reason: null, attempt: null, other_holds: 0 },
    });
    const first = await test(store, "A1", "fail");
    await test(store, "A1", "pass", { draft: true });
    await test(store, "A1-1");
    const rework = await dispositions.dispose(decision("rework", first));
    const standing = await dispositions.standingOf("A1");
    expect(standing).toMatchObject({
      newest: { attempt: 1, sha256: first.sha256, verdict: "fail", causes: ["gross leak"] },
      dispositions: [rework],
      isReworked: true,
      inDoubt: null,
    });
    expect(standing.attempts).toEqual(await store.history("A1"));
    const again = await test(store, "A1");
    expect(await dispositions.standingOf("A1")).toMatchObject({ isReworked: false });
    await dispositions.dispose(decision("doubt", again));
    await dispositions.dispose(decision("scrap", again));
    expect(await dispositions.standingOf("A1")).toMatchObject({
      isScrapped: true,
      inDoubt: { attempt: 3, isScrapped: true },
    });
  });

  it("and another one, and the station, decide at once without losing or doubling anything", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const drafts: DispositionDraft[] = [];
    for (let at = 0; at < 5; at++) {
      const recorded = await test(store, `A${at}`);
      drafts.push(decision("hold", recorded), decision("accept", recorded));
    }
    const own = drafts.map((draft) => store.dispose(draft));
    const numbers = [...(await Promise.all([dispose(folder, drafts), dispose(folder, drafts)])).flat()];
    for (const { chain } of await Promise.all(own)) numbers.push(chain.sequence);
    expect(numbers.sort((a, b) => a - b)).toEqual(Array.from({ length: 30 }, (_, at) => at + 1));
    for (let at = 0; at < 5; at++) expect(await store.dispositionsOf(`A${at}`)).toHaveLength(6);
  });
});

describe("a command decides nothing", () => {
  it("about a unit whose traveller was changed, and says which", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const a = await test(store, "A1");
    const dispositions = await openDispositions(folder, { now_ms });
    await dispositions.dispose(decision("doubt", a));
    writeFileSync(a.path, readFileSync(a.path, "utf8").replace("22.4", "12.4"));
    const failure = { code: "CORRUPT", path: a.path };
    await expect(dispositions.standingOf("A1")).rejects.toMatchObject(failure);
    const draft = decision("accept", a);
    await expect(dispositions.dispose(draft)).rejects.toMatchObject({ code: "INVALID_RECORD" });
    writeFileSync(a.path, "{}");
    await expect(dispositions.inDoubt()).rejects.toMatchObject(failure);
  });

  it("where a decision was changed", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const a = await test(store, "A1");
    await store.dispose(decision("hold", a));
    await store.dispose(decision("hold", a));
    const path = `${folder}/dispositions/00000001.json`;
    writeFileSync(path, readFileSync(path, "utf8").replace('"hold"', '"accept"'));
    const dispositions = await openDispositions(folder, { now_ms });
    for (const asked of [
      dispositions.inDoubt(),
      dispositions.standingOf("A1"),
      dispositions.dispose(decision("accept", a)),
    ]) {
      await expect(asked).rejects.toMatchObject({ code: "CORRUPT" });
    }
  });

  it("nor does the station, where the last decision has gone", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const a = await test(store, "A1");
    await store.dispose(decision("doubt", a));
    rmSync(`${folder}/dispositions/00000001.json`);
    const dispositions = await openDispositions(folder, { now_ms });
    for (const asked of [
      dispositions.inDoubt(),
      dispositions.standingOf("A1"),
      dispositions.dispose(decision("accept", a)),
      store.dispose(decision("accept", a)),
    ]) {
      await expect(asked).rejects.toMatchObject({
        code: "CORRUPT",
        path: `${folder}/dispositions/00000001.json`,
      });
    }
    // Still known to whoever has read it.
    expect([...(await store.inDoubt()).inDoubt]).toEqual([a.sha256]);
  });

  it("where there are no records, or where it may not write", async () => {
    const missing = `${scratchFolder()}/nowhere`;
    await expect(openDispositions(missing)).rejects.toMatchObject({ code: "FOLDER_MISSING" });
    expect(existsSync(missing)).toBe(false);
    const folder = scratchFolder();
    const { store } = await open(folder);
    const a = await test(store, "A1");
    const view = await openDispositions(readOnlyView(folder), { now_ms });
    expect(await view.standingOf("A1")).toMatchObject({ newest: { attempt: 1 } });
    await expect(view.dispose(decision("hold", a))).rejects.toMatchObject({ code: "NOT_WRITABLE" });
  });

  it("about a unit whose record has gone", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const a = await test(store, "A1");
    rmSync(a.path);
    const dispositions = await openDispositions(folder, { now_ms });
    await expect(dispositions.dispose(decision("hold", a))).rejects.toMatchObject({
      code: "INVALID_RECORD",
    });
  });
});

/** In a process of its own. @returns the numbers that the decisions got */
async function dispose(folder: string, drafts: readonly DispositionDraft[]): Promise<number[]> {
  if (!existsSync(BUILT)) throw new Error("This test runs the built program: npm run build first.");
  const child = spawn(process.execPath, [CHILD, folder, JSON.stringify(drafts)], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  onTestFinished(() => {
    child.kill("SIGKILL");
  });
  const exit = once(child, "exit");
  let printed = "";
  for await (const text of child.stdout.setEncoding("utf8")) printed += text;
  expect(await exit).toEqual([0, null]);
  return printed.trim().split("\n").map(Number);
}
