import { describe, expect, it } from "vitest";
import { ReplayClock } from "../../station/flight/replay-clock.ts";
import type { TapeEvent } from "../../station/flight/tape-event.ts";
import { aheadOf, sinceOpened } from "../../station/flight/tape-joint.ts";
import { frameOnCable } from "../../station/flight/taped-frames.ts";

const on = (instrument: string, kind: "opened" | "shut", t_s: number): TapeEvent => ({
  kind,
  instrument,
  t_s,
});

describe("the last connecting on a tape", () => {
  it("is without what was said over the connection before, though it was said while others were closed", () => {
    const events = [
      on("leak_gauge", "shut", 1),
      on("io_block", "shut", 2),
      on("io_block", "opened", 3),
      on("leak_gauge", "opened", 4),
    ];
    expect(sinceOpened(events)).toEqual(events.slice(2));
  });

  it("is moved up to each instrument's own first word of the attempt", () => {
    const preamble = [on("io_block", "opened", 3), on("leak_gauge", "opened", 4)];
    const attempt = [on("leak_gauge", "shut", 90), on("io_block", "shut", 100)];
    expect([...aheadOf(preamble, attempt)]).toEqual([
      ["io_block", 97],
      ["leak_gauge", 86],
    ]);
  });
});

describe("an instrument's clock while a tape is played", () => {
  it("does not go back where the tape goes on with an instrument whose last word was earlier", () => {
    const time = { t_s: 3 };
    const clock = new ReplayClock(time);
    clock.ahead_s = 97;
    clock.reached(100);
    // The connecting is over, and the attempt began before this instrument's first word.
    clock.ahead_s = 0;
    time.t_s = 90;
    expect(clock.now_s()).toBe(100);
    time.t_s = 101;
    expect(clock.now_s()).toBe(101);
  });
});

// From memory: the question is the example of Modbus Application Protocol V1.1b3, 6.1; the header is of Messaging on TCP/IP V1.0b, 3.1.3.
describe("a Modbus frame of a tape", () => {
  it("over TCP is shown with its transaction and its meaning", () => {
    const question = Buffer.from("150100000006010100130013", "hex");
    expect(frameOnCable("tcp", question, "sent")).toBe(
      "transaction 5377: 01 01 00 13 00 13 (read 19 coils from 19)",
    );
  });

  it("that is no whole one is shown as what it is", () => {
    expect(frameOnCable("tcp", Buffer.from("0005000000060101", "hex"), "heard")).toBe(
      "00 05 00 00 00 06 01 01 (no whole frame)",
    );
    expect(frameOnCable("rtu", Buffer.from("01040002", "hex"), "heard")).toBe("01 04 00 02 (no whole frame)");
  });
});
