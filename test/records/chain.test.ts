import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import {
  canonicalText,
  type RecordBytes,
  readRecord,
  sha256Hex,
  verifyChain,
} from "../../station/records/chain.ts";

describe("canonical text", () => {
  it("takes a text that only looks like half a surrogate pair", () => {
    expect(canonicalText("\\ud83d")).toBe('"\\\\ud83d"');
  });

  it("is read back to the same value, and from it the same text is written, whatever the value", () => {
    fc.assert(
      fc.property(fc.jsonValue(), (value) => {
        const text = canonicalText(value);
        expect(canonicalText(JSON.parse(text))).toBe(text);
        expect(JSON.parse(text)).toEqual(JSON.parse(JSON.stringify(value)));
      }),
    );
  });
});

describe("the chain", () => {
  it("holds over records as they were written", async () => {
    const files = chainOf(5);
    expect(await verifyChain(files)).toEqual({
      ok: true,
      count: 5,
      head: { sequence: 5, sha256: sha256Hex(files[4]?.bytes ?? "") },
    });
  });

  it("can be followed from the middle on, after a record that is known", async () => {
    const files = chainOf(5);
    const known = { sequence: 3, sha256: sha256Hex(files[2]?.bytes ?? "") };
    expect(await verifyChain(files.slice(3), known)).toMatchObject({ ok: true, count: 2 });
    expect(await verifyChain(files.slice(3), { ...known, sha256: "0".repeat(64) })).toMatchObject({
      path: "4.json",
    });
  });

  test.each([
    ["a changed value", (text: string) => text.replace('"n":3', '"n":4'), "4.json"],
    ["a space added", (text: string) => text.replace('"n":3', '"n": 3'), "3.json"],
    ["a member given twice", (text: string) => text.replace('"n":3', '"n":9,"n":3'), "3.json"],
    ["a line end added", (text: string) => `${text}\n`, "3.json"],
    ["half of it gone", (text: string) => text.slice(0, 40), "3.json"],
    ["all of it gone", () => "", "3.json"],
    ["another number", (text: string) => text.replace('"sequence":3', '"sequence":7'), "3.json"],
    ["another record's hash", (text: string) => text.replace(/"previous":"./, '"previous":"g'), "3.json"],
  ])("is found broken at the first record that can't be right after %s", async (_, change, path) => {
    const files = chainOf(5).map((file) =>
      file.path === "3.json"
        ? { ...file, bytes: Buffer.from(change(Buffer.from(file.bytes).toString())) }
        : file,
    );
    expect(await verifyChain(files)).toMatchObject({ ok: false, path });
  });

  it("is found broken where a record was taken out, put in again or moved", async () => {
    const [a, b, c, d] = chainOf(4) as [RecordBytes, RecordBytes, RecordBytes, RecordBytes];
    expect(await verifyChain([a, b, d])).toMatchObject({ ok: false, path: "4.json" });
    expect(await verifyChain([b, c, d])).toMatchObject({ ok: false, path: "2.json" });
    expect(await verifyChain([a, b, b, c])).toMatchObject({ ok: false, path: "2.json" });
    expect(await verifyChain([a, c, b, d])).toMatchObject({ ok: false, path: "3.json" });
  });

  it("finds any single changed byte, at the record or the one after it", async () => {
    const files = chainOf(3);
    await fc.assert(
      fc.asyncProperty(fc.nat(1), fc.nat(), fc.integer({ min: 1, max: 255 }), async (which, where, flip) => {
        const bytes = Uint8Array.from(files[which]?.bytes ?? []);
        const at = where % bytes.length;
        bytes[at] = (bytes[at] ?? 0) ^ flip;
        const changed = files.map((file, at) => (at === which ? { ...file, bytes } : file));
        const report = await verifyChain(changed);
        expect(report.ok || [files[which]?.path, files[which + 1]?.path]).toContain(report.ok || report.path);
        expect(report.ok).toBe(false);
      }),
    );
  });

  it("takes no text but the canonical one, whatever the content and however else it is written", () => {
    const chain = { previous: null, sequence: 1 }; // sorted, as all else must be
    // Names that look like numbers are where a JSON text of the engine's own differs most.
    const name = fc.oneof(
      fc.string(),
      fc.nat(20).map(String),
      fc.constantFrom("__proto__", "\ud800", "\ufb33", "😀"),
    );
    const { value } = fc.letrec((tie) => ({
      value: fc.oneof(
        { depthSize: "small" },
        fc.jsonValue(),
        fc.array(tie("value")),
        fc.dictionary(name, tie("value")),
      ),
    }));
    fc.assert(
      fc.property(value, fc.constantFrom(undefined, 1), (content, indent) => {
        const text = JSON.stringify({ chain, content }, undefined, indent);
        let canonical: string | undefined;
        try {
          canonical = canonicalText(JSON.parse(text));
        } catch {
          canonical = undefined;
        }
        expect(readRecord(Buffer.from(text)).ok).toBe(text === canonical);
        if (canonical !== undefined) expect(readRecord(Buffer.from(canonical)).ok).toBe(true);
      }),
      { numRuns: 500 },
    );
  });

  it("does not take bytes that are not UTF-8, or start with a byte order mark", () => {
    const [record] = chainOf(1);
    const bytes = record?.bytes ?? new Uint8Array();
    expect(readRecord(bytes).ok).toBe(true);
    expect(readRecord(Uint8Array.from([0xef, 0xbb, 0xbf, ...bytes])).ok).toBe(false);
    expect(readRecord(Buffer.from('{"a":"\xff"}', "latin1")).ok).toBe(false);
  });

  test.each([
    ["no place", undefined],
    ["no object", [1, null]],
    ["no number", { previous: null }],
    ["number 0", { sequence: 0, previous: null }],
    ["half a number", { sequence: 1.5, previous: null }],
    ["a number as text", { sequence: "1", previous: null }],
    ["more than a number holds exactly", { sequence: 2 ** 53, previous: null }],
    ["no hash", { sequence: 2 }],
    ["a hash in capitals", { sequence: 2, previous: "A".repeat(64) }],
    ["a hash with a line after it", { sequence: 2, previous: `${"a".repeat(64)}\n` }],
    ["something more", { sequence: 2, previous: "a".repeat(64), next: null }],
  ])("takes no record whose place in it has %s", (_, chain) => {
    const text = canonicalText({ n: 1, ...(chain === undefined ? {} : { chain }) });
    expect(readRecord(Buffer.from(text))).toEqual({
      ok: false,
      problem: "it has no valid place in the chain",
    });
    expect(readRecord(Buffer.from("[]")).ok).toBe(false);
  });
});

function chainOf(count: number): RecordBytes[] {
  const files: RecordBytes[] = [];
  let previous: string | null = null;
  for (let sequence = 1; sequence <= count; sequence++) {
    const bytes = Buffer.from(canonicalText({ n: sequence, chain: { sequence, previous } }));
    files.push({ path: `${sequence}.json`, bytes });
    previous = sha256Hex(bytes);
  }
  return files;
}
