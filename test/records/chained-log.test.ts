import { copyFileSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { z } from "zod";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { ChainedLog } from "../../station/records/chained-log.ts";
import { scratchFolder } from "./scratch-folder.ts";

const Note = z.strictObject({
  text: z.string(),
  chain: z.strictObject({ sequence: z.int(), previous: z.string().nullable() }),
});

function logIn(folder: string): ChainedLog<z.infer<typeof Note>> {
  return new ChainedLog({ folder, name: "notes", what: "note", schema: Note });
}

async function withNotes(...texts: readonly string[]) {
  const folder = scratchFolder();
  const log = logIn(folder);
  for (const text of texts) await log.append({ text });
  return { folder, log, file: (name: string) => join(folder, "notes", name) };
}

async function textsIn(folder: string): Promise<string[]> {
  return (await logIn(folder).after(null)).map(({ content }) => content.text);
}

describe("a log", () => {
  it("keeps each record in a file of its own, canonical, numbered, with the hash of the one before", async () => {
    const { file } = await withNotes("one", "two");
    const [first, second] = ["00000001.json", "00000002.json"].map((name) =>
      readFileSync(file(name), "utf8"),
    );
    expect(first).toBe('{"chain":{"previous":null,"sequence":1},"text":"one"}');
    expect(second).toBe(
      canonicalText({ text: "two", chain: { sequence: 2, previous: sha256Hex(first ?? "") } }),
    );
    expect(readdirSync(file(""))).toEqual(["00000001.json", "00000002.json"]);
  });

  it("is empty before anything was written, and makes no folder to find that out", async () => {
    const folder = scratchFolder();
    const log = logIn(folder);
    expect([await log.after(null), await log.newest(() => true), await log.end()]).toEqual([[], [], null]);
    expect(readdirSync(folder)).toEqual([]);
  });

  it("follows what others add", async () => {
    const { folder, log } = await withNotes("one");
    const head = await log.end();
    await logIn(folder).append({ text: "two" });
    await log.append({ text: "three" });
    expect((await log.after(head)).map(({ content }) => content.text)).toEqual(["two", "three"]);
    expect(await log.after(await log.end())).toEqual([]);
  });

  it("takes everything that many write at once, each record once, whoever writes it", async () => {
    const folder = scratchFolder();
    const texts = Array.from({ length: 40 }, (_, i) => String(i));
    const logs = [logIn(folder), logIn(folder), logIn(folder)];
    await Promise.all(texts.map((text, i) => logs[i % logs.length]?.append({ text })));
    expect((await textsIn(folder)).sort()).toEqual([...texts].sort());
    expect(readdirSync(join(folder, "notes"))).toHaveLength(texts.length);
  });

  it("reads back from its end only as far as it is asked to", async () => {
    const { folder, log, file } = await withNotes(...Array.from({ length: 200 }, (_, i) => String(i)));
    // A changed record far back is found by whoever reads that far.
    writeFileSync(file("00000003.json"), "{}");
    const newest = await log.newest(({ text }) => Number(text) >= 150);
    expect(newest.map(({ content }) => content.text)).toEqual(
      Array.from({ length: 50 }, (_, i) => String(150 + i)),
    );
    await expect(logIn(folder).newest(() => true)).rejects.toMatchObject({ code: "CORRUPT" });
  });

  it("removes what a process left half-written that is no more, and lets alone what a running one writes", async () => {
    const { folder, file } = await withNotes("one");
    // No process has number 0x7fffffff, and this one is running.
    writeFileSync(file(".2147483647-0a.part"), "half");
    writeFileSync(file(`.${process.pid}-0b.part`), "half");
    await logIn(folder).append({ text: "two" });
    expect(readdirSync(file("")).sort()).toEqual([
      `.${process.pid}-0b.part`,
      "00000001.json",
      "00000002.json",
    ]);
  });

  it("writes nothing that would not be valid", async () => {
    const { folder, log } = await withNotes("one");
    await expect(log.append({ text: "\ud800" })).rejects.toMatchObject({ code: "INVALID_RECORD" });
    await expect(log.append({ text: 1 as unknown as string })).rejects.toMatchObject({
      code: "INVALID_RECORD",
    });
    expect(await textsIn(folder)).toEqual(["one"]);
  });
});

describe("a log that is not as it was recorded is refused, naming the file", () => {
  const two = "00000002.json";
  test.each<[what: string, change: (file: (name: string) => string) => void, named: string]>([
    [
      "changed",
      (file) => writeFileSync(file(two), readFileSync(file(two), "utf8").replace("two", "2")),
      "00000003",
    ],
    ["torn", (file) => writeFileSync(file(two), readFileSync(file(two)).subarray(0, 20)), "00000002"],
    ["empty", (file) => writeFileSync(file(two), ""), "00000002"],
    ["spaced out", (file) => writeFileSync(file(two), `${readFileSync(file(two), "utf8")}\n`), "00000002"],
    ["removed", (file) => rmSync(file(two)), "00000003"],
    ["swapped for its neighbour", (file) => copyFileSync(file("00000001.json"), file(two)), "00000002"],
    ["renamed", (file) => renameSync(file("00000003.json"), file("3.json")), "3.json"],
    ["copied", (file) => copyFileSync(file(two), file("00000002 (copy).json")), "00000002 (copy).json"],
    ["padded", (file) => copyFileSync(file(two), file("000000002.json")), "000000002.json"],
    ["of another kind", (file) => writeFileSync(file(two), foreign(file)), "00000002"],
  ])("when one was %s", async (_, change, named) => {
    const { folder, file } = await withNotes("one", "two", "three");
    change(file);
    const failure = { code: "CORRUPT", message: expect.stringContaining(`${named}`) };
    await expect(textsIn(folder)).rejects.toMatchObject(failure);
    await expect(logIn(folder).newest(() => true)).rejects.toMatchObject({ code: "CORRUPT" });
  });

  /** In the right place of the chain, but no note. */
  function foreign(file: (name: string) => string): string {
    const previous = sha256Hex(readFileSync(file("00000001.json")));
    return canonicalText({ kind: "hold", chain: { sequence: 2, previous } });
  }

  it("and nothing is added to it", async () => {
    const { folder, file } = await withNotes("one", "two");
    writeFileSync(file("00000001.json"), "{}");
    await expect(logIn(folder).append({ text: "three" })).rejects.toMatchObject({ code: "CORRUPT" });
    expect(readdirSync(file(""))).toHaveLength(2);
  });

  it("when its end was cut off, by whoever knows what was there", async () => {
    const { folder, log, file } = await withNotes("one", "two");
    const end = await log.end();
    if (!end) throw new Error("there is an end");
    await log.require(end);
    rmSync(file("00000002.json"));
    await expect(logIn(folder).require(end)).rejects.toMatchObject({
      code: "CORRUPT",
      message: expect.stringContaining("it was recorded and is not there any more"),
    });
    await logIn(folder).append({ text: "another" });
    await expect(logIn(folder).require(end)).rejects.toMatchObject({
      code: "CORRUPT",
      message: expect.stringContaining("it was changed after it was recorded"),
    });
  });
});

it("notices any change of any byte of any record but the last, and reads the rest as it was written", async () => {
  const { folder, file } = await withNotes("one", "two", "three");
  const names = ["00000001.json", "00000002.json"];
  await fc.assert(
    fc.asyncProperty(
      fc.constantFrom(...names),
      fc.nat(),
      fc.integer({ min: 1, max: 255 }),
      async (name, at, by) => {
        const kept = readFileSync(file(name));
        const bytes = Buffer.from(kept);
        bytes[at % bytes.length] = ((bytes[at % bytes.length] ?? 0) + by) % 256;
        writeFileSync(file(name), bytes);
        try {
          await expect(textsIn(folder)).rejects.toMatchObject({ code: "CORRUPT" });
        } finally {
          writeFileSync(file(name), kept);
        }
      },
    ),
    { numRuns: 60 },
  );
  expect(await textsIn(folder)).toEqual(["one", "two", "three"]);
});
