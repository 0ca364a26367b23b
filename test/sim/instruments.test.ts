import { describe, expect, it } from "vitest";
import { SAFE_OUTPUTS } from "../../sim/instruments/ascii-io.ts";
import { nr3 } from "../../sim/instruments/scpi.ts";
import { Sensor } from "../../sim/instruments/sensor.ts";
import { randomStream } from "../../sim/random.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { TestCable } from "./wire.ts";

function bench(name: string, seed = 1) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed });
  const instrument = plant.instruments.get(name);
  if (!instrument) throw new Error(`no ${name}`);
  const cable = new TestCable();
  const unplug = instrument.attach(cable.far);
  const ask = async (command: string, wait_s = 0.02) => {
    cable.lines();
    cable.say(command);
    await clock.advance_s(wait_s);
    return cable.lines();
  };
  return { clock, plant, instrument, cable, unplug, ask };
}

const STREAM_LINE = /^N=(\d{6}) P=([+-]\d+\.\d\d) S=0$/;

describe("the streaming pressure gauge", () => {
  it("sends fifty numbered lines a second by itself", async () => {
    const { clock, cable } = bench("leak_gauge");
    await clock.advance_s(2);
    const lines = cable.lines();
    const numbers = lines.map((line) => Number(STREAM_LINE.exec(line)?.[1]));
    expect(numbers).toEqual(Array.from({ length: 100 }, (_, i) => i + 1));
    expect(cable.heard).toBe("");
  });

  it("ends its lines with CR LF, and shows ambient as a pascal or two around zero", async () => {
    const { clock, cable } = bench("leak_gauge");
    await clock.advance_s(1);
    expect(cable.heard.endsWith("\r\n")).toBe(true);
    const values = cable.lines().map((line) => Number(STREAM_LINE.exec(line)?.[2]));
    expect(Math.max(...values.map(Math.abs))).toBeLessThan(5);
    expect(new Set(values).size).toBeGreaterThan(10);
  });

  it("counts on while nobody listens, and starts a new connection with a whole line", async () => {
    const { clock, instrument, cable, unplug } = bench("leak_gauge");
    await clock.advance_s(1);
    unplug();
    cable.lines();
    await clock.advance_s(10.005);
    expect(cable.lines()).toEqual([]);
    const next = new TestCable();
    instrument.attach(next.far);
    await clock.advance_s(0.02);
    expect(next.lines()).toEqual([expect.stringMatching(/^N=000551 P=[+-]\d+\.\d\d S=0$/)]);
  });

  it("wraps from 999999 to 000000", async () => {
    const { clock, instrument, unplug } = bench("leak_gauge");
    unplug();
    await clock.advance_s(999_998 / 50 + 0.01);
    const cable = new TestCable();
    instrument.attach(cable.far);
    await clock.advance_s(0.06);
    expect(cable.lines().map((line) => line.slice(0, 8))).toEqual(["N=999999", "N=000000", "N=000001"]);
  });

  it("answers ID? between its lines", async () => {
    const { ask } = bench("leak_gauge");
    const lines = await ask("ID?\r\n", 0.1);
    expect(lines.filter((line) => line === "ID=STREAM-PRESSURE;SN=0001;FW=1.0")).toHaveLength(1);
    expect(lines.filter((line) => STREAM_LINE.test(line))).toHaveLength(5);
  });

  it.each([
    ["over_range", / S=1$/],
    ["sensor_fault", / S=2$/],
  ])("says %s in its state", async (day, state) => {
    const { clock, instrument, cable } = bench("leak_gauge");
    instrument.misbehave(day);
    await clock.advance_s(0.1);
    const lines = cable.lines();
    expect(lines.length).toBe(5);
    for (const line of lines) expect(line).toMatch(state);
  });

  it("shows one value for ever when stuck, still counting", async () => {
    const { clock, instrument, cable } = bench("leak_gauge");
    instrument.misbehave("stuck");
    await clock.advance_s(1);
    const lines = cable.lines().map((line) => STREAM_LINE.exec(line));
    expect(new Set(lines.map((match) => match?.[2])).size).toBe(1);
    expect(new Set(lines.map((match) => match?.[1])).size).toBe(50);
  });

  it("leaves numbers out when it skips", async () => {
    const { clock, instrument, cable } = bench("leak_gauge");
    instrument.misbehave("skips");
    await clock.advance_s(2);
    const numbers = cable.lines().map((line) => Number(STREAM_LINE.exec(line)?.[1]));
    expect(numbers).not.toContain(50);
    expect(numbers).toContain(51);
  });
});

