import { describe, expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { newFolder, Platter, type PlatterFile } from "./platter.ts";
import { atLeast } from "./risk.ts";

const PROGRAM = {};

/** A folder that is on the disk, and a file with a text in it. */
function written(text: string): {
  platter: Platter;
  file: PlatterFile;
  folder: ReturnType<typeof newFolder>;
} {
  const platter = new Platter();
  const folder = newFolder();
  platter.name("/records", folder);
  sync(platter, "/");
  const file: PlatterFile = { kind: "file", text, durable: "" };
  platter.name("/records/a.json", file);
  return { platter, file, folder };
}

function sync(platter: Platter, path: string): void {
  const node = platter.nodeAt(path);
  if (!node) throw new Error(`There is no ${path}.`);
  platter.sync(node);
}

function textAfterPowerCut(seed: number, prepare: (disk: ReturnType<typeof written>) => void): string | null {
  const disk = written("a whole record");
  prepare(disk);
  disk.platter.crash("power", PROGRAM, randomStream(seed, "cut"));
  const [left] = disk.platter.files("/records");
  return left?.text ?? null;
}

describe("the modelled disk", () => {
  it("keeps through any power cut what was synced under a name that was synced", () => {
    for (let seed = 0; seed < 200; seed++) {
      const left = textAfterPowerCut(seed, ({ platter, file }) => {
        platter.sync(file);
        sync(platter, "/records");
      });
      expect(left).toBe("a whole record");
    }
  });

  it("may lose a name that was not synced, and keep it", () => {
    const left = new Set<string | null>();
    for (let seed = 0; seed < 100; seed++) {
      left.add(textAfterPowerCut(seed, ({ platter, file }) => platter.sync(file)));
    }
    expect(left).toEqual(new Set([null, "a whole record"]));
  });

  it("may tear bytes that were not synced in every way", () => {
    const left = new Set<string | null>();
    for (let seed = 0; seed < 400; seed++) {
      left.add(textAfterPowerCut(seed, ({ platter }) => sync(platter, "/records")));
    }
    expect(left).toContain("");
    expect(left).toContain("a whole record");
    expect(left).toContain("a whole");
    expect([...left].some((text) => text?.endsWith("\0"))).toBe(true);
  });

  it("loses nothing when only the program ends", () => {
    const { platter } = written("a whole record");
    platter.crash("kill", PROGRAM, randomStream(1, "cut"));
    expect(platter.files("/records")).toEqual([{ path: "a.json", text: "a whole record" }]);
    expect(platter.durableText("/records/a.json")).toBeUndefined();
  });
});

it("sums the binomial's tail exactly", () => {
  expect(atLeast(0, 10, 0.05)).toBe(1);
  expect(atLeast(1, 1, 0.05)).toBeCloseTo(0.05, 12);
  // 1 - 0.95^10 - 10 0.05 0.95^9 - 45 0.05^2 0.95^8
  expect(atLeast(3, 10, 0.05)).toBeCloseTo(1 - 0.95 ** 10 - 0.5 * 0.95 ** 9 - 45 * 0.0025 * 0.95 ** 8, 12);
});
