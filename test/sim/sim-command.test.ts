import { afterEach, describe, expect, it, vi } from "vitest";
import { simCommand } from "../../station/commands/sim.ts";

/** What the command prints. */
async function printed(...args: string[]): Promise<string[]> {
  let text = "";
  vi.spyOn(process.stdout, "write").mockImplementation((chunk) => {
    text += String(chunk);
    return true;
  });
  const command = simCommand();
  for (const one of [command, ...command.commands])
    one.exitOverride().configureOutput({ writeErr: () => {} });
  await command.parseAsync(args, { from: "user" });
  return text.split("\n").slice(0, -1);
}

afterEach(() => {
  vi.restoreAllMocks();
});

describe("drumtight sim units", () => {
  it("prints one JSON object per unit with its truth", async () => {
    const lines = await printed("units", "--seed", "7", "--count", "30", "--json");
    expect(lines).toHaveLength(30);
    for (const line of lines) {
      expect(JSON.parse(line)).toMatchObject({
        serial: expect.stringMatching(/^(TUB|POD)\d{6}$/),
        model: expect.any(String),
        leak_mLmin: expect.any(Number),
        defects: expect.any(Array),
        conforms: expect.any(Boolean),
      });
    }
  });

  it("prints the same first units however many are asked for, and others for another seed", async () => {
    const few = await printed("units", "--seed", "9", "--count", "3", "--json");
    const many = await printed("units", "--seed", "9", "--count", "40", "--json");
    expect(many.slice(0, 3)).toEqual(few);
    expect(await printed("units", "--seed", "10", "--count", "3", "--json")).not.toEqual(few);
  });

  it("keeps to the asked defect rate", async () => {
    const lines = await printed("units", "--count", "50", "--defect-rate", "1", "--json");
    expect(lines.every((line) => JSON.parse(line).defects.length > 0)).toBe(true);
  });

  it("prints a table with a line per unit for people", async () => {
    const lines = await printed("units", "--count", "4");
    expect(lines).toHaveLength(5);
    expect(lines[0]).toMatch(/^serial +model +leak mL\/min/);
  });

  it.each([
    ["--count", "many"],
    ["--count", "-1"],
    ["--seed", "1.5"],
    ["--defect-rate", "1.2"],
    ["--defect-rate", "NaN"],
  ])("refuses %s %s", async (option, value) => {
    await expect(printed("units", option, value)).rejects.toMatchObject({
      code: "commander.invalidArgument",
    });
  });
});
