import { parse } from "csv-parse/sync";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { csvOf, guarded } from "../../station/yield-export/csv.ts";
import { anyText, HOSTILE_TEXTS } from "../yield-export/hostile-texts.ts";
import { rowsOfCsv } from "./spreadsheet-readers.ts";

// RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, October 2005, section 2: its rules, its examples and
// its grammar (from memory). RFC 7111 makes UTF-8 the usual character set, so TEXTDATA is here any character that is not one of
// the four that mean something.

/** The grammar of section 2, as a regular expression: file = record *(CRLF record) [CRLF]. */
const TEXTDATA = '[^",\\r\\n]';
const ESCAPED = `"(?:${TEXTDATA}|,|\\r|\\n|"")*"`;
const FIELD = `(?:${ESCAPED}|${TEXTDATA}*)`;
const RECORD = `${FIELD}(?:,${FIELD})*`;
const FILE = new RegExp(`^${RECORD}(?:\\r\\n${RECORD})*(?:\\r\\n)?$`, "u");

function csv(headings: readonly string[], ...rows: readonly (readonly string[])[]): string {
  return csvOf({ columns: headings.map((heading) => ({ heading, kind: "text" })), rows }, "UTC", "point");
}

describe("RFC 4180, section 2", () => {
  it("rules 1 to 4: a line for each record, CRLF after each, a header line of the same form, equally many fields", () => {
    expect(
      csv(["field_name", "field_name", "field_name"], ["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]),
    ).toBe("field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n");
  });

  it("rule 4: spaces are part of a field", () => {
    expect(rowsOfCsv([{ text: csv(["a"], [" b "]), delimiter: "," }])).toEqual([[["a"], [" b "]]]);
  });

  it("rules 5 and 6: fields with line breaks, quotes and commas are enclosed in quotes", () => {
    expect(csv(["aaa", "b\r\nbb", "ccc"], ["zzz", "y,y", "xxx"])).toBe(
      'aaa,"b\r\nbb",ccc\r\nzzz,"y,y",xxx\r\n',
    );
  });

  it("rule 7: a quote within a field is written twice", () => {
    expect(csv(["aaa", 'b"bb', "ccc"])).toBe('aaa,"b""bb",ccc\r\n');
  });

  it("the grammar takes the RFC's own examples, and not what the rules forbid", () => {
    for (const text of [
      "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
      '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
      '"aaa","b""bb","ccc"',
    ]) {
      expect(text).toMatch(FILE);
    }
    for (const text of ['a"b,c', '"a"b,c', "a\nb", '"a', "a\rb"]) expect(text).not.toMatch(FILE);
  });

  it("the grammar takes everything that is written, whatever the texts are", () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(anyText, anyText), { minLength: 1, maxLength: 6 }), (rows) => {
        expect(csv(["a", "b"], ...rows)).toMatch(FILE);
      }),
      { numRuns: 300 },
    );
  });
});

describe("what is written, as other readers have it", () => {
  const rows = HOSTILE_TEXTS.map((text, k) => [text, `${k}`]);

  it.each([
    ["point", ","],
    ["comma", ";"],
  ] as const)(
    "is the same for csv-parse and for Python's csv module, with a decimal %s",
    (decimal, delimiter) => {
      const columns = [
        { heading: "text, anything", kind: "text" },
        { heading: "number", kind: "text" },
      ] as const;
      const text = csvOf({ columns, rows }, "UTC", decimal);
      const expected = [
        ["text, anything", "number"],
        ...rows.map(([cell = "", k = ""]) => [guarded(cell), k]),
      ];
      expect(rowsOfCsv([{ text, delimiter }])).toEqual([expected]);
      expect(parse(text, { delimiter })).toEqual(expected);
    },
  );
});
