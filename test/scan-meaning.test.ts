import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { meaningOf, type ScanMeaning, type ScanPlace } from "../station/scan-meaning.ts";
import { POD, TUB } from "./scan-models.ts";

const BADGE = /^B[0-9]{6}$/u;
const IDLE: ScanPlace = {
  models: [TUB, POD],
  armed: null,
  referenceSerials: ["REF-TIGHT-TUB-12", "REF-LEAK-POD-4"],
  badge: BADGE,
};
const TUB_ARMED: ScanPlace = { ...IDLE, armed: TUB };
const POD_ARMED: ScanPlace = { ...IDLE, armed: POD };
const PLACES = [IDLE, TUB_ARMED, POD_ARMED];
const places = fc.nat(2).map((i) => PLACES[i] ?? IDLE);

function unit(serial: string, rest: object = {}): ScanMeaning {
  return { kind: "unit", scan: { serial, parts: {}, ...rest } };
}

function reasonOf(meaning: ScanMeaning) {
  return "reason" in meaning ? meaning.reason : null;
}

describe("a whole scan", () => {
  it("of a serial is the unit of its model, whatever waits for its start", () => {
    for (const place of PLACES) {
      expect(meaningOf(" TUB000123\t", place)).toEqual(unit("TUB000123"));
      expect(meaningOf("POD531817", place)).toEqual(unit("POD531817"));
      expect(meaningOf("REF-TIGHT-TUB-12", place)).toEqual(unit("REF-TIGHT-TUB-12"));
    }
  });

  it("of a part's label is that part: of any model while none is armed, then of the armed one", () => {
    expect(meaningOf("T3", IDLE)).toEqual({ kind: "parts", parts: { tub_cavity: "T3" } });
    expect(meaningOf("P3", IDLE)).toEqual({ kind: "parts", parts: { tub_cavity: "P3" } });
    expect(meaningOf("L2", IDLE)).toEqual({ kind: "parts", parts: { lid_cavity: "L2" } });
    expect(meaningOf("G0412", TUB_ARMED)).toEqual({ kind: "parts", parts: { gasket_lot: "G0412" } });
    expect(meaningOf("G0412", POD_ARMED)).toEqual({ kind: "parts", parts: { seal_lot: "G0412" } });
  });

  it("that fits two parts is refused with both names until a unit is armed", () => {
    const meaning = meaningOf("G0412", IDLE);
    expect(meaning).toMatchObject({ kind: "ambiguous", reason: { code: "AMBIGUOUS_SCAN" } });
    expect(reasonOf(meaning)?.sentence).toBe(
      '"G0412" may be the gasket lot or seal lot. Type which it is, like gasket_lot=G0412.',
    );
    expect(meaningOf("gasket_lot=G0412", IDLE)).toEqual({ kind: "parts", parts: { gasket_lot: "G0412" } });
  });

  it("of another model's part is refused, and says whose it is", () => {
    const meaning = meaningOf("P3", TUB_ARMED);
    expect(reasonOf(meaning)).toMatchObject({
      code: "BAD_PART",
      sentence: expect.stringMatching(/"P3".*POD-4.*TUB-12/),
    });
  });

  it("that fits two models is refused with both names", () => {
    const twin = { ...POD, model: "POD-5" };
    const meaning = meaningOf("POD531817", { ...IDLE, models: [TUB, POD, twin] });
    expect(meaning).toMatchObject({ kind: "ambiguous", reason: { code: "AMBIGUOUS_SERIAL" } });
    expect(reasonOf(meaning)?.sentence).toContain("POD-4 and POD-5");
  });

  it("of what nobody knows is shown, with what a serial looks like", () => {
    expect(reasonOf(meaningOf("XYZ1", IDLE))?.sentence).toBe(
      '"XYZ1" is no label this station knows. Scan the label again; a serial looks like TUB000123 (TUB-12) or POD531817 (POD-4).',
    );
  });

  it("with Caps Lock on says so", () => {
    expect(reasonOf(meaningOf("tub000123", IDLE))?.sentence).toContain("switch Caps Lock off");
  });

  it("of two labels in one line, or without an end between them, is refused with both and what to do", () => {
    for (const line of ["TUB000123 POD531817", "TUB000123POD531817", "TUB000123 POD531817 tub_cavity=T1"]) {
      const meaning = meaningOf(line, IDLE);
      expect(meaning).toMatchObject({ kind: "ambiguous", reason: { code: "AMBIGUOUS_SCAN" } });
      expect(reasonOf(meaning)?.sentence).toMatch(
        /Two labels.*"TUB000123" and "POD531817".*one label at a time.*Enter after each/,
      );
    }
    expect(reasonOf(meaningOf("T1 L2", TUB_ARMED))?.sentence).toMatch(/Two labels/);
    expect(reasonOf(meaningOf("T1L2", TUB_ARMED))?.sentence).toMatch(/Two labels/);
    expect(meaningOf("TUB000123 T1", IDLE)).toMatchObject({ kind: "ambiguous" });
  });

  it.each(["", "  \t", "\u00a0"])("of nothing (%j) is refused", (line) => {
    expect(meaningOf(line, IDLE)).toMatchObject({ kind: "unknown" });
  });

  it("longer than 200 characters is refused by its beginning", () => {
    const meaning = meaningOf(`TUB000123 ${"x".repeat(200)}`, IDLE);
    expect(reasonOf(meaning)).toMatchObject({
      code: "SCAN_TOO_LONG",
      sentence: expect.stringMatching(/TUB000123/),
    });
  });
});

