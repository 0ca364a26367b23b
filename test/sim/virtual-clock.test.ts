import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { VirtualClock } from "../../sim/virtual-clock.ts";

const never = () => new Promise<never>(() => {});

/** Resolves when this much virtual time has passed. */
function passing(clock: VirtualClock, delay_ms: number): Promise<void> {
  return new Promise((resolve) => void clock.setTimeout(() => resolve(), delay_ms));
}

describe("virtual time", () => {
  it("fires what is due in order of time, and at one time in the order of asking", async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.integer({ min: 0, max: 20 }), { maxLength: 80 }), async (delays_ms) => {
        const clock = new VirtualClock();
        const fired: [time_ms: number, asked: number][] = [];
        for (const [asked, delay_ms] of delays_ms.entries()) {
          clock.setTimeout(() => fired.push([Math.round(clock.now_s() * 1000), asked]), delay_ms);
        }
        await clock.advance_s(1);
        expect(fired).toEqual(
          delays_ms
            .map((delay_ms, asked): [number, number] => [delay_ms, asked])
            .sort((a, b) => a[0] - b[0] || a[1] - b[1]),
        );
      }),
      { numRuns: 50 },
    );
  });

  it("lets what was promised at one instant happen before the next instant comes", async () => {
    const clock = new VirtualClock();
    const seen_s: number[] = [];
    for (const delay_ms of [1, 2, 2, 5]) {
      void passing(clock, delay_ms)
        .then(() => Promise.resolve())
        .then(() => seen_s.push(clock.now_s()));
    }
    await clock.advance_s(0.01);
    expect(seen_s).toEqual([0.001, 0.002, 0.002, 0.005]);
  });

  it("fires no timer that was cancelled, also when an earlier one of the same instant cancels it", async () => {
    const clock = new VirtualClock();
    const fired: string[] = [];
    clock.setTimeout(() => clock.clearTimeout(second), 5);
    const second = clock.setTimeout(() => fired.push("second"), 5);
    clock.setTimeout(() => fired.push("third"), 5);
    await clock.advance_s(1);
    expect(fired).toEqual(["third"]);
  });

  it("stops an advance at its end, and fires what lies behind in the next", async () => {
    const clock = new VirtualClock(1_000);
    let fired = false;
    clock.setTimeout(() => {
      fired = true;
    }, 1_500.5);
    await clock.advance_s(1.5);
    expect([clock.now_s(), clock.wall_ms(), fired]).toEqual([1.5, 2_500, false]);
    await clock.advance_s(0.001);
    expect(fired).toBe(true);
  });

  it("stands still while held, however many hold it, and however often one lets go", async () => {
    const clock = new VirtualClock();
    let fired = false;
    void passing(clock, 1).then(() => {
      fired = true;
    });
    const first = clock.hold();
    const second = clock.hold();
    const advanced = clock.advance_s(1);
    first();
    first();
    for (let round = 0; round < 5; round++) await new Promise((resolve) => setImmediate(resolve));
    expect([fired, clock.now_s()]).toEqual([false, 0]);
    second();
    await advanced;
    expect([fired, clock.now_s()]).toEqual([true, 1]);
  });

  it("hands over what was awaited though somebody else still holds the time", async () => {
    const clock = new VirtualClock();
    clock.setTimeout(() => {
      clock.hold();
    }, 1);
    let answer: (word: string) => void = () => {};
    const answered = new Promise<string>((resolve) => {
      answer = resolve;
    });
    const waited = clock.runUntil(answered);
    while (clock.now_s() === 0) await new Promise((resolve) => setImmediate(resolve));
    setImmediate(() => answer("written"));
    expect(await waited).toBe("written");
  });

  it("passes on why what was awaited failed", async () => {
    const clock = new VirtualClock();
    const failed = passing(clock, 1).then(() => Promise.reject(new Error("no gauge")));
    await expect(clock.runUntil(failed)).rejects.toThrow("no gauge");
  });

  it("says so when nothing is left that could bring what is awaited", async () => {
    const clock = new VirtualClock();
    clock.setTimeout(() => {}, 1_000);
    await expect(clock.runUntil(never())).rejects.toThrow("nothing left to do");
    expect(clock.now_s()).toBe(1);
  });
});