describe("a sensor", () => {
  it("asked twice at the same moment, worked out in two ways, answers with a number", () => {
    const traits = { white: 1, correlated: 1, correlationTau_s: 0.5, lag_s: 0.02, resolution: 0.05 };
    const sensor = new Sensor({ ...traits, zeroError: 1, slopeError: 0 }, randomStream(7, "sensor"));
    sensor.read(40 * (1 + Number.EPSILON), 5_000);
    expect(sensor.read(40, 5_000)).toBeGreaterThan(4_900);
  });
});

describe("bad days of the line", () => {
  it("says nothing when silent, and everything again when the day is over", async () => {
    const { instrument, ask } = bench("power_meter");
    instrument.misbehave("silent");
    expect(await ask("*IDN?\n")).toEqual([]);
    instrument.misbehave(null);
    expect(await ask("*IDN?\n")).toEqual(["DEMO WORKS,POWER,SN0001,1.0"]);
  });

  it("stops in the middle of a line, without its end", async () => {
    const { instrument, ask, cable } = bench("power_meter");
    instrument.misbehave("half_line");
    expect(await ask("*IDN?\n")).toEqual([]);
    expect("DEMO WORKS,POWER,SN0001,1.0".startsWith(cable.heard)).toBe(true);
    expect(cable.heard.length).toBeGreaterThan(5);
  });

  it("sends bytes that mean nothing", async () => {
    const { instrument, ask } = bench("power_meter");
    instrument.misbehave("garbage");
    expect(await ask("*IDN?\n")).toEqual([expect.stringMatching(/^[\x80-\xff]{27}$/)]);
  });

  it("answers seconds late", async () => {
    const { clock, cable, instrument, ask } = bench("power_meter");
    instrument.misbehave("late");
    expect(await ask("*IDN?\n", 2.9)).toEqual([]);
    await clock.advance_s(0.2);
    expect(cable.lines()).toEqual(["DEMO WORKS,POWER,SN0001,1.0"]);
  });

  it("hangs up when unplugged, and nobody answers a new connection until it is plugged in again", async () => {
    const { clock, instrument, cable } = bench("power_meter");
    instrument.misbehave("unplugged");
    expect(cable.isHungUp).toBe(true);
    const [tooEarly, later] = [new TestCable(), new TestCable()];
    instrument.attach(tooEarly.far);
    expect(tooEarly.isHungUp).toBe(true);
    instrument.misbehave(null);
    instrument.attach(later.far);
    later.say("*IDN?\n");
    await clock.advance_s(0.1);
    expect(later.lines()).toHaveLength(1);
  });

  it("never sends an answer to a connection that did not ask for it", async () => {
    const { clock, instrument, cable } = bench("power_meter");
    cable.say("*IDN?\n");
    const next = new TestCable();
    instrument.attach(next.far);
    await clock.advance_s(1);
    expect(cable.isHungUp).toBe(true);
    expect(next.lines()).toEqual([]);
  });

  it.each(["leak_gauge", "source_gauge", "io_block"])("lets %s claim to be something else", async (name) => {
    const { instrument, ask } = bench(name);
    const question = name === "source_gauge" ? "*IDN?\n" : "ID?\r\n";
    const identity = (lines: string[]) => lines.find((line) => /^(ID=|DEMO)/.test(line));
    const right = identity(await ask(question));
    instrument.misbehave("wrong_identity");
    const wrong = identity(await ask(question));
    expect(wrong).toBeDefined();
    expect(wrong).not.toBe(right);
  });

  it("refuses a day it does not have, and says which it has", () => {
    const { instrument } = bench("power_meter");
    expect(() => instrument.misbehave("tired")).toThrow(/silent.*over_range/);
  });
});

