import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { approvalPath, newApproverKey, openApproverKey, signApproval } from "../../limits/approval.ts";
import { readLimitFolder } from "../../limits/limit-file.ts";
import type { RandomStream } from "../../sim/random.ts";
import type { LoadedStation } from "../../station/load-station.ts";
import { packageRoot } from "../../station/package-root.ts";
import { demoStationPath, loadStation } from "../../station/wiring.ts";

/** The leak limit of the campaign's models, mL/min, and what its leak piece is certified for. */
const LEAK_LIMIT_mLmin = 150;
export const REFERENCE_LEAK_mLmin = 75;
const REFERENCE_TOLERANCE_mLmin = 30;
/** Reference pieces get the whole measuring time; so long that they scatter by a quarter of their tolerance at most. */
const LONGEST_s: Readonly<Record<string, number>> = { "pod-4.yaml": 5, "tub-12.yaml": 9 };

const APPROVER = "C. Holm";
const PASSPHRASE = "campaign";

/** How a shift's station is set up, drawn from the seed. */
export interface StationVariant {
  readonly model: "POD-4" | "TUB-12";
  readonly pieces: "all" | "leak" | "none";
  readonly afterFault: boolean;
}

export function drawVariant(random: RandomStream): StationVariant {
  return {
    model: random.chance(0.75) ? "POD-4" : "TUB-12",
    pieces: random.chance(0.15) ? "none" : random.chance(0.25) ? "all" : "leak",
    afterFault: random.chance(0.4),
  };
}

/**
 * The demo plant's station and models with a measuring time that is cheap to simulate. After so short a measurement little is
 * certain, so that the leak limit is far above the demo's, and the leak piece with it. Approved like any other, by a key made
 * for the run.
 */
export class CampaignStations {
  readonly #folder = mkdtempSync(join(tmpdir(), "drumtight-faults-"));
  readonly #loaded = new Map<string, LoadedStation>();
  readonly #publicKey: string;

  constructor() {
    this.#publicKey = this.#writeModels();
    for (const name of readdirSync(join(packageRoot(), "sim")).filter((one) => one.endsWith(".json"))) {
      // A calibration goes by the name of its station file.
      for (const variant of variantNames())
        cpSync(join(packageRoot(), "sim", name), join(this.#folder, name.replace("demo-station", variant)));
    }
  }

  /** The station and its one model, read as `run` reads them. */
  load(variant: StationVariant): LoadedStation {
    const name = nameOf(variant);
    const known = this.#loaded.get(name);
    if (known) return known;
    const path = join(this.#folder, `${name}.yaml`);
    writeFileSync(path, this.#stationText(variant));
    const loaded = loadStation(path, variant.model, "simulated");
    for (const { notApproved } of loaded.models) if (notApproved !== null) throw new Error(notApproved);
    this.#loaded.set(name, loaded);
    return loaded;
  }

  remove(): void {
    rmSync(this.#folder, { recursive: true, force: true });
  }

  #writeModels(): string {
    const folder = join(this.#folder, "models");
    mkdirSync(folder);
    for (const [file, longest_s] of Object.entries(LONGEST_s)) {
      const text = readFileSync(join(packageRoot(), "limits", "models", file), "utf8");
      writeFileSync(
        join(folder, file),
        changed(text, [
          [/measure_shortest: [^,]*/, "measure_shortest: 1 s"],
          [/measure_longest: .*/, `measure_longest: ${longest_s} s`],
          [/upper: (25|60) mL\/min @ 20 degC/, `upper: ${LEAK_LIMIT_mLmin} mL/min @ 20 degC`],
        ]),
      );
    }
    const { privatePem, publicKey } = newApproverKey(PASSPHRASE);
    const privateKey = openApproverKey(privatePem, PASSPHRASE);
    const read = readLimitFolder(folder);
    if (read.kind !== "read" || read.problems.length > 0)
      throw new Error("The campaign's limit files are wrong.");
    for (const limits of read.models) {
      const approvedAt = "2026-01-05T05:00:00Z";
      writeFileSync(
        approvalPath(limits.source.path),
        signApproval({ limits, approver: APPROVER, approvedAt, privateKey }),
      );
    }
    return publicKey;
  }

  #stationText({ pieces, afterFault }: StationVariant): string {
    const demo = readFileSync(demoStationPath(), "utf8");
    const tolerance = `tolerance: ${REFERENCE_TOLERANCE_mLmin} mL/min @ 20 degC`;
    const text = changed(demo, [
      [/^limits: .*$/m, "limits: models"],
      [/public_key: \S+/, `public_key: ${this.#publicKey}`],
      [/tolerance: \d+(\.\d+)? mL\/min @ 20 degC/g, tolerance],
      [/certified: (12\.5|30) mL\/min @ 20 degC/g, `certified: ${REFERENCE_LEAK_mLmin} mL/min @ 20 degC`],
      ...(afterFault ? [] : [[/after_fault: true/, "after_fault: false"] as const]),
    ]);
    if (pieces === "none") {
      return changed(text, [[/^reference_check:\n(?:(?: .*)?\n)+?(?=\S)/m, 'reference_check: "off"\n']]);
    }
    return pieces === "leak" ? changed(text, [[/ {4}- \{[^}]*kind: orifice,[^}]*\}\n/g, ""]]) : text;
  }
}

function variantNames(): string[] {
  const yes = [true, false];
  return (["all", "leak", "none"] as const)
    .flatMap((pieces) => yes.map((afterFault) => nameOf({ model: "POD-4", pieces, afterFault })))
    .flatMap((name) => [name, name.replace("POD-4", "TUB-12")]);
}

function nameOf({ model, pieces, afterFault }: StationVariant): string {
  return `${model}-${pieces}-${afterFault ? "after" : "still"}`;
}

function changed(text: string, changes: readonly (readonly [RegExp, string])[]): string {
  return changes.reduce((before, [from, to]) => {
    const after = before.replace(from, () => to);
    if (after === before) throw new Error(`There is nothing like ${from} to change.`);
    return after;
  }, text);
}