describe("a line", () => {
  it("may name parts and the reason of a retest after the serial", () => {
    expect(meaningOf("TUB000123 tub_cavity=T1 gasket_lot=G0412 retest=2", IDLE)).toEqual(
      unit("TUB000123", { parts: { tub_cavity: "T1", gasket_lot: "G0412" }, retestReason: 2 }),
    );
  });

  it("may name parts alone", () => {
    expect(meaningOf("tub_cavity=T1 lid_cavity=L2", TUB_ARMED)).toEqual({
      kind: "parts",
      parts: { tub_cavity: "T1", lid_cavity: "L2" },
    });
  });

  it.each([
    ["TUB000123 tub_cavity=P1", TUB_ARMED, "BAD_PART", /"P1" is no valid tub cavity/],
    ["TUB000123 tub_cavty=T1", IDLE, "BAD_PART", /no tracked part "tub_cavty".*tub_cavity/],
    ["tub_cavity=P1", TUB_ARMED, "BAD_PART", /"P1" is no valid tub cavity/],
    ["tub_cavity=X1", IDLE, "BAD_PART", /"X1" is no valid tub cavity/],
    ["TUB000123 tub_cavity=T1 tub_cavity=T2", IDLE, "BAD_PART", /twice, as "T1" and as "T2"/],
    ["tub_cavity=T1 tub_cavity=T2", IDLE, "BAD_PART", /twice, as "T1" and as "T2"/],
    ["XYZ1 tub_cavity=T1", IDLE, "UNKNOWN_SCAN", /"XYZ1" is no label/],
    ["XYZ1 ABC2", IDLE, "UNKNOWN_SCAN", /"XYZ1 ABC2" is no label/],
    ["T1 lid_cavity=L2", IDLE, "UNKNOWN_SCAN", /"T1" is no serial. Scan the serial first/],
    ["tub_cavity=T1 TUB000123", IDLE, "UNKNOWN_SCAN", /no serial. Scan the serial first/],
    ["TUB000123 XYZ1", IDLE, "UNKNOWN_SCAN", /After the serial "TUB000123" comes "XYZ1"/],
    ["TUB000123 retest=0", IDLE, "RETEST_REASON_MISSING", /number from 1 to 9, and not "0"/],
    ["TUB000123 retest=hose", IDLE, "RETEST_REASON_MISSING", /number from 1 to 9/],
    ["TUB000123 retest=1 retest=2", IDLE, "RETEST_REASON_MISSING", /two reasons/],
    ["retest=1", IDLE, "RETEST_REASON_MISSING", /Scan the serial first/],
    ["retest=1", TUB_ARMED, "RETEST_REASON_MISSING", /Type that number/],
    ["REF-TIGHT-TUB-12 tub_cavity=T1", IDLE, "BAD_PART", /reference piece/],
    [
      "POD531814 tub_cavity=P1",
      IDLE,
      "CHECK_CHARACTER_WRONG",
      /POD531814: the check character says 4 and must be 7/,
    ],
    [
      "TUB000123 hose_code=6291041500218",
      IDLE,
      "CHECK_CHARACTER_WRONG",
      /hose code 6291041500218: the check digit says 8 and must be 3/,
    ],
  ] as const)("%s is refused, and says why", (line, place, code, sentence) => {
    expect(reasonOf(meaningOf(line, place))).toMatchObject({
      code,
      sentence: expect.stringMatching(sentence),
    });
  });
});

describe("check characters in a scan", () => {
  it("that are wrong are named, in a serial and in a part", () => {
    expect(reasonOf(meaningOf("POD531814", IDLE))).toEqual({
      code: "CHECK_CHARACTER_WRONG",
      sentence: "POD531814: the check character says 4 and must be 7. Scan the label again.",
    });
    expect(reasonOf(meaningOf("6291041500218", TUB_ARMED))).toEqual({
      code: "CHECK_CHARACTER_WRONG",
      sentence: "hose code 6291041500218: the check digit says 8 and must be 3. Scan the label again.",
    });
    expect(meaningOf("6291041500213", TUB_ARMED)).toEqual({
      kind: "parts",
      parts: { hose_code: "6291041500213" },
    });
  });

  it("let no serial through that differs from a right one in one character", () => {
    fc.assert(
      fc.property(fc.nat(5), fc.constantFrom(..."0123456789"), (at, digit) => {
        const line = "POD531817".slice(0, 3 + at) + digit + "POD531817".slice(4 + at);
        expect(meaningOf(line, IDLE).kind).toBe(line === "POD531817" ? "unit" : "unknown");
      }),
    );
  });
});