describe("SCPI-style instruments", () => {
  it.each([
    ["source_gauge", "MEAS:PRES?", 1],
    ["airflow_gauge", "MEAS:SUCT?;FLOW?", 2],
    ["power_meter", "MEAS:POW?;VOLT?", 2],
    ["flow_plate", "MEAS:DROP?", 1],
    ["ambient", "MEAS:TEMP?;PRES?;HUM?", 3],
  ])("%s answers %s with numbers in NR3", async (name, question, count) => {
    const { ask } = bench(name);
    const [line = ""] = await ask(`${question}\n`);
    const numbers = line.split(";");
    expect(numbers).toHaveLength(count);
    for (const number of numbers) expect(number).toMatch(/^[+-]\d\.\d{5}E[+-]\d\d$/);
  });

  it("understands long forms, any case, a leading colon and CR LF (SCPI-99 volume 1, 6.2)", async () => {
    const { ask } = bench("ambient");
    const [line = ""] = await ask(":measure:TEMPerature?;:MEAS:pressure?\r\n");
    const [temperature_C, pressure_Pa] = line.split(";").map(Number);
    expect(temperature_C).toBeGreaterThan(15);
    expect(temperature_C).toBeLessThan(27);
    expect(pressure_Pa).toBeGreaterThan(99_000);
    expect(pressure_Pa).toBeLessThan(103_000);
  });

  it("does not answer what it does not know, and says so once when asked for errors", async () => {
    const { ask } = bench("ambient");
    expect(await ask("MEAS:CURR?\n")).toEqual([]);
    expect(await ask("SYST:ERR?\n")).toEqual(['-113,"Undefined header"']);
    expect(await ask("SYST:ERR?\n")).toEqual(['0,"No error"']);
  });

  // SCPI-99 volume 1, 7.2.1.4 and 7.2.1.5: 9.91E+37 is not a number, 9.9E+37 infinity.
  it("has SCPI's numbers for no number and too much", async () => {
    const { instrument, ask } = bench("airflow_gauge");
    instrument.misbehave("not_a_number");
    expect(await ask("MEAS:SUCT?;FLOW?\n")).toEqual(["9.91E+37;9.91E+37"]);
    instrument.misbehave("over_range");
    expect(await ask("MEAS:SUCT?;FLOW?\n")).toEqual(["9.9E+37;9.9E+37"]);
  });

  it("repeats itself when stuck", async () => {
    const { instrument, ask } = bench("power_meter");
    const free = [await ask("MEAS:VOLT?\n", 5), await ask("MEAS:VOLT?\n", 5)];
    expect(free[0]).not.toEqual(free[1]);
    instrument.misbehave("stuck");
    expect(await ask("MEAS:VOLT?\n", 5)).toEqual(await ask("MEAS:VOLT?\n", 5));
  });

  it("lets one channel stand still while the other goes on", async () => {
    const { instrument, ask } = bench("power_meter");
    const read = async () => (await ask("MEAS:VOLT?;POW?\n", 5)).join().split(";");
    await read();
    instrument.misbehave("voltage_stuck");
    const [first, second] = [await read(), await read()];
    expect(second[0]).toBe(first[0]);
    expect(second[1]).not.toBe(first[1]);
    instrument.misbehave(null);
    expect((await read())[0]).not.toBe(first[0]);
  });

  it.each([
    [12034.5, "+1.20345E+04"],
    [-8450.12, "-8.45012E+03"],
    [0, "+0.00000E+00"],
    [0.000123456789, "+1.23457E-04"],
    [1e100, "+1.00000E+100"],
  ])("writes %d as %s", (value, text) => {
    expect(nr3(value)).toBe(text);
  });
});

