import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { drumtight, type Event, events } from "./command-line.ts";
import { ServedStation } from "./served-station.ts";

// A stream at 19200 baud: "$PRESS   -815.77 mmH2O,T=24.51,OK" and a CRC, lines ending with CR.
const STRANGER = "1199";

describe("a gauge of unknown make on a pseudo-terminal", () => {
  it("is probed, described, put into the station, watched and found good enough", {
    timeout: 240_000,
  }, async () => {
    const station = new ServedStation("pty", ["--hands", "--stranger", STRANGER]);
    const port = join(station.folder, "ports", "leak_gauge");
    const draft = join(station.folder, "hall-gauge.yaml");
    try {
      await station.ready();
      const settings = ["--baud", "9600,19200", "--listen", "4", "--yes", "--json"];
      const probed = await drumtight([
        ...["gauge", "probe", port, ...settings],
        ...["--channels", "leak_pressure mmH2O, -", "--out", draft],
      ]);
      // Nobody has a profile of it yet.
      expect(probed.code).toBe(1);
      expect(events(probed.stdout).at(-1), probed.stdout).toMatchObject({
        settings: "19200-8N1",
        matches: [],
      });
      expect(judgedAt(events(probed.stdout), 9600)).toBe("garbled");
      const again = await drumtight(["gauge", "probe", port, "--yes", "--out", draft]);
      expect(again).toMatchObject({ code: 2, stderr: expect.stringContaining("not overwritten") });

      const file = readFileSync(station.stationFile, "utf8");
      writeFileSync(
        station.stationFile,
        file.replace("profile: stream-pressure", "profile: hall-gauge").replace("STREAM-PRESSURE", "DP8"),
      );
      const named = ["leak_gauge", "--station", station.stationFile];
      const watched = await drumtight(["gauge", "watch", ...named, "--seconds", "2", "--json"]);
      expect(watched).toMatchObject({ code: 0, stderr: "" });
      expect(events(watched.stdout).at(-1)).toMatchObject({
        identity: expect.stringContaining("DP8 PRESSURE"),
        missing: 0,
        faults: {},
      });
      const checked = await drumtight(["gauge", "check", ...named, "--seconds", "5"]);
      expect(checked.stdout).toMatch(/^ok +dropouts/m);
      expect(checked.stdout).toMatch(/^ok +POD-4 leak rate: noise/m);
      expect(checked.code).toBe(0);
      // What was learned with another gauge is not taken for this one's.
      expect(checked.stderr).toContain("study settle");
    } finally {
      await station.close();
      rmSync(draft, { force: true });
    }
  });
});

function judgedAt(seen: readonly Event[], baud: number): unknown {
  return seen.find(
    ({ event, settings }) => event === "judged" && (settings as { baud: number } | undefined)?.baud === baud,
  )?.as;
}
