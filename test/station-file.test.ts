import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { readStationFile } from "../station/station-file.ts";
import { demoStationPath } from "../station/wiring.ts";

const demo = readFileSync(demoStationPath(), "utf8");
const unmarked = demo.replace(/^simulated: true.*\n/m, "");
const onPorts = (text: string) =>
  text.replaceAll("{ kind: memory }", "{ kind: tcp, host: gauges, port: 4001 }");

describe("what a station file says of being simulated", () => {
  it.each([
    ["marked, with simulated instruments", demo, true],
    ["marked, with its instruments on ports", onPorts(demo), true],
    ["not marked, with simulated instruments", unmarked, true],
    ["not marked, with its instruments on ports", onPorts(unmarked), false],
  ])("a station that is %s", (_, text, isSimulated) => {
    expect(unmarked).not.toContain("simulated: true");
    expect(readStationFile("/hall/station.yaml", text).isSimulated).toBe(isSimulated);
  });
});