describe("the I/O block", () => {
  it("starts safe and shows outputs and inputs on one line", async () => {
    const { ask } = bench("io_block");
    expect(await ask("GET\r\n")).toEqual([
      "OUT source=0 isolate=0 vent=1 motor=0 orifice_1=0 orifice_2=0 orifice_3=0 orifice_4=0 IN guard=1 start=0 WD=0",
    ]);
  });

  it("changes the named outputs and leaves the others", async () => {
    const { ask, plant } = bench("io_block");
    expect(await ask("SET source=1 isolate=1 vent=0\r\n")).toEqual(["OK"]);
    expect(await ask("SET isolate=0\n")).toEqual(["OK"]);
    expect(plant.outputs).toMatchObject({ source: true, isolate: false, vent: false, motor: false });
  });

  it.each(["SET valve=1", "SET source=2", "SET source", "SET"])("changes nothing for %s", async (command) => {
    const { ask, plant } = bench("io_block");
    expect(await ask(`${command} motor=1\r\n`)).toEqual([command === "SET" ? "OK" : "ERR NAME"]);
    expect(plant.outputs.source).toBe(false);
    expect(plant.outputs.motor).toBe(command === "SET");
  });

  it("drops its outputs one second after the last command, and refuses to set them until reset", async () => {
    const { clock, plant, ask } = bench("io_block");
    await ask("SET vent=0 motor=1\r\n");
    await clock.advance_s(0.97);
    expect(plant.outputs.motor).toBe(true);
    await clock.advance_s(0.02);
    expect(plant.outputs).toEqual(SAFE_OUTPUTS);
    expect(await ask("SET motor=1\r\n")).toEqual(["ERR WATCHDOG"]);
    expect((await ask("GET\r\n"))[0]).toMatch(/WD=1$/);
    expect(await ask("RESET\r\n")).toEqual(["OK"]);
    expect(await ask("SET motor=1\r\n")).toEqual(["OK"]);
  });

  it.each(["BEAT", "GET", "SET vent=0"])("is kept awake by %s", async (command) => {
    const { plant, ask } = bench("io_block");
    await ask("SET motor=1\r\n");
    for (let i = 0; i < 6; i++) await ask(`${command}\r\n`, 0.9);
    expect(plant.outputs.motor).toBe(true);
  });

  it("drops its outputs when the cable is pulled, too", async () => {
    const { clock, plant, instrument, ask } = bench("io_block");
    await ask("SET motor=1\r\n");
    instrument.misbehave("unplugged");
    await clock.advance_s(1.1);
    expect(plant.outputs).toEqual(SAFE_OUTPUTS);
  });

  it("does not trip when everything is safe anyway", async () => {
    const { clock, ask } = bench("io_block");
    await ask("BEAT\r\n");
    await clock.advance_s(30);
    expect((await ask("GET\r\n"))[0]).toMatch(/WD=0$/);
  });

  it("shows guard and start button", async () => {
    const { plant, ask } = bench("io_block");
    plant.guard(false);
    plant.pressStart(0.3);
    expect((await ask("GET\r\n", 0.1))[0]).toMatch(/IN guard=0 start=1/);
    await ask("BEAT\r\n", 0.3);
    expect((await ask("GET\r\n"))[0]).toMatch(/start=0/);
  });

  it("says OK and does nothing when its outputs are not taken", async () => {
    const { plant, instrument, ask } = bench("io_block");
    instrument.misbehave("outputs_not_taken");
    expect(await ask("SET motor=1\r\n")).toEqual(["OK"]);
    expect(plant.outputs.motor).toBe(false);
    expect((await ask("GET\r\n"))[0]).toMatch(/motor=0/);
  });

  it("says so when it does not know a command", async () => {
    const { ask } = bench("io_block");
    expect(await ask("JUMP\r\n")).toEqual(["ERR COMMAND"]);
  });
});
