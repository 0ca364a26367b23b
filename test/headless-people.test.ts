import { afterEach, describe, expect, it } from "vitest";
import type { Reason } from "../station/cycle/reason.ts";
import type { Scan } from "../station/cycle/scan.ts";
import { HeadlessPeople } from "../station/headless-people.ts";
import { parseScan } from "../station/scanned-lines.ts";
import { openSimulatedStation, type SimulatedStation } from "../station/wiring.ts";
import { stationWithFlowFrom } from "./journeys/flow-station.ts";
import { INSPECTOR, peopleAt } from "./people/people-at.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const open: SimulatedStation[] = [];

afterEach(async () => {
  for (const simulated of open.splice(0)) await simulated.close();
});

/** @returns what is passed on of scanned lines, where badges are B and six digits */
async function passedOn(...lines: readonly string[]): Promise<readonly Scan[]> {
  const people = await peopleAt(INSPECTOR);
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    recordsFolder: scratchFolder(),
    allowDrafts: false,
    onlyModel: "POD-4",
    stationPath: stationWithFlowFrom("a flow gauge", (text) =>
      text.replace('sign_in: "off"', `sign_in: { people: ${people}, badge: "^B[0-9]{6}$" }`),
    ),
  });
  open.push(simulated);
  const { station, clock, file, models } = simulated;
  if (file.signIn.kind !== "people") throw new Error("People sign in at this station.");
  const refused: Reason[] = [];
  const headless = new HeadlessPeople({
    station,
    settings: file.signIn,
    models: () => models.map(({ limits }) => limits),
    referenceSerials: [],
    clock,
    refused: (reason) => refused.push(reason),
  });
  async function* scans(): AsyncGenerator<Scan> {
    for (const line of lines) {
      const scan = parseScan(line);
      if (scan) yield scan;
    }
  }
  const passed: Scan[] = [];
  for await (const scan of headless.unitsOf(scans())) passed.push(scan);
  return passed;
}

describe("a badge among scanned lines, at a station without a screen", () => {
  it.each(["B000002", "b000002"])("is shown of no line that could not be read: %s", async (badge) => {
    const passed = await passedOn(`POD531811 tub_cavity=${badge} tub_cavity=T3`, `POD531811 x ${badge}`);
    expect(passed).toHaveLength(2);
    expect(JSON.stringify(passed)).not.toMatch(/000002/);
  });

  it("keeps what is wrong with a line that holds none", async () => {
    const [scan] = await passedOn("POD531811 tub_cavity=T1 tub_cavity=T3");
    expect(scan?.misread?.[0]?.sentence).toContain("T3");
  });
});
