import { expect, it } from "vitest";
import { RealClock } from "../../drivers/real-clock.ts";

it("never fires a time-out before its time by its own count, fractions of a millisecond included", async () => {
  const clock = new RealClock();
  for (const delay_ms of [0, 1.4, 2.9, 5.5]) {
    const start_s = clock.now_s();
    await new Promise<void>((resolve) => clock.setTimeout(() => resolve(), delay_ms));
    expect((clock.now_s() - start_s) * 1000).toBeGreaterThanOrEqual(delay_ms - 1);
  }
});

it("does not fire what was cancelled, and forgives cancelling nothing", async () => {
  const clock = new RealClock();
  let fired = false;
  clock.clearTimeout(clock.setTimeout(() => (fired = true), 1));
  clock.clearTimeout(undefined);
  await new Promise<void>((resolve) => clock.setTimeout(() => resolve(), 5));
  expect(fired).toBe(false);
});
