import { PassThrough } from "node:stream";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Scan } from "../station/cycle/scan.ts";
import { LONGEST_SCAN, parseScan, scannedLines } from "../station/scanned-lines.ts";

const never = new AbortController().signal;

async function scans(chunks: readonly (string | Buffer)[], stop = never, count = Infinity): Promise<Scan[]> {
  const input = new PassThrough();
  for (const chunk of chunks) input.write(chunk);
  input.end();
  const found: Scan[] = [];
  for await (const scan of scannedLines(input, stop, count)) found.push(scan);
  return found;
}

const serials = (found: readonly Scan[]) => found.map(({ serial }) => serial);

describe("a scanned line", () => {
  it("is a serial and the parts named after it", () => {
    expect(parseScan(" POD000123  tub_cavity=P2\tgasket_lot=G=1 ")).toEqual({
      serial: "POD000123",
      parts: { tub_cavity: "P2", gasket_lot: "G=1" },
    });
    expect(parseScan(" \t")).toBeNull();
  });

  it("that names a part twice with different values is refused by the part's name, and not with the same", () => {
    expect(parseScan("POD1 tub_cavity=P1 tub_cavity=P2")?.misread).toMatchObject([
      { code: "BAD_PART", sentence: expect.stringMatching(/tub cavity.*"P1".*"P2"/) },
    ]);
    expect(parseScan("POD1 tub_cavity=P1 tub_cavity=P1")).toEqual({
      serial: "POD1",
      parts: { tub_cavity: "P1" },
    });
  });

  it("gives the number of a retest's reason, which is no part", () => {
    expect(parseScan("POD1 tub_cavity=P1 retest=2")).toEqual({
      serial: "POD1",
      parts: { tub_cavity: "P1" },
      retestReason: 2,
    });
  });

  it.each(["0", "10", "-1", "1.0", "", "two", "\u202e1"])(
    "whose number of a retest's reason is %j says what is one",
    (number) => {
      const scan = parseScan(`POD1 retest=${number}`);
      expect(scan).not.toHaveProperty("retestReason");
      expect(scan?.misread).toMatchObject([
        { code: "RETEST_REASON_MISSING", sentence: expect.stringMatching(/a number from 1 to 9.*retest=1/) },
      ]);
      expect(scan?.misread?.[0]?.sentence).not.toContain("\u202e");
    },
  );

  it("that gives two reasons of a retest is refused, and not with the same twice", () => {
    expect(parseScan("POD1 retest=1 retest=2")?.misread).toMatchObject([{ code: "RETEST_REASON_MISSING" }]);
    expect(parseScan("POD1 retest=1 retest=1")).toEqual({ serial: "POD1", parts: {}, retestReason: 1 });
  });

  it("may have 200 characters, and with one more is refused by its beginning", () => {
    expect(parseScan("A".repeat(LONGEST_SCAN))).toEqual({ serial: "A".repeat(LONGEST_SCAN), parts: {} });
    const refused = parseScan("A".repeat(LONGEST_SCAN + 1));
    expect(refused).toMatchObject({ misread: [{ code: "SCAN_TOO_LONG" }] });
    expect(refused?.misread?.[0]?.sentence).toMatch(/"A{40}\.\.\."/);
  });

  it("always gives a scan that is short, whatever is scanned", () => {
    fc.assert(
      fc.property(fc.string({ maxLength: 2000, unit: "binary" }), (line) => {
        expect(JSON.stringify(parseScan(line)?.serial ?? "").length).toBeLessThan(6 * LONGEST_SCAN + 3);
      }),
    );
  });
});

describe("scanned lines", () => {
  it("are the same however the bytes come in pieces, and end with CR, LF or both", async () => {
    const text = Buffer.from("POD1\r\nPOD2 lot=Ä€😀\n\nPOD3\rPOD4");
    await fc.assert(
      fc.asyncProperty(fc.array(fc.nat(text.length), { maxLength: 6 }), async (cuts) => {
        const at = [0, ...cuts.sort((a, b) => a - b), text.length];
        const found = await scans(at.slice(1).map((end, i) => text.subarray(at[i], end)));
        expect(serials(found)).toEqual(["POD1", "POD2", "POD3", "POD4"]);
        expect(found[1]?.parts).toEqual({ lot: "Ä€😀" });
      }),
    );
  });

  it("of any length are refused once each, and the ones around them are read", async () => {
    const long = Array.from({ length: 50 }, () => "x".repeat(10_000));
    const found = await scans(["POD1\n", ...long, "\nPOD2\n", ...long]);
    expect(found.map(({ serial, misread }) => misread?.[0]?.code ?? serial)).toEqual([
      "POD1",
      "SCAN_TOO_LONG",
      "POD2",
      "SCAN_TOO_LONG",
    ]);
  });

  it("end with the asked number, and when somebody stops while nothing is scanned", async () => {
    expect(serials(await scans(["A\nB\nC\n"], never, 2))).toEqual(["A", "B"]);
    const stop = new AbortController();
    const input = new PassThrough();
    input.write("A\n");
    const lines = scannedLines(input, stop.signal, Infinity);
    expect((await lines.next()).value).toMatchObject({ serial: "A" });
    const next = lines.next();
    stop.abort();
    expect(await next).toEqual({ done: true, value: undefined });
  });

  it("that can't be read any more say so", async () => {
    const input = new PassThrough();
    const next = scannedLines(input, never, Infinity).next();
    input.destroy(new Error("EIO"));
    await expect(next).rejects.toThrow(/Standard input can't be read \(EIO\)/);
  });
});
