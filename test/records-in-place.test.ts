import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { requireRecords } from "../station/records-in-place.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const real = { isSimulated: false };

describe("a real station's records", () => {
  it("are not begun anew where the disk that has them is not mounted: no folder, or an empty mount point", () => {
    const folder = scratchFolder();
    for (const place of [folder, join(folder, "gone")]) {
      expect(() => requireRecords(real, place, false)).toThrow(
        /There are no records in .* not mounted .* --new-records, once\.$/,
      );
      expect(() => requireRecords(real, place, true)).not.toThrow();
    }
  });

  it("go on where they are, a restored backup's too, and are not begun a second time", () => {
    for (const name of [".open", "2026"]) {
      const folder = scratchFolder();
      mkdirSync(join(folder, name));
      expect(() => requireRecords(real, folder, false)).not.toThrow();
      expect(() => requireRecords(real, folder, true)).toThrow(/start without --new-records/);
    }
  });

  it("are of no concern to a simulated station", () => {
    expect(() => requireRecords({ isSimulated: true }, scratchFolder(), false)).not.toThrow();
  });
});
