import { describe, expect, it } from "vitest";
import { readStationFile } from "../station/station-file.ts";
import { GOOD, problemsIn } from "./made-station-file.ts";

const withGtin = (gtin: string, model = "POD-4") => `${GOOD}\nlabels: { gtins: { ${model}: ${gtin} } }\n`;

describe("GTINs in a station file", () => {
  it("are known by model, as they are written", () => {
    const file = readStationFile("/station.yaml", withGtin('"04012345678901"'));
    expect(file.labels.gtins).toEqual(new Map([["POD-4", "04012345678901"]]));
    expect(readStationFile("/station.yaml", GOOD).labels.gtins.size).toBe(0);
  });

  it.each([
    { gtin: '"04012345678900"', says: "check digit, which is 1" },
    { gtin: "04012345678901", says: "in quotation marks" },
    { gtin: '"4012345678"', says: "8, 12, 13 or 14 digits" },
    { gtin: '"00000000000000"', says: "nothing but zeros" },
    { gtin: '"04012345 78901"', says: "8, 12, 13 or 14 digits" },
  ])("are refused with what to write where they are wrong: $gtin", ({ gtin, says }) => {
    const [problem, ...others] = problemsIn(withGtin(gtin));
    expect(others).toEqual([]);
    expect(problem?.expected).toContain(says);
  });

  it("are of models that the station tests", () => {
    const [problem] = problemsIn(withGtin('"04012345678901"', "POD-5"));
    expect(problem).toMatchObject({ hint: "did you mean POD-4?" });
  });
});
