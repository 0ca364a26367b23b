import fc from "fast-check";
import { describe, expect, it, vi } from "vitest";
import { BadgeCover, beginningOf, COVER } from "../../station/screen/badge-cover.ts";

const dots = (count: number) => COVER.repeat(count);

describe("the beginning of a pattern", () => {
  it.each<[RegExp, string, boolean]>([
    [/^B[0-9]{6}$/u, "", true],
    [/^B[0-9]{6}$/u, "B53", true],
    [/^B[0-9]{6}$/u, "B531812", true],
    [/^B[0-9]{6}$/u, "B5318120", false],
    [/^B[0-9]{6}$/u, "5", false],
    [/^(?:ID|CARD)-?[A-F]{2,4}$/u, "CAR", true],
    [/^(?:ID|CARD)-?[A-F]{2,4}$/u, "ID-A", true],
    [/^(?:ID|CARD)-?[A-F]{2,4}$/u, "IDA", true],
    [/^(?:ID|CARD)-?[A-F]{2,4}$/u, "CAD", false],
    [/^\d\.[\]\\]x?$/u, "4.]", true],
    [/^\d\.[\]\\]x?$/u, "4,", false],
  ])("%s begins like %j: %s", (pattern, text, expected) => {
    expect(beginningOf(pattern).test(text)).toBe(expected);
  });

  it("takes every beginning of whatever the pattern takes, and nothing that can't go on", () => {
    for (const pattern of [/^B[0-9]{6}$/u, /^(?:ID|CARD)-?[A-F]{2,4}$/u, /^[A-C]{1,3}(?:x|yz)?$/u]) {
      const begins = beginningOf(pattern);
      fc.assert(
        fc.property(fc.stringMatching(pattern), fc.nat(20), (whole, at) => {
          expect(begins.test(whole.slice(0, at))).toBe(true);
          expect(begins.test(`${whole}~`)).toBe(false);
        }),
      );
    }
  });
});

describe("what is drawn of a typed line", () => {
  const cover = new BadgeCover(/^K[0-9]{6}$/u, [/^TUB[0-9]{6}$/u, /^[0-9]{8}$/u]);

  it.each([
    ["a badge while it is scanned", "K77", dots(3)],
    ["a whole badge", "K777123", dots(7)],
    ["a badge scanned with Caps Lock on", "k777123", dots(7)],
    ["a badge behind half a label", "x K7771", `x ${dots(5)}`],
    ["a badge with something behind it", "K777123TUB", `${dots(7)}TUB`],
    ["two badges", "K777123K777124", dots(14)],
    ["what can't be a badge any more", "K77A", "K77A"],
    ["a name", "Karl", "Karl"],
    ["a serial", "TUB531812", "TUB531812"],
    ["characters outside the plane", "😀K777123", `😀${dots(7)}`],
  ])("%s", (_, text, drawn) => {
    expect(cover.drawn(text)).toBe(drawn);
  });

  it("covers a badge that is scanned into the middle of a line", () => {
    expect(cover.drawn("xK777y", 5)).toBe(`x${dots(4)}y`);
  });

  it("leaves a serial to be read though a badge could begin inside it, and covers one that is a badge as well", () => {
    const inside = new BadgeCover(/^B[0-9]{6}$/u, [/^TUB[0-9]{6}$/u]);
    expect(inside.drawn("TUB5318")).toBe("TUB5318");
    expect(inside.drawn("TUB531812 B777123")).toBe(`TUB531812 ${dots(7)}`);
    const same = new BadgeCover(/^[0-9]{8}$/u, [/^[0-9]{8}$/u]);
    expect(same.drawn("0011")).toBe(dots(4));
  });

  it("covers nothing where nobody signs in by badge", () => {
    expect(new BadgeCover(null, [/^TUB[0-9]{6}$/u]).drawn("K777123")).toBe("K777123");
  });

  it("covers the whole of a line that is too long for a scan, and at no price", () => {
    const jammed = "TUB531812".padEnd(400, "K7");
    const looks = vi.spyOn(RegExp.prototype, "test");
    expect(cover.drawn(jammed)).toBe(dots(400));
    expect(looks).not.toHaveBeenCalled();
    looks.mockRestore();
  });

  it("looks further only while what stands there may become a badge: a jammed key is no work", () => {
    const looks = vi.spyOn(RegExp.prototype, "test");
    expect(cover.drawn("1".repeat(200))).toBe("1".repeat(200));
    expect(looks.mock.calls.length).toBeLessThan(3 * 200);
    looks.mockRestore();
  });

  it("knows a line that holds a badge and more, or a badge read in part", () => {
    expect(["K777123x", "x K777123", "K7771", "k7771"].map((it) => cover.holdsBadge(it))).toEqual([
      true,
      true,
      true,
      true,
    ]);
    expect(["TUB531812", "Karl", "K", "x"].map((it) => cover.holdsBadge(it))).toEqual([
      false,
      false,
      false,
      false,
    ]);
  });

  it("never shows a badge, typed key by key, whatever stands around it", () => {
    const around = fc.stringMatching(/^[a-zA-JL-Z ]{0,12}$/);
    fc.assert(
      fc.property(around, fc.stringMatching(/^K[0-9]{6}$/), around, (before, badge, after) => {
        const whole = before + badge + after;
        for (let length = 0; length <= whole.length; length++) {
          const drawn = cover.drawn(whole.slice(0, length));
          expect(drawn).not.toMatch(/K[0-9]/);
          expect([...drawn]).toHaveLength(length);
        }
      }),
    );
  });
});
