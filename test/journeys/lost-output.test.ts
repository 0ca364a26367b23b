import { spawn } from "node:child_process";
import { once } from "node:events";
import { closeSync, openSync } from "node:fs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { PROGRAM } from "../program.ts";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";
import { ServedStation } from "./served-station.ts";

/** Runs the program with standard output on this file. */
async function writingTo(path: string, args: readonly string[]) {
  const output = openSync(path, "w");
  const child = spawn(process.execPath, [PROGRAM, ...args], { stdio: ["ignore", output, "pipe"] });
  closeSync(output);
  return ended(child);
}

/** Runs the program and reads one line of it, as `head -1` does. */
async function readOnce(args: readonly string[]) {
  const child = spawn(process.execPath, [PROGRAM, ...args], { stdio: ["ignore", "pipe", "pipe"] });
  child.stdout.once("data", () => child.stdout.destroy());
  return ended(child);
}

async function ended(child: ReturnType<typeof spawn>) {
  let stderr = "";
  child.stderr?.setEncoding("utf8").on("data", (text: string) => {
    stderr += text;
  });
  const [code] = await once(child, "close");
  return { code, stderr };
}

describe("a list whose reader has seen enough", () => {
  it("ends quietly, as other programs do, long before it is all made", async () => {
    const { code, stderr } = await readOnce(["sim", "units", "--count", "10000000", "--json"]);
    expect(stderr).toBe("");
    expect(code).toBe(141);
  });

  it("ends with the reason where the disk is full", async () => {
    const { code, stderr } = await writingTo("/dev/full", ["sim", "units", "--count", "5"]);
    expect(stderr).toMatch(/^Standard output can no longer be written \(ENOSPC.*\)\.\n$/);
    expect(code).toBe(2);
  });
});

describe("a shift whose verdicts can't be told any more", () => {
  it.each([
    ["the reader has gone", (args: readonly string[]) => readOnce(args)],
    ["the disk is full", (args: readonly string[]) => writingTo("/dev/full", args)],
  ])("ends with one sentence and exit code 2 when %s, with what was tested on record", async (_, run) => {
    const records = scratchFolder();
    const { code, stderr } = await run(["run", "--simulate", "--units", "500", "--records", records]);
    expect(stderr).toMatch(/^Standard output can no longer be written .* outputs safe\..*\n$/);
    expect(stderr).toContain(records);
    expect(code).toBe(2);
    const kept = await travellersIn(records);
    expect(kept.length).toBeGreaterThan(0);
    expect(kept.length).toBeLessThan(10);
  });
});

describe("a shift on a real line whose reader goes in mid-test", { timeout: 120_000 }, () => {
  const SERIAL = "POD361707"; // the first unit of seed 6
  let station: ServedStation;
  beforeAll(async () => {
    station = new ServedStation("tcp", ["--seed", "6", "--count", "5", "--hands"]);
    await station.ready();
    await station.mount(SERIAL);
  });
  afterAll(() => station.close());

  it("records the unit as void by the program's stop, not by the inspector's", async () => {
    const shift = station.run([]);
    shift.type(SERIAL);
    await shift.waitFor((event) => event.event === "phase" && event.phase === "fill");
    shift.child.stdout?.destroy();
    const { code, stderr } = await shift.ended;
    expect(stderr).toMatch(/^Standard output can no longer be written .*\n$/);
    expect(code).toBe(2);
    const [traveller] = await travellersIn(station.records);
    expect(traveller).toMatchObject({
      serial: SERIAL,
      verdict: "void",
      reasons: [
        {
          code: "PROGRAM_STOPPED",
          sentence: "The program was stopped during the test. Test the unit again.",
        },
      ],
    });
  });

  it.each(["SIGTERM", "SIGINT", "SIGHUP"] as const)(
    "records the unit in the same way at %s",
    async (signal) => {
      const shift = station.run([]);
      shift.type(SERIAL);
      await shift.waitFor((event) => event.event === "phase" && event.phase === "fill");
      shift.child.kill(signal);
      const { code } = await shift.ended;
      expect(code).toBe(1);
      expect((await travellersIn(station.records)).at(-1)).toMatchObject({
        serial: SERIAL,
        verdict: "void",
        reasons: [{ code: "PROGRAM_STOPPED" }],
      });
    },
  );
});
