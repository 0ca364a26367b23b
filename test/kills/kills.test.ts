import { expect, it } from "vitest";
import { killLane } from "./lane.ts";

it("a station killed at random moments leaves outputs that drop, one traveller per attempt and a chain that goes on", {
  timeout: 300_000,
}, async () => {
  const { kills, wrong, travellers, interrupted } = await killLane({
    seed: 3,
    lane: 0,
    times: 4,
    over: "tcp",
  });
  expect([...kills.flatMap((kill) => kill.wrong), ...wrong]).toEqual([]);
  expect(kills).toHaveLength(4);
  expect(travellers).toBeGreaterThan(0);
  expect(interrupted).toBeGreaterThan(0);
});
