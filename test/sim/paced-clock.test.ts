import { expect, it } from "vitest";
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
