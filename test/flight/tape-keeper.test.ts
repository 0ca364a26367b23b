import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { FilesForTapes } from "../../station/flight/tape-contents.ts";
import { type TapeAllowance, TapeKeeper } from "../../station/flight/tape-keeper.ts";
import { tapePath } from "../../station/flight/tape-path.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { attempt, rawTape, recordedAt } from "./made-tape.ts";

const DAY_MS = 86_400_000;
const FIRST_ms = Date.UTC(2026, 0, 5, 6);

function bench(
  allowance: Partial<TapeAllowance> = {},
  free_bytes = 1e12,
  held = <T>(work: () => Promise<T>) => work(),
) {
  const folder = scratchFolder();
  const warnings: string[] = [];
  let now_ms = FIRST_ms;
  let sequence = 0;
  const makeKeeper = () =>
    new TapeKeeper({
      recordsFolder: folder,
      allowance: { keep_days: 30, keep_bytes: 1e9, ...allowance },
      leastFreeDisk_bytes: 50e6,
      freeBytes: async () => free_bytes,
      clock: { wall_ms: () => now_ms },
      files: new FilesForTapes(
        { path: "/station.yaml", text: "drumtight: station/1\n" },
        {
          gauges: [],
          ioBlock: { name: "io_block", profile: "ascii-io", transport: { kind: "memory" }, identity: null },
        },
        [],
        "drumtight 0",
      ),
      warn: (sentence) => warnings.push(sentence),
      held,
    });
  const keeper = makeKeeper();
  const test = async (serial = "A1") => {
    const recorded = recordedAt(++sequence, serial, now_ms);
    keeper.keep(rawTape(), attempt(serial), recorded);
    await keeper.settled();
    return join(folder, tapePath({ ...recorded.traveller, sequence, attempt: 1 }));
  };
  return {
    folder,
    warnings,
    keeper,
    makeKeeper,
    test,
    pass: (days: number) => {
      now_ms += days * DAY_MS;
    },
    tapes: () =>
      readdirSync(join(folder, "flight"), { recursive: true, encoding: "utf8" })
        .filter((name) => name.endsWith(".tape"))
        .sort(),
  };
}

describe("tapes", () => {
  it("lie under the name of their traveller, whatever the serial says", async () => {
    const { test, folder } = bench();
    const path = await test("../../etc/passwd");
    expect(path).toBe(join(folder, "flight/2026/01/05/00000001-.._.._etc_passwd-1.tape"));
    expect(existsSync(path)).toBe(true);
  });

  it("are kept for so many days, and then go with their folders", async () => {
    const { test, pass, tapes, folder } = bench({ keep_days: 2 });
    for (let day = 0; day < 6; day++) {
      await test(`A${day}`);
      pass(1);
    }
    expect(tapes()).toEqual([
      "2026/01/08/00000004-A3-1.tape",
      "2026/01/09/00000005-A4-1.tape",
      "2026/01/10/00000006-A5-1.tape",
    ]);
    expect(readdirSync(join(folder, "flight/2026/01"))).toEqual(["08", "09", "10"]);
  });

  it("beyond so many bytes are removed, the oldest first", async () => {
    const one = readFileSync(await bench().test("A")).length;
    const { test, pass, tapes } = bench({ keep_bytes: 3.5 * one });
    for (const serial of ["A", "B", "C", "D"]) await test(serial);
    pass(1);
    await test("E");
    expect(tapes().map((name) => name.slice(-8))).toEqual(
      ["-C-1.tape", "-D-1.tape", "-E-1.tape"].map((it) => it.slice(-8)),
    );
  });

  it("of earlier runs are removed at the start, and nothing else that lies there is", async () => {
    const { test, pass, makeKeeper, folder, tapes } = bench({ keep_days: 5 });
    await test("OLD");
    const other = join(folder, "flight/2026/01/05/notes.txt");
    writeFileSync(other, "mine");
    mkdirSync(join(folder, "flight/2025"));
    pass(30);
    const next = makeKeeper();
    next.start();
    await next.settled();
    expect(tapes()).toEqual([]);
    expect(readFileSync(other, "utf8")).toBe("mine");
    expect(existsSync(join(folder, "flight/2025"))).toBe(true);
  });

  it("that can't be written are told of once, and again only after one could be", async () => {
    const { test, folder, warnings } = bench();
    writeFileSync(join(folder, "flight"), "in the way");
    await test("A");
    await test("B");
    expect(warnings).toHaveLength(1);
    expect(warnings[0]).toMatch(/flight .*testing goes on/);
  });

  it("give way where the disk is nearly full", async () => {
    const { test, warnings, folder } = bench({}, 50e6);
    await test("A");
    expect(existsSync(join(folder, "flight"))).toBe(false);
    expect(warnings[0]).toMatch(/nearly full, and travellers go first/);
  });

  it("wait for a slow disk eight at a time; more are left out and told of, and memory does not fill", async () => {
    let go: () => void = () => {};
    const stuck = new Promise<void>((resolve) => {
      go = resolve;
    });
    const { keeper, tapes, warnings } = bench({}, 1e12, async (work) => {
      await stuck;
      return work();
    });
    for (let k = 1; k <= 20; k++) keeper.keep(rawTape(), attempt("A"), recordedAt(k, "A", FIRST_ms));
    expect(warnings).toHaveLength(1);
    expect(warnings[0]).toMatch(/the disk takes them too slowly.*testing goes on/);
    go();
    await keeper.settled();
    expect(tapes()).toHaveLength(8);
  });
});
