import { describe, expect, it } from "vitest";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { type Deed, Hands } from "../../sim/hands.ts";
import { LineUp } from "../../sim/line-up.ts";
import { Population } from "../../sim/population.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { TestCable } from "./wire.ts";

const models = loadLimitFolder("limits/models");

function bench(count = Number.POSITIVE_INFINITY) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 7, models });
  const lineUp = new LineUp({ seed: 7, models, count });
  const deeds: Deed[] = [];
  const hands = new Hands({
    clock,
    plant,
    next: () => lineUp.next(),
    find: (serial) => lineUp.find(serial),
    did: (deed) => deeds.push(deed),
  });
  const io = new TestCable();
  plant.instruments.get("io_block")?.attach(io.far);
  const drive = async (levels: string, hold_s: number) => {
    io.say(`SET ${levels}\r\n`);
    for (let left_s = hold_s; left_s > 0; left_s -= 0.5) {
      await clock.advance_s(Math.min(0.5, left_s));
      io.say("BEAT\r\n");
    }
  };
  return { clock, plant, hands, deeds, drive };
}

const [first, second] = [...new Population({ seed: 7, models }).units(2)].map(({ serial }) => serial);

describe("the operator's hands, working alone", () => {
  it("mount the first unit and press start until the station takes it up", async () => {
    const { plant, hands, drive, clock } = bench();
    hands.workAlone();
    expect(plant.unit?.serial).toBe(first);
    let presses = 0;
    let was = false;
    for (let i = 0; i < 100; i++) {
      await clock.advance_s(0.05);
      if (plant.isStartPressed && !was) presses++;
      was = plant.isStartPressed;
    }
    expect(presses).toBeGreaterThan(3);
    await drive("source=1 isolate=1 vent=0", 2);
    expect(plant.isStartPressed).toBe(false);
  });

  it("leave the unit on between the steps of a cycle, and change it when the cycle is over", async () => {
    const { plant, hands, drive, clock } = bench();
    hands.workAlone();
    await drive("source=1 isolate=1 vent=0", 4);
    await drive("source=0 isolate=0 vent=1", 0.1);
    while (Math.abs(plant.gas.pressure_Pa) > 100) await clock.advance_s(0.01);
    await clock.advance_s(0.2);
    await drive("motor=1", 3);
    await drive("motor=0", 1);
    expect(plant.unit?.serial).toBe(first);
    await drive("motor=0", 8);
    expect(plant.unit?.serial).toBe(second);
  });

  it("do not change a unit that is still under pressure", async () => {
    const { plant, hands, drive } = bench();
    hands.workAlone();
    plant.instruments.get("io_block")?.misbehave("vent_stuck_closed");
    await drive("source=1 isolate=1 vent=0", 6);
    await drive("source=0 isolate=0 vent=1", 5);
    expect(plant.unit?.serial).toBe(first);
  });

  it("leave the fixture bare after the last unit", async () => {
    const { plant, hands, drive, deeds } = bench(1);
    hands.workAlone();
    await drive("motor=1", 1);
    await drive("motor=0", 10);
    expect(plant.unit).toBeNull();
    expect(deeds.map(({ event }) => event)).toEqual(["mounted", "bare"]);
  });
});

describe("the operator's hands, told what to do", () => {
  it("do nothing by themselves", async () => {
    const { plant, clock } = bench();
    await clock.advance_s(10);
    expect(plant.unit).toBeNull();
    expect(plant.isStartPressed).toBe(false);
  });

  it("mount units in order, by serial, and reference pieces", () => {
    const { plant, hands } = bench();
    expect(hands.obey("next")).toMatchObject({ event: "mounted", serial: first });
    expect(hands.obey(`mount ${second}`)).toMatchObject({ event: "mounted", serial: second });
    expect(hands.obey("mount REF-TIGHT-POD-4")).toMatchObject({ event: "mounted", model: "POD-4" });
    expect(plant.unit?.body.leakPaths).toEqual([]);
    expect(hands.obey("next")).toMatchObject({ event: "mounted", serial: second });
  });

  it("open the guard, press start, break and mend an instrument", () => {
    const { plant, hands } = bench();
    expect(hands.obey("guard open")).toMatchObject({ event: "guard" });
    expect(hands.obey("start")).toMatchObject({ event: "start" });
    expect(plant.isStartPressed).toBe(true);
    expect(hands.obey("bad-day leak_gauge silent")).toMatchObject({ event: "bad_day" });
    expect(hands.obey("bad-day leak_gauge none")).toMatchObject({ event: "bad_day" });
  });

  it("say how the outputs stand, until the watchdog has dropped them", async () => {
    const { hands, drive, clock } = bench();
    expect(hands.obey("outputs")).toMatchObject({ event: "outputs", safe: true });
    await drive("source=1 isolate=1 vent=0", 0.5);
    expect(hands.obey("outputs")).toEqual({
      event: "outputs",
      sentence: "Outputs on: source, isolate. That is not safe.",
      safe: false,
    });
    await clock.advance_s(1.1);
    expect(hands.obey("outputs")).toMatchObject({ sentence: "Outputs on: vent. That is safe.", safe: true });
  });

  it.each([
    ["dance", /mount SERIAL/],
    ["guard", /guard open\|close/],
    ["next please", /none of/],
    ["mount NOSUCH1", /NOSUCH1/],
    ["bad-day leak_gauge tired", /silent/],
    ["bad-day teapot silent", /leak_gauge/],
  ])("refuse %j and say what there is", (line, says) => {
    const { hands, plant } = bench();
    expect(hands.obey(line)).toMatchObject({ event: "refused", sentence: expect.stringMatching(says) });
    expect(plant.unit).toBeNull();
  });
});
