import { expect, it } from "vitest";
import { SimulatedScreen } from "./simulated-screen.ts";

const everyFewMinutes = (text: string) => text.replace("\n  every: 8 h\n", "\n  every: 10 min\n");

it("the screen refuses another model's unit, an unknown label, and every unit once the reference check is overdue", {
  timeout: 300_000,
}, async () => {
  const station = await SimulatedScreen.begin({ station: everyFewMinutes });
  const { screen } = station;
  await station.proveStation();
  await station.test("POD531811");
  await screen.until("POD531811 is good", "Reference check: passed");

  await screen.scan("TUB531812");
  await screen.until(/Not taken\. "?TUB531812/, "NOT STARTED");
  await screen.scan("XYZ-1");
  await screen.until(/XYZ-1/, /Scan the label again|is nothing/);

  await screen.until("Reference check: DUE");
  await screen.scan("POD531812");
  await screen.until("POD531812 was not started. The reference check is due", /REF-TIGHT-POD-4/);
  // Pressing start does not help.
  await screen.scan("POD531812");
  await screen.until("POD531812 was not started");

  expect((await station.leave()).code).toBe(0);
  const units = (await station.travellers()).filter(({ kind }) => kind === "unit");
  expect(units.map(({ serial }) => serial)).toEqual(["POD531811"]);
});
