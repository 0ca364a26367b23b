import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";
import { drumtight } from "./command-line.ts";
import { stationWithFlowFrom } from "./flow-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/** The demo's station with a compact body whose serials and motors end in check characters; drafts. */
function checkedStation(): string {
  const models = join(scratchFolder(), "models");
  mkdirSync(models);
  const pod = readFileSync("limits/models/pod-4.yaml", "utf8")
    .replace("example: POD000123", "example: POD531817\n  check: mod-37-36")
    .replace(
      /(- \{ name: tub_cavity, )/,
      '- { name: plate, pattern: "^[0-9]{13}$", check: gs1, required: false }\n  $1',
    );
  writeFileSync(join(models, "pod-4.yaml"), pod);
  writeFileSync(join(models, "tub-12.yaml"), readFileSync("limits/models/tub-12.yaml"));
  return stationWithFlowFrom("a flow gauge", (text) => text.replace(resolve("limits/models"), models));
}

const setup = () => ({ stationPath: checkedStation(), allowDrafts: true });

describe("a unit whose serial ends in a check character", () => {
  it("is tested when it is right, and refused by name when it is wrong, like its part", async () => {
    const shift = await SimulatedShift.begin(setup());
    const wrong = await shift.tryBody("POD531811");
    expect(wrong.traveller).toBeNull();
    expect(wrong.refused).toEqual([
      {
        code: "CHECK_CHARACTER_WRONG",
        sentence: "POD531811: the check character says 1 and must be 7. Scan the label again.",
      },
    ]);
    const part = await shift.tryBody("POD531817", { parts: { plate: "6291041500218" } });
    expect(part.traveller).toBeNull();
    expect(part.refused).toMatchObject([
      { sentence: "plate 6291041500218: the check digit says 8 and must be 3. Scan the label again." },
    ]);
    const right = await shift.tryBody("POD531817", { parts: { plate: "6291041500213" } });
    expect(right.refused).toEqual([]);
    expect(right.traveller).toMatchObject({ serial: "POD531817", parts: { plate: "6291041500213" } });
  });

  it("is refused by name on scanned lines without a screen too, and leaves no record", async () => {
    const records = scratchFolder();
    const args = ["--station", checkedStation(), "--draft", "--records", records, "--model", "POD-4"];
    const { code, stdout } = await drumtight(
      ["run", "--simulate", ...args],
      "POD531811\nPOD531817 plate=6291041500218\n",
    );
    expect(code).toBe(1);
    expect(stdout).toContain(
      "POD531811: not started. POD531811: the check character says 1 and must be 7. Scan the label again.",
    );
    expect(stdout).toContain("plate 6291041500218: the check digit says 8 and must be 3.");
    expect((await travellersIn(records)).filter(({ kind }) => kind === "unit")).toEqual([]);
  });
});
