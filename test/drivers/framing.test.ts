import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type Framing, LineFramer } from "../../drivers/framing.ts";
import type { DriverError } from "../../drivers/ports.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";

const LF: Framing = { terminator: "LF", longest_bytes: 40, idleRest_s: 0.1, dropRestBeforeSend: true };

function framer(framing = LF) {
  const clock = new VirtualClock();
  const lines: string[] = [];
  const refused: { raw: string; code: DriverError["code"] }[] = [];
  const subject = new LineFramer("gauge", clock, framing, {
    line: (text) => lines.push(text),
    refused: (raw, error) => refused.push({ raw, code: error.code }),
  });
  return {
    clock,
    lines,
    refused,
    subject,
    push: (text: string) => subject.push(Buffer.from(text, "latin1"), clock.now_s()),
  };
}

const visible = fc.string({
  unit: fc.integer({ min: 0x20, max: 0xff }).map((code) => String.fromCharCode(code)),
});
const shortLine = visible.filter((text) => text.length > 0 && text.length <= 40);
const longLine = fc.string({ unit: fc.constantFrom("a", "7", ";"), minLength: 41, maxLength: 200 });

describe("framing", () => {
  it("finds the same lines however the bytes are split or glued", async () => {
    const splits = fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 1, maxLength: 50 });
    await fc.assert(
      fc.asyncProperty(
        fc.array(shortLine),
        fc.constantFrom("\n", "\r\n"),
        splits,
        async (sent, end, sizes) => {
          const { clock, lines, refused, push } = framer();
          const bytes = sent.map((line) => line + end).join("");
          for (let at = 0, turn = 0; at < bytes.length; turn++) {
            const size = sizes[turn % sizes.length] ?? 1;
            push(bytes.slice(at, at + size));
            at += size;
          }
          await clock.advance_s(1);
          expect(lines).toEqual(sent);
          expect(refused).toEqual([]);
        },
      ),
    );
  });

  it("refuses over-long lines once each and still delivers every good line, in order", async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.oneof(shortLine, longLine)),
        fc.integer({ min: 1, max: 300 }),
        async (sent, size) => {
          const { clock, lines, refused, push } = framer();
          const bytes = sent.map((line) => `${line}\r\n`).join("");
          for (let at = 0; at < bytes.length; at += size) push(bytes.slice(at, at + size));
          await clock.advance_s(1);
          expect(lines).toEqual(sent.filter((line) => line.length <= 40));
          expect(refused.map(({ code }) => code)).toEqual(
            sent.filter((line) => line.length > 40).map(() => "LINE_TOO_LONG"),
          );
        },
      ),
    );
  });

  it("keeps the order when a whole line comes right behind the pieces of another", async () => {
    const { clock, lines, push } = framer();
    for (const chunk of ["P=", "1\n", "P=2\n", "P=3\nP=", "4\n", "P=5\n"]) push(chunk);
    await clock.advance_s(1);
    expect(lines).toEqual(["P=1", "P=2", "P=3", "P=4", "P=5"]);
  });

  it("keeps every byte: B0 is a degree sign, not a zero", async () => {
    const { clock, lines, subject } = framer();
    subject.push(Buffer.from([0xb0, 0x43, 0x0a]), clock.now_s());
    await clock.advance_s(0);
    expect(lines).toEqual(["\xb0C"]);
  });

  it("drops half a line after the idle time, so that it is not glued to the next", async () => {
    const { clock, lines, refused, push } = framer();
    push("P=12.3");
    await clock.advance_s(0.099);
    expect(refused).toEqual([]);
    await clock.advance_s(0.002);
    expect(refused).toEqual([{ raw: "P=12.3", code: "REPLY_TIMEOUT" }]);
    push("P=4.56\n");
    await clock.advance_s(0);
    expect(lines).toEqual(["P=4.56"]);
  });

  it("counts the idle time from the last byte, not from the first", async () => {
    const { clock, lines, refused, push } = framer();
    for (const byte of "P=12.3456789") {
      push(byte);
      await clock.advance_s(0.09);
    }
    push("\n");
    await clock.advance_s(1);
    expect(lines).toEqual(["P=12.3456789"]);
    expect(refused).toEqual([]);
  });

  it("forgets a rest on demand but not the whole lines before it", async () => {
    const { clock, lines, refused, subject, push } = framer();
    push("first\nhalf of the sec");
    subject.dropRest();
    push("third\n");
    await clock.advance_s(1);
    expect(lines).toEqual(["first", "third"]);
    expect(refused).toEqual([]);
  });

  it("takes a line of exactly the longest length and refuses one byte more", async () => {
    for (const end of ["\n", "\r\n"]) {
      const { clock, lines, refused, push } = framer();
      push("x".repeat(40) + end);
      push("y".repeat(41) + end);
      await clock.advance_s(0);
      expect(lines).toEqual(["x".repeat(40)]);
      expect(refused).toEqual([{ raw: expect.stringContaining("y".repeat(41)), code: "LINE_TOO_LONG" }]);
    }
  });

  it("holds no more than one over-long line of memory when no line ending ever comes", async () => {
    const { clock, refused, push } = framer();
    for (let turn = 0; turn < 1000; turn++) push("z".repeat(1000));
    await clock.advance_s(0);
    expect(refused).toHaveLength(1);
    expect(refused[0]?.raw.length).toBeLessThanOrEqual(1040);
  });

  it("says nothing any more once it is closed", async () => {
    const { clock, lines, refused, subject, push } = framer();
    push("half");
    subject.close();
    push(" a line\n");
    await clock.advance_s(1);
    expect({ lines, refused }).toEqual({ lines: [], refused: [] });
  });

  it("delivers no line after one whose receiver closed it, even if they came glued together", async () => {
    const clock = new VirtualClock();
    const lines: string[] = [];
    const subject = new LineFramer("gauge", clock, LF, {
      line: (text) => {
        lines.push(text);
        subject.close();
      },
      refused: () => undefined,
    });
    subject.push(Buffer.from("one\ntwo\nthree\n"), clock.now_s());
    await clock.advance_s(1);
    expect(lines).toEqual(["one"]);
  });

  it("splits at CR alone where the instrument ends its lines so", async () => {
    const { clock, lines, push } = framer({ ...LF, terminator: "CR" });
    push("one\rtwo\r");
    await clock.advance_s(0);
    expect(lines).toEqual(["one", "two"]);
  });
});
