import { getEventListeners } from "node:events";
import { expect, it } from "vitest";
import { OneByOne } from "../station/test-one.ts";
import { SimulatedShift } from "./journeys/simulated-shift.ts";

it("leaves nothing on the stop signal, however often a stopped station was acknowledged", async () => {
  const { simulated } = await SimulatedShift.begin();
  const stop = new AbortController();
  const one = new OneByOne(simulated.station, { stop: stop.signal });
  const [piece] = simulated.station.dueReferences();
  const body = simulated.unitOf(piece?.serial ?? "");
  if (!body) throw new Error("No reference piece is due.");
  simulated.plant.mount(body);
  const leakGauge = simulated.plant.instruments.get("leak_gauge");
  let recoveries = 0;
  simulated.station.listen({
    recovered: () => recoveries++,
    phase: (_, phase) => {
      if (phase === "measure") leakGauge?.misbehave("unplugged");
    },
  });
  for (let attempt = 0; attempt < 4; attempt++) {
    leakGauge?.misbehave(null);
    await simulated.runUntil(one.test({ serial: body.serial, parts: body.parts }));
  }
  expect(recoveries).toBe(3);
  expect(getEventListeners(stop.signal, "abort")).toHaveLength(0);
});

it("does not go on with a scan whose station is being acknowledged when somebody stops", async () => {
  const { simulated } = await SimulatedShift.begin();
  const stop = new AbortController();
  const one = new OneByOne(simulated.station, { stop: stop.signal });
  const [piece] = simulated.station.dueReferences();
  const body = simulated.unitOf(piece?.serial ?? "");
  if (!body) throw new Error("No reference piece is due.");
  simulated.plant.mount(body);
  const leakGauge = simulated.plant.instruments.get("leak_gauge");
  simulated.station.listen({ phase: () => leakGauge?.misbehave("unplugged") });
  const scan = { serial: body.serial, parts: body.parts };
  await simulated.runUntil(one.test(scan));
  expect(simulated.station.state()).toBe("faulted");
  const next = one.test(scan);
  stop.abort();
  expect(await simulated.runUntil(next)).toEqual({ kind: "refused", reasons: [] });
});
