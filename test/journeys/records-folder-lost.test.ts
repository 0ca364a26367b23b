import { execFileSync } from "node:child_process";
import { mkdirSync, readdirSync, readFileSync, renameSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it, onTestFinished } from "vitest";
import { openSimulatedStation } from "../../station/wiring.ts";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/** What becomes of a records folder, and how it is mended. */
interface Trouble {
  readonly folder: string;
  begin(): void;
  mend(): void;
  /** What is in an empty folder that stands in its place meanwhile. */
  left(): readonly string[];
}

const TROUBLES: Readonly<Record<string, () => Trouble>> = {
  // By a view of itself: what the program holds open stays writable, as it does on a disk that the system makes read-only.
  "turns read-only": () => {
    const folder = join(scratchFolder(), "records");
    const mend = () => void execFileSync("umount", ["-l", folder]);
    let isMounted = false;
    onTestFinished(() => (isMounted ? mend() : undefined));
    return {
      folder,
      begin: () => {
        execFileSync("mount", ["--bind", folder, folder]);
        isMounted = true;
        execFileSync("mount", ["-o", "remount,bind,ro", folder]);
      },
      mend: () => {
        mend();
        isMounted = false;
      },
      left: () => [],
    };
  },
  "is moved away": () => {
    const folder = join(scratchFolder(), "records");
    return {
      folder,
      begin: () => renameSync(folder, `${folder}-elsewhere`),
      mend: () => renameSync(`${folder}-elsewhere`, folder),
      left: () => [],
    };
  },
  // What is left in its place is the empty folder it was mounted on.
  "is on a disk that is unplugged": () => {
    const disk = scratchFolder();
    const place = scratchFolder();
    mkdirSync(join(disk, "records"));
    mkdirSync(join(place, "records"));
    const plug = () => execFileSync("mount", ["--bind", join(disk, "records"), join(place, "records")]);
    const unplug = () => void execFileSync("umount", ["-l", join(place, "records")]);
    plug();
    onTestFinished(unplug);
    const folder = join(place, "records");
    return { folder, begin: unplug, mend: plug, left: () => readdirSync(folder) };
  },
};

describe.each(Object.entries(TROUBLES))("a records folder that %s", (_, trouble) => {
  it("while the station waits lets no valve move, and the next unit is tested once it is back", async () => {
    const { shift, folder, begin, mend } = await ready(trouble());
    const good = shift.unitWith();
    let moved = false;
    shift.simulated.station.listen({ phase: () => (moved ||= !shift.simulated.plant.isSafe) });
    begin();
    const stopped = await shift.tryUnit(good);
    expect(stopped.traveller).toBeNull();
    expect([...stopped.faults, ...stopped.refused]).toMatchObject([
      { sentence: expect.stringMatching(/\.$/) },
    ]);
    expect(moved).toBe(false);
    mend();
    const tested = await shift.tryUnit(good);
    expect(tested.traveller).toMatchObject({ verdict: "pass", attempt: { number: 1 } });
    await expectRecorded(shift, folder, ["pass"]);
  });

  it.each(["fill", "coast"])(
    "in %s leaves the unit without a verdict and the station stopped safely; once it is back the attempt is void and the unit tested anew",
    async (phase) => {
      const { shift, folder, begin, mend, left } = await ready(trouble());
      const good = shift.unitWith();
      shift.simulated.station.listen({ phase: once(phase, begin) });
      const stopped = await shift.tryUnit(good);
      expect(stopped.traveller).toBeNull();
      expect(stopped.faults).toMatchObject([{ code: "RECORD_NOT_WRITTEN" }]);
      expect(shift.simulated.plant.isSafe).toBe(true);
      expect(left()).toEqual([]);
      mend();
      const again = await shift.tryUnit(good);
      expect(again.traveller).toMatchObject({ verdict: "pass", attempt: { number: 2 } });
      await expectRecorded(shift, folder, ["void", "pass"]);
      expect(noted(folder)).toContain("RECORD_NOT_WRITTEN");
    },
  );

  it("and is back before the unit is recorded costs nothing", async () => {
    const { shift, folder, begin, mend } = await ready(trouble());
    shift.simulated.station.listen({ phase: once("fill", begin) });
    shift.simulated.station.listen({ phase: once("vent", mend) });
    const tested = await shift.tryUnit(shift.unitWith());
    expect(tested.traveller?.verdict).toBe("pass");
    await expectRecorded(shift, folder, ["pass"]);
  });
});

it("a read-only records folder keeps the station from starting, in a sentence that says what to do", async () => {
  const { folder, begin } = TROUBLES["turns read-only"]?.() ?? {};
  mkdirSync(folder ?? "");
  begin?.();
  const opening = openSimulatedStation({
    seed: 7,
    pace: "virtual",
    allowDrafts: false,
    recordsFolder: folder ?? "",
  });
  await expect(opening).rejects.toMatchObject({
    code: "NOT_WRITABLE",
    message: expect.stringMatching(/Give the station's user write access to the records folder/),
  });
});

async function ready(trouble: Trouble): Promise<Trouble & { readonly shift: SimulatedShift }> {
  const shift = await SimulatedShift.begin({
    stationPath: changedStation(plain),
    recordsFolder: trouble.folder,
  });
  return { ...trouble, shift };
}

function once(wanted: string, act: () => void): (attempt: unknown, phase: string) => void {
  let isDone = false;
  return (_, phase) => {
    if (phase !== wanted || isDone) return;
    isDone = true;
    act();
  };
}

/** One traveller per attempt, in a chain; nothing open, nothing half-written. */
async function expectRecorded(
  shift: SimulatedShift,
  folder: string,
  verdicts: readonly string[],
): Promise<void> {
  await shift.close();
  expect((await travellersIn(folder)).map(({ verdict }) => verdict)).toEqual(verdicts);
  expect(readdirSync(join(folder, ".open"))).toEqual([]);
}

/** Codes of the faults among the station's events. */
function noted(folder: string): string[] {
  return readdirSync(join(folder, "events"))
    .filter((name) => name.endsWith(".json"))
    .flatMap((name) => JSON.parse(readFileSync(join(folder, "events", name), "utf8")).reasons ?? [])
    .map(({ code }: { code: string }) => code);
}
