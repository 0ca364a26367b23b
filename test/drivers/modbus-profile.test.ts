import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it, test } from "vitest";
import { ownProfilesFolder, readProfile } from "../../drivers/profile-file.ts";
import { profileJsonSchema } from "../../drivers/profile-schema.ts";
import { FileProblems } from "../../limits/checked-yaml.ts";

function shipped(name: string): string {
  return readFileSync(join(ownProfilesFolder(), `${name}.yaml`), "utf8");
}

/** What is said of a shipped profile with one thing changed, each problem as "line:column: ...". */
function problemsOf(name: string, from: string, to: string): string[] {
  const text = shipped(name);
  expect(text).toContain(from);
  try {
    readProfile(name, "own.yaml", text.replace(from, to));
    return [];
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    return error.message.split("\n").map((line) => line.replace("own.yaml:", ""));
  }
}

/** The place of a text in a shipped profile, as problems name it. */
function placeOf(name: string, text: string): RegExp {
  const before = shipped(name).split(text)[0] ?? "";
  return new RegExp(`^${before.split("\n").length}:\\d+: `);
}

describe("a Modbus profile", () => {
  test.each(["modbus-pressure", "modbus-power", "modbus-ambient", "modbus-io"])(
    "%s, as shipped, is taken",
    (name) => expect(readProfile(name, `${name}.yaml`, shipped(name)).name).toBe(name),
  );

  test.each([
    [
      "an address no register has",
      "modbus-pressure",
      "address: 100,",
      "address: 70000,",
      "at least 0 and at most 65535",
    ],
    ["a type there is not", "modbus-pressure", "type: float32", "type: float64", "one of .*int16.*float32"],
    [
      "32 bits at the last address",
      "modbus-ambient",
      "    address: 1\n    type: uint32",
      "    address: 65535\n    type: uint32",
      "an address up to 65534 for two registers",
    ],
    [
      "a special value the type can't hold",
      "modbus-ambient",
      "[-32768]",
      "[-40000]",
      "a number that int16 can hold",
    ],
    ["a unit of another quantity", "modbus-power", "unit: W", "unit: Pa", "power"],
    ["two channels of one name", "modbus-power", "name: voltage", "name: power", "a name not used before"],
    [
      "a status in another table",
      "modbus-power",
      "table: input_register\n  address: 13",
      "table: holding_register\n  address: 13",
      "registers that come in one answer with channel power",
    ],
    [
      "a counter far from its values",
      "modbus-pressure",
      "  address: 3\n",
      "  address: 30\n",
      "registers that come in one answer with channel leak_pressure: next to it in its table, or with read_together",
    ],
    [
      "a count that may stand still for less than a poll",
      "modbus-pressure",
      "stale_after: 500 ms",
      "stale_after: 30 ms",
      "at least twice as long as poll every",
    ],
    [
      "a count that may stand still for no longer than an answer may take",
      "modbus-pressure",
      "stale_after: 500 ms",
      "stale_after: 320 ms",
      "longer than poll every and reply_within together",
    ],
    [
      "a status that is codes and bits",
      "modbus-pressure",
      "  bits:\n",
      "  codes: { good: [0] }\n  bits:\n",
      "either codes or bits, and not both",
    ],
    ["a bit with two meanings", "modbus-pressure", "over_range: [1]", "over_range: [0]", "each of them once"],
    [
      "two ways to ask who it is",
      "modbus-power",
      "identity:\n",
      "identity:\n  number: { table: holding_register, address: 0, type: uint16, expect: 1 }\n",
      "one of device_identification, text and number, and only one",
    ],
    [
      "RTU without port settings",
      "modbus-io",
      "framing: tcp",
      "framing: rtu",
      "the settings of the serial port",
    ],
    [
      "a name used twice",
      "modbus-io",
      "names: [guard, start]",
      "names: [guard, vent]",
      "a name not used before",
    ],
    [
      "a bit of what is one itself",
      "modbus-io",
      "table: discrete_input, address: 2",
      "table: discrete_input, address: 2, bit: 1",
      "no bit, because it is one itself",
    ],
    [
      "a register without its bit",
      "modbus-io",
      "table: discrete_input, address: 2",
      "table: input_register, address: 2",
      "which bit of the register, 0 to 15",
    ],
    ["a coil written with a number", "modbus-io", "value: 1", "value: 5", "0 or 1"],
    ["a mistyped key", "modbus-pressure", "stale_after:", "stale_aftr:", "stale_after"],
  ])("with %s is refused, with line and column", (_what, name, from, to, expected) => {
    const problems = problemsOf(name, from, to);
    expect(problems.join("\n")).toMatch(new RegExp(expected));
    for (const problem of problems) expect(problem).toMatch(/^\d+:\d+: /);
  });

  it("names the line of the mistake itself", () => {
    const [problem] = problemsOf("modbus-ambient", "[-32768]", "[-40000]");
    expect(problem).toMatch(placeOf("modbus-ambient", "[-32768]"));
  });

  it("may read everything in one request, from one table and not too far apart", () => {
    const together = (address: number) =>
      problemsOf(
        "modbus-pressure",
        "counter:\n  table: input_register\n  address: 3\n",
        `read_together: true\ncounter:\n  table: input_register\n  address: ${address}\n`,
      );
    expect(together(124)).toEqual([]);
    expect(together(125).join("\n")).toContain("no more than 125 from the first to the last");
  });

  it("stands in the JSON Schema for editors, with what an address is", () => {
    const schema = JSON.stringify(profileJsonSchema());
    for (const key of ["modbus_gauge", "modbus_io_block", "read_together", "heartbeat", "30001"])
      expect(schema).toContain(key);
  });
});
