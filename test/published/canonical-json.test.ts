// RFC 8785, JSON Canonicalization Scheme (2020): sections 3.2.2 to 3.2.4 and appendix B. FIPS 180-4 (2015).
import { describe, expect, it, test } from "vitest";
import { canonicalText, readRecord, sha256Hex } from "../../station/records/chain.ts";

describe("RFC 8785 canonical text", () => {
  it("gives the bytes of the RFC's complete example (sections 3.2.2 to 3.2.4)", () => {
    const sample = String.raw`{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }`;
    const expected =
      "7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b3333333333" +
      "333333332e333333333333332c31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a22" +
      "e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d";
    expect(Buffer.from(canonicalText(JSON.parse(sample))).toString("hex")).toBe(expected);
  });

  it("sorts members by UTF-16 code units, as the RFC's example (section 3.2.3)", () => {
    const sample = String.raw`{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh",
      "1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`;
    const order = [...canonicalText(JSON.parse(sample)).matchAll(/:"([^"]*)"/g)].map((match) => match[1]);
    expect(order).toEqual([
      "Carriage Return",
      "One",
      "Control",
      "Latin Small Letter O With Diaeresis",
      "Euro Sign",
      "Emoji: Grinning Face",
      "Hebrew Letter Dalet With Dagesh",
    ]);
  });

  it("is what a record is read back as, with names that the engine itself orders otherwise, and nothing else is", () => {
    const chain = '"chain":{"previous":null,"sequence":1}';
    // Section 3.2.3's names, as its example sorts them; an engine puts "1" before "\\r".
    const sorted = `{"\\r":"Carriage Return","1":"One",${chain},"\u0080":"Control","\u00f6":1e+23,"\u20ac":5e-324,"\ud83d\ude00":"Emoji","\ufb33":"Dalet"}`;
    expect(readRecord(Buffer.from(sorted))).toMatchObject({ ok: true, chain: { sequence: 1 } });
    for (const [from, to] of [
      ['"\\r":"Carriage Return","1":"One"', '"1":"One","\\r":"Carriage Return"'],
      ["1e+23", "100000000000000000000000"],
      ["5e-324", "4.9e-324"],
      ['"One"', '"\\u004fne"'],
      ['"One",', '"One", '],
    ] as const) {
      const changed = sorted.replace(from, to);
      expect(changed).not.toBe(sorted);
      expect(readRecord(Buffer.from(changed)), to).toMatchObject({ ok: false });
    }
  });

  // RFC 8785 appendix B, every finite row (the rows from memory).
  test.each([
    ["0000000000000000", "0"],
    ["8000000000000000", "0"],
    ["0000000000000001", "5e-324"],
    ["8000000000000001", "-5e-324"],
    ["7fefffffffffffff", "1.7976931348623157e+308"],
    ["ffefffffffffffff", "-1.7976931348623157e+308"],
    ["4340000000000000", "9007199254740992"],
    ["c340000000000000", "-9007199254740992"],
    ["4430000000000000", "295147905179352830000"],
    ["44b52d02c7e14af5", "9.999999999999997e+22"],
    ["44b52d02c7e14af6", "1e+23"],
    ["44b52d02c7e14af7", "1.0000000000000001e+23"],
    ["444b1ae4d6e2ef4e", "999999999999999700000"],
    ["444b1ae4d6e2ef4f", "999999999999999900000"],
    ["444b1ae4d6e2ef50", "1e+21"],
    ["3eb0c6f7a0b5ed8c", "9.999999999999997e-7"],
    ["3eb0c6f7a0b5ed8d", "0.000001"],
    ["41b3de4355555553", "333333333.3333332"],
    ["41b3de4355555554", "333333333.33333325"],
    ["41b3de4355555555", "333333333.3333333"],
    ["41b3de4355555556", "333333333.3333334"],
    ["41b3de4355555557", "333333333.33333343"],
    ["becbf647612f3696", "-0.0000033333333333333333"],
    ["43143ff3c1cb0959", "1424953923781206.2"],
  ])("writes the double %s as %s", (bits, text) => {
    expect(canonicalText(Buffer.from(bits, "hex").readDoubleBE())).toBe(text);
  });

  test.each([
    ["NaN", Number.NaN],
    ["an infinity", Number.POSITIVE_INFINITY],
    ["half a surrogate pair", "\ud83d"],
    ["half a surrogate pair behind a backslash", "\\\ud83d"],
    ["half a surrogate pair in a name", { "\ude00": 1 }],
    ["nothing at all", undefined],
  ])("refuses %s (appendix B and section 3.2.2.2)", (_, value) => {
    expect(() => canonicalText(value)).toThrow(expect.objectContaining({ code: "INVALID_RECORD" }));
  });
});

test.each([
  ["abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"],
  [
    "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
    "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
  ],
])("SHA-256 of %s is that of the NIST examples for FIPS 180-4", (text, digest) => {
  expect(sha256Hex(text)).toBe(digest);
  expect(sha256Hex(Buffer.from(text))).toBe(digest);
});
