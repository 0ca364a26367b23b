import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { onTestFinished } from "vitest";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { scratchFolder } from "./scratch-folder.ts";

const FIND = fileURLToPath(new URL("find-child.mjs", import.meta.url));
const BUILT = fileURLToPath(new URL("../../dist/station/commands/find.js", import.meta.url));
export const reasons = [{ code: "OUT_OF_LIMITS", sentence: "The leak rate is above its limit." }];

/** A station that is running, with a fail and a pass of A1 on its records. */
export async function runningStation() {
  const folder = scratchFolder();
  const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  onTestFinished(() => store.close());
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("the example has a characteristic");
  const failed = { ...leak, value: 81.2345, verdict: "fail" as const, conformance: 0 };
  const a = await store.commit(
    await store.begin(facts("A1")),
    outcome({ verdict: "fail", reasons, characteristics: [failed] }),
  );
  const b = await store.commit(await store.begin(facts("A1", 2)), outcome());
  return { folder, store, paths: [a.path, b.path] as const };
}

export function find(...args: string[]) {
  if (!existsSync(BUILT)) throw new Error("This test runs the built program: npm run build first.");
  const env = { ...process.env, TZ: "Asia/Tokyo" };
  const { status, stdout, stderr } = spawnSync(process.execPath, [FIND, ...args], {
    encoding: "utf8",
    env,
    // What waits for a pipe would wait for ever.
    timeout: 120_000,
  });
  return { status, stdout, stderr };
}
