import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { RandomStream } from "../../sim/random.ts";
import type { LoadedStation } from "../../station/load-station.ts";
import { packageRoot } from "../../station/package-root.ts";
import { newStationKey } from "../../station/records/daily-head-key.ts";
import { demoStationPath, loadStation } from "../../station/wiring.ts";

/** How a shift's station is set up, drawn from the seed. */
export interface StationVariant {
  readonly model: "POD-4" | "TUB-12";
  readonly pieces: "all" | "leak" | "none";
  readonly afterFault: boolean;
  /** Whether it signs where its records end. */
  readonly signsHeads: boolean;
}

export function drawVariant(random: RandomStream): StationVariant {
  return {
    model: random.chance(0.75) ? "POD-4" : "TUB-12",
    pieces: random.chance(0.15) ? "none" : random.chance(0.25) ? "all" : "leak",
    afterFault: random.chance(0.4),
    signsHeads: random.chance(0.5),
  };
}

const KEY_FILE = "station-key.pem";

/** The demo plant's station on its own approved limit files, with other reference rules. */
export class CampaignStations {
  readonly #folder = mkdtempSync(join(tmpdir(), "drumtight-faults-"));
  readonly #loaded = new Map<string, LoadedStation>();
  readonly #key = newStationKey();

  constructor() {
    writeFileSync(join(this.#folder, KEY_FILE), this.#key.privatePem, { mode: 0o600 });
  }

  /** By which the heads that it signs are told from anybody else's. */
  get publicKey(): string {
    return this.#key.publicKey;
  }

  /** The station and its one model, read as `run` reads them. */
  load(variant: StationVariant): LoadedStation {
    const all = this.#loadAll(variant);
    return { ...all, models: all.models.filter(({ limits }) => limits.model === variant.model) };
  }

  #loadAll(variant: StationVariant): LoadedStation {
    const name = [
      variant.pieces,
      variant.afterFault ? "after" : "still",
      variant.signsHeads ? "signed" : "bare",
    ].join("-");
    const known = this.#loaded.get(name);
    if (known) return known;
    const path = join(this.#folder, `${name}.yaml`);
    const heads = `daily_head:\n  key: ${KEY_FILE}\n  public_key: ${this.publicKey}\n`;
    writeFileSync(path, `${stationText(variant)}\n${variant.signsHeads ? heads : ""}`);
    const sim = join(packageRoot(), "sim");
    for (const file of readdirSync(sim).filter((one) => one.endsWith(".json"))) {
      // A calibration goes by the name of its station file.
      cpSync(join(sim, file), join(this.#folder, file.replace("demo-station", name)));
    }
    const loaded = loadStation(path, undefined, "simulated");
    for (const { notApproved } of loaded.models) if (notApproved !== null) throw new Error(notApproved);
    this.#loaded.set(name, loaded);
    return loaded;
  }

  remove(): void {
    rmSync(this.#folder, { recursive: true, force: true });
  }
}

function stationText({ pieces, afterFault }: StationVariant): string {
  const demo = readFileSync(demoStationPath(), "utf8");
  const text = changed(demo, [
    [/^limits: .*$/m, `limits: ${join(packageRoot(), "limits", "models")}`],
    ...(afterFault ? [] : [[/after_fault: true/, "after_fault: false"] as const]),
  ]);
  if (pieces === "none") {
    return changed(text, [[/^reference_check:\n(?:(?: .*)?\n)+?(?=\S)/m, 'reference_check: "off"\n']]);
  }
  return pieces === "leak" ? changed(text, [[/ {4}- \{[^}]*kind: orifice,[^}]*\}\n/g, ""]]) : text;
}

function changed(text: string, changes: readonly (readonly [RegExp, string])[]): string {
  return changes.reduce((before, [from, to]) => {
    const after = before.replace(from, () => to);
    if (after === before) throw new Error(`There is nothing like ${from} to change.`);
    return after;
  }, text);
}
