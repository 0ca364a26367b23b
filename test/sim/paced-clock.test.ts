import { expect, it } from "vitest";
import type { Clock } from "../../drivers/ports.ts";
import { PacedClock } from "../../sim/paced-clock.ts";
import { DEMO_START_ms, VirtualClock } from "../../sim/virtual-clock.ts";

it("a paced clock runs with the real one, dated from the demo's start", async () => {
  const real = new VirtualClock(Date.UTC(2031, 5, 1));
  const paced = new PacedClock(real);
  const fired: number[] = [];
  paced.setTimeout(() => fired.push(paced.now_s()), 1500);
  await real.advance_s(2);
  expect(fired).toEqual([1.5]);
  expect(paced.wall_ms()).toBe(DEMO_START_ms + 2000);
});

it("a cleared timer does not fire", async () => {
  const real = new VirtualClock();
  const paced = new PacedClock(real);
  let hasFired = false;
  paced.clearTimeout(
    paced.setTimeout(() => {
      hasFired = true;
    }, 10),
  );
  await real.advance_s(1);
  expect(hasFired).toBe(false);
});

it("a stopped paced clock leaves nothing behind that would keep the program alive", async () => {
  const real = new VirtualClock();
  const paced = new PacedClock(real);
  let ticks = 0;
  const tick = () => {
    ticks++;
    paced.setTimeout(tick, 100);
  };
  tick();
  await real.advance_s(1);
  const before = ticks;
  paced.stop();
  tick();
  await real.advance_s(1);
  expect(ticks).toBe(before + 1);
});

it("many times as fast, a timer fires so much sooner", async () => {
  const real = new VirtualClock();
  const paced = new PacedClock(real, 20);
  const fired: number[] = [];
  paced.setTimeout(() => fired.push(real.now_s()), 10_000);
  await real.advance_s(1);
  expect(fired[0]).toBeCloseTo(0.5, 6);
});

/** A machine with more to do than it can: whatever it is asked to do at a time, it does later. */
function busy(machine: VirtualClock, late_ms: number): Clock {
  return {
    now_s: () => machine.now_s(),
    wall_ms: () => machine.wall_ms(),
    setTimeout: (fn, delay_ms) => machine.setTimeout(fn, delay_ms + late_ms),
    clearTimeout: (handle) => machine.clearTimeout(handle),
    afterArrivals: (fn) => machine.afterArrivals(fn),
  };
}

it("on a busy machine every timer still fires at its own moment, in order, and time passes more slowly", async () => {
  const machine = new VirtualClock();
  const paced = new PacedClock(busy(machine, 700), 8);
  const fired: string[] = [];
  const gauge = (name: string, every_ms: number, left: number) => {
    if (left === 0) return;
    paced.setTimeout(() => {
      fired.push(`${paced.now_s().toFixed(3)} ${name}`);
      gauge(name, every_ms, left - 1);
    }, every_ms);
  };
  gauge("A", 20, 5);
  gauge("B", 30, 3);
  await machine.advance_s(30);
  expect(fired).toEqual([
    "0.020 A",
    "0.030 B",
    "0.040 A",
    "0.060 B",
    "0.060 A",
    "0.080 A",
    "0.090 B",
    "0.100 A",
  ]);
  // Of the 0.7 s that it came late at first, all but 0.25 s were not made up for.
  const first_s = 0.7 + 0.02 / 8;
  expect(paced.now_s()).toBeCloseTo((30 - (first_s - 0.02 / 8 - 0.25)) * 8, 3);
});

it("what follows from a timer happens at its moment, too", async () => {
  const machine = new VirtualClock();
  const paced = new PacedClock(busy(machine, 500), 8);
  const moments: number[] = [];
  paced.setTimeout(async () => {
    await Promise.resolve();
    moments.push(paced.now_s());
    paced.afterArrivals(() => moments.push(paced.now_s()));
  }, 100);
  await machine.advance_s(5);
  expect(moments).toEqual([0.1, 0.1]);
});

it("whatever happens between two timers has one moment, however long the machine takes over it", async () => {
  const machine = new VirtualClock();
  const stalls = { by_s: 0 };
  const paced = new PacedClock({ ...busy(machine, 0), now_s: () => machine.now_s() + stalls.by_s }, 20);
  await machine.advance_s(1);
  const order: string[] = [];
  // A question with a time-out, and its answer, which the instrument puts on the cable once it has heard the question.
  paced.setTimeout(() => order.push("time-out"), 300);
  stalls.by_s = 5;
  await Promise.resolve();
  paced.setTimeout(() => order.push("answer"), 1);
  await machine.advance_s(1);
  expect(order).toEqual(["answer", "time-out"]);
});
