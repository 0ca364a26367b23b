import { describe, expect, it } from "vitest";
import { answer, refusal } from "./calc-answers.ts";
import { drumtight } from "./command-line.ts";

const FAN = ["leak-cost", "--sealed-suction", "22 kPa", "--open-flow", "68 L/s"];
const TEST = ["--pressure", "-8 kPa"];
const WORKING = [...FAN, "--orifice", "16.5 mm", "--coefficient", "0.62", ...TEST];

const near = (value: number, digits = 4) => expect.closeTo(value, digits);

describe("calc leak-cost", () => {
  it("tells what 60 mL/min costs by either law, the worse first, from pores to hole", async () => {
    expect(await answer(...WORKING, "--leak-rate", "60 mL/min @ 20 degC")).toMatchObject({
      value: near(0.5005),
      unit: "Pa",
      law: "laminar",
      laws: [
        {
          law: "laminar",
          suction_lost: { value: near(0.5005) },
          suction: { value: near(15.39735), unit: "kPa" },
        },
        { law: "orifice", suction_lost: { value: near(0.3592) } },
      ],
      tight: { suction: { value: near(15.39785), unit: "kPa" } },
      inlet: { bore: { value: 16.5, unit: "mm" }, coefficient: { value: 0.62, assumed: false } },
      fan: { form: "line" },
    });
    const { stdout } = await drumtight(["calc", ...WORKING, "--leak-rate", "60 mL/min @ 20 degC"]);
    expect(stdout).toMatch(
      /^Suction lost at the working point: 0\.50050\d* Pa, 0\.00325\d* % \(the worse of two laws\)\n/,
    );
    expect(stdout).toMatch(/Tight: 15\.3978 kPa and 20\.40\d* L\/s through an orifice of 16\.5 mm/);
  });

  it("finds the leak limit that leaves a suction, and that leak costs just as much", async () => {
    const middle = ["--middle-flow", "34 L/s", "--middle-suction", "-14.3 kPa"];
    const bent = [...FAN, ...middle, "--working-flow", "16 L/s", ...TEST, "--law", "orifice"];
    const leak = await answer(...bent, "--suction-to-remain", "18 kPa");
    expect(leak).toMatchObject({
      unit: "mL/min @ 20 degC",
      law: "orifice",
      fan: { form: "parabola" },
      tight: { inlet_flow: { value: near(16, 9) } },
      inlet: { coefficient: { assumed: true } },
    });
    const back = await answer(...bent, "--leak-rate", `${leak.value} mL/min @ 20 degC`);
    expect(back).toMatchObject({ laws: [{ suction: { value: near(18, 6), unit: "kPa" } }] });
  });

  it("takes the smaller of two leaks for a limit", async () => {
    const { value, laws } = await answer(...WORKING, "--suction-to-remain", "15 kPa");
    const rates = (laws as { leak_rate: { value: number } }[]).map(({ leak_rate }) => leak_rate.value);
    expect(rates).toHaveLength(2);
    expect(value).toBe(Math.min(...rates));
    const { stdout } = await drumtight(["calc", ...WORKING, "--suction-to-remain", "15 kPa"]);
    expect(stdout).toMatch(
      /^Leak that leaves 15 kPa: [\d.]+ L\/min @ 20 degC, tested at -8 kPa \(the smaller/,
    );
  });

  it("says in one sentence what to give instead of what it can't use", async () => {
    const leak = ["--leak-rate", "60 mL/min @ 20 degC"];
    expect(await refusal(...FAN, ...TEST, ...leak)).toMatch(/--orifice.*--working-flow/);
    expect(await refusal(...WORKING, "--working-flow", "16 L/s", ...leak)).toMatch(/give one of them/);
    expect(
      await refusal(...FAN, "--working-flow", "16 L/s", "--coefficient", "0.62", ...TEST, ...leak),
    ).toMatch(/leave it out/);
    expect(await refusal(...FAN, "--working-flow", "70 L/s", ...TEST, ...leak)).toMatch(
      /--open-flow of 68 L\/s/,
    );
    expect(await refusal(...WORKING)).toMatch(/--leak-rate.*--suction-to-remain/);
    expect(await refusal(...WORKING, ...leak, "--suction-to-remain", "15 kPa")).toMatch(/give one of them/);
    expect(await refusal(...WORKING, "--suction-to-remain", "16 kPa")).toMatch(/only 15\.3978 kPa/);
    expect(await refusal(...WORKING, ...leak, "--middle-flow", "34 L/s")).toMatch(/both/);
    expect(
      await refusal(...WORKING, ...leak, "--middle-flow", "34 L/s", "--middle-suction", "21 kPa"),
    ).toMatch(/falls all the way/);
    expect(await refusal(...WORKING, ...leak, "--pressure", "0 kPa")).toMatch(/--pressure.*-8 kPa/);
    expect(await refusal(...WORKING, "--leak-rate", "60 mL/min @")).toMatch(/--leak-rate/);
    expect(
      await refusal(
        "leak-cost",
        "--sealed-suction",
        "105 kPa",
        "--open-flow",
        "68 L/s",
        "--orifice",
        "16 mm",
        ...TEST,
        ...leak,
      ),
    ).toMatch(/--sealed-suction.*100\.9 kPa/);
  });
});