const LABELS = [
  "TUB000123",
  "POD531817",
  "REF-TIGHT-TUB-12",
  "T1",
  "P2",
  "L3",
  "G0412",
  "6291041500213",
  "XYZ",
  "tub_cavity=T1",
  "retest=1",
  "lid_cavity=L9",
];
const badgeTexts = fc
  .integer({ min: 0, max: 999_999 })
  .map((number) => `B${String(number).padStart(6, "0")}`);

describe("a badge", () => {
  it("is a badge and nothing else, wherever it is scanned", () => {
    fc.assert(
      fc.property(badgeTexts, places, fc.constantFrom("", " ", "\t"), (text, place, blank) => {
        expect(meaningOf(`${blank}${text}${blank}`, place)).toEqual({ kind: "badge" });
      }),
    );
  });

  it("is one also where serials and parts look the same", () => {
    const parts = [{ name: "box", pattern: BADGE, check: null, required: false }];
    const place = {
      ...IDLE,
      models: [{ ...TUB, serialPattern: BADGE, parts }],
      referenceSerials: ["B000001"],
    };
    expect(meaningOf("B000001", place)).toEqual({ kind: "badge" });
    for (const line of ["box=B000001", "B000001 box=B000002", "REF-TIGHT-TUB-12 box=B000001"]) {
      const meaning = meaningOf(line, place);
      expect(meaning.kind).toBe("unknown");
      expect(JSON.stringify(meaning)).not.toContain("B00000");
    }
  });

  it("is none where nobody signs in by one", () => {
    expect(meaningOf("B000001", { ...IDLE, badge: null })).toMatchObject({ kind: "unknown" });
  });

  it("comes out of no line with anything else in it, and no reason shows its text", () => {
    const around = fc.oneof(fc.constantFrom(...LABELS), fc.string({ maxLength: 12 }));
    const glue = fc.constantFrom("", " ", "=", "  ", "\t", " x=", " tub_cavity=", " retest=");
    const written = fc.constantFrom("as it is", "with Caps Lock");
    const any = places;
    fc.assert(
      fc.property(
        badgeTexts,
        around,
        glue,
        glue,
        around,
        written,
        any,
        (badge, before, one, two, after, how, place) => {
          const text = how === "as it is" ? badge : badge.toLowerCase();
          const line = `${before}${one}${text}${two}${after}`;
          const meaning = meaningOf(line, place);
          if (meaning.kind === "badge") expect(line.trim()).toBe(badge);
          else expect(JSON.stringify(meaning).toUpperCase()).not.toContain(badge);
        },
      ),
      { numRuns: 3000 },
    );
  });

  it("hides no serial that has its characters in it", () => {
    const meaning = meaningOf("TUB000123 TUB000124", IDLE);
    expect(reasonOf(meaning)?.sentence).toContain('"TUB000123" and "TUB000124"');
  });
});

describe("whatever is scanned", () => {
  const lines = fc.oneof(
    fc.string({ maxLength: 250, unit: "binary" }),
    fc
      .array(
        fc.oneof(fc.constantFrom(...LABELS, "B123456", "\u202e", "\x1b[2J"), fc.string({ maxLength: 4 })),
        { maxLength: 5 },
      )
      .map((words) => words.join(" ")),
    fc.array(fc.constantFrom(...LABELS), { maxLength: 4 }).map((words) => words.join("")),
  );

  it("has one meaning, or is refused with a sentence that no terminal obeys", () => {
    fc.assert(
      fc.property(lines, places, (line, place) => {
        const meaning = meaningOf(line, place);
        const reason = reasonOf(meaning);
        if (!reason) return;
        expect(reason.sentence).not.toMatch(/[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/u);
        expect(reason.sentence.length).toBeLessThan(500);
      }),
      { numRuns: 2000 },
    );
  });

  it("a unit or a part comes out only as somebody's label says it", () => {
    fc.assert(
      fc.property(lines, places, (line, place) => {
        const meaning = meaningOf(line, place);
        const models = place.armed ? [place.armed] : place.models;
        if (meaning.kind === "unit") {
          const { serial, parts } = meaning.scan;
          const isUnit = place.models.some(({ serialPattern }) => serialPattern.test(serial));
          expect(isUnit || place.referenceSerials.includes(serial)).toBe(true);
          expect(line.trim().split(/\s+/)[0]).toBe(serial);
          for (const [name, value] of Object.entries(parts)) expect(line).toContain(`${name}=${value}`);
        }
        for (const [name, value] of meaning.kind === "parts" ? Object.entries(meaning.parts) : []) {
          expect(line).toContain(value);
          const tracked = models.flatMap(({ parts }) => parts.filter((part) => part.name === name));
          expect(tracked.some(({ pattern }) => pattern.test(value))).toBe(true);
        }
      }),
      { numRuns: 2000 },
    );
  });
});
