import { describe, expect, it } from "vitest";
import { SimulatedScreen, withoutReferenceCheck } from "./simulated-screen.ts";

// biome-ignore lint/suspicious/noControlCharactersInRegex: what colours are made of
const COLOUR = /\x1b\[(?:[0-9;]*;)?(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])(?:;[0-9;]*)?m/;
const CURVE = /[\u2800-\u28ff]/;

/** What an inspector needs while a test runs, in its place. */
function expectWholeScreen(shown: string, columns: number, rows: number): void {
  const lines = shown.replace(/\n$/, "").split("\n");
  expect(lines).toHaveLength(rows);
  expect(lines[0]).toMatch(/Demo station 1.*\[SIMULATED\] \d\d:\d\d$/);
  expect(lines[0]?.length).toBeGreaterThan(columns - 4);
  expect(shown).toMatch(CURVE);
  expect(shown).toMatch(/Serial POD531811 +Model POD-4 +Attempt 1/);
  // The last two rows: the keys that work now, and the line that is typed.
  expect(lines.slice(-3).join("\n")).toMatch(/Esc {2}abort the test/);
  expect(lines.at(-1)).toMatch(/^ > ?/);
}

describe.each([
  { columns: 80, rows: 24, environment: { NO_COLOR: "1" }, isColoured: false },
  { columns: 100, rows: 30, environment: {}, isColoured: true },
  { columns: 160, rows: 50, environment: {}, isColoured: true },
])("a terminal of $columns x $rows, $environment", ({ columns, rows, environment, isColoured }) => {
  it("shows curve, phase and keys while a unit is tested, then the verdict as a word of blocks", {
    timeout: 200_000,
  }, async () => {
    const station = await SimulatedScreen.begin({
      station: withoutReferenceCheck,
      columns,
      rows,
      environment,
      speed: 8,
    });
    const { screen } = station;
    await screen.scan("POD531811");
    await station.start("POD531811");
    expectWholeScreen(await screen.until(/leak: measure/, CURVE), columns, rows);
    await station.verdict("POD531811");
    const shown = await screen.until("POD531811 is good", /PASS/, /█{2,}/);
    expect(shown.replace(/\n$/, "").split("\n")).toHaveLength(rows);
    expect(COLOUR.test(await screen.shownInColour())).toBe(isColoured);
    await station.leave();
    expect(await station.travellers()).toMatchObject([{ serial: "POD531811", verdict: "pass" }]);
  });
});

it("a terminal resized while a unit is tested shows the whole screen at each size, and the test goes on", {
  timeout: 200_000,
}, async () => {
  const station = await SimulatedScreen.begin({ station: withoutReferenceCheck, speed: 2 });
  const { screen } = station;
  await screen.scan("POD531811");
  await station.start("POD531811");
  await screen.until(/leak: measure/, CURVE);
  for (const [columns, rows] of [
    [160, 50],
    [100, 30],
  ] as const) {
    await screen.resize(columns, rows);
    const widths = new RegExp(`^ Demo station 1.{${columns - 30},}$`, "m");
    expectWholeScreen(await screen.until(widths, "Esc abort the test", CURVE), columns, rows);
  }
  await screen.resize(70, 20);
  await screen.until("This window has 70 x 20 characters and the screen needs 80 x 24", "Esc aborts it");
  await screen.resize(80, 24);
  expectWholeScreen(await screen.until("Esc abort the test", CURVE, /Demo station 1/), 80, 24);
  await station.verdict("POD531811");
  await screen.until("POD531811 is good");
  await station.leave();
  expect(await station.travellers()).toMatchObject([{ serial: "POD531811", verdict: "pass" }]);
});
