import { describe, expect, test } from "vitest";
import { parseNrf } from "../../drivers/nrf.ts";
import { loadProfile } from "../../drivers/profile-file.ts";
import { ReplyReader } from "../../drivers/protocols/reply-reader.ts";

function reader(): ReplyReader {
  const profile = loadProfile("scpi-pressure");
  if (profile.kind !== "gauge") throw new Error("not a gauge");
  return new ReplyReader("source_gauge", profile);
}

describe("instrument replies", () => {
  // IEEE Std 488.2-1992, 8.7.2-8.7.4: the forms NR1, NR2 and NR3, and what 7.7.2 asks a listener to accept beyond
  // them. The standard's rules from memory; the NR3 example also in public programming guides.
  test.each([
    ["NR1", "+15", 15],
    ["NR2", "-12.75", -12.75],
    ["NR3", "+1.23450E+01", 12.345],
    ["NRf, lower-case exponent", "1.5e-3", 0.0015],
    ["NRf, leading zeros", "000123", 123],
    ["NRf, no digit before the point", "-.25", -0.25],
  ])("IEEE 488.2 %s: %s is %d", (_form, text, value) => expect(parseNrf(text)).toBe(value));

  // SCPI-99 vol. 1, 7.2.1.4-7.2.1.5: not a number and the infinities (NaN read, INF from memory).
  test.each([
    ["+9.91000E+37", "invalid", Number.NaN],
    ["9.91E+37", "invalid", Number.NaN],
    ["9.9E+37", "over-range", Number.POSITIVE_INFINITY],
    ["-9.9E+37", "over-range", Number.NEGATIVE_INFINITY],
    ["+9.89E+37", "good", 9.89e37],
  ])("SCPI-99: %s is of quality %s", (line, quality, value) => {
    expect(reader().read(line, 0)).toEqual([{ channel: "source_pressure", t_s: 0, value, quality }]);
  });

  // SCPI-99 vol. 1, 21.8: negative numbers are the standard's, 0 is an empty queue; "+0" is met in practice.
  test.each([
    ['-113,"Undefined header"', true],
    ['-350,"Queue overflow"', true],
    ['-222,"Data out of range;CH2 6.2 kPa"', true],
    ['0,"No error"', false],
    ['+0,"No error"', false],
  ])("SCPI-99: %s is an error: %s", (line, isError) => {
    const profile = loadProfile("scpi-pressure");
    expect(profile.kind === "gauge" && profile.whenSilent?.error.test(line)).toBe(isError);
  });
});
