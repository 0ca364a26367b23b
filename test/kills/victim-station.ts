import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { Population } from "../../sim/population.ts";
import { packageRoot } from "../../station/package-root.ts";
import { writeFastModels } from "../journeys/fast-models.ts";
import { Victim } from "./victim.ts";

/** A served plant in a process of its own, and the folder in which one station after the other is killed. */
export class VictimStation {
  readonly folder = mkdtempSync(join(tmpdir(), "drumtight-kills-"));
  readonly records = join(this.folder, "records");
  readonly stationFile = join(this.folder, "station.yaml");
  readonly models: readonly ModelLimits[];
  /** The units off this plant's line. */
  readonly population: Population;
  readonly #serving: Victim;

  private constructor(seed: number, over: "pty" | "tcp", defectRate: number) {
    const limits = writeFastModels(join(this.folder, "limits"));
    hurry(join(limits, "pod-4.yaml"));
    this.models = loadLimitFolder(limits);
    this.population = new Population({ seed, models: this.models, defectRate });
    const ports = over === "pty" ? ["--pty", join(this.folder, "ports")] : ["--tcp", "0"];
    const files = ["--limits", limits, "--write-station", this.stationFile];
    const plant = ["--seed", String(seed), "--defect-rate", String(defectRate), "--hands"];
    this.#serving = new Victim(["sim", "serve", ...ports, ...files, ...plant, "--json"]);
  }

  /** @param defectRate part of the units that have a defect */
  static async served(seed: number, over: "pty" | "tcp", defectRate: number): Promise<VictimStation> {
    const station = new VictimStation(seed, over, defectRate);
    const serving = station.#serving;
    await serving.unlessEnded(serving.heard(({ event }) => event === "station"));
    return station;
  }

  /** @param dieBefore the file operation in the records folder before which it ends itself */
  start(dieBefore?: number): Victim {
    const preload = pathToFileURL(join(packageRoot(), "dist", "test", "kills", "die-at-disk.js"));
    preload.search = new URLSearchParams({ at: String(dieBefore), in: this.records }).toString();
    return new Victim(
      ["run", "--station", this.stationFile, "--draft", "--json"],
      dieBefore === undefined ? [] : ["--import", preload.href],
    );
  }

  /** Puts the next unit off the line on the fixture. */
  async mountNext(): Promise<void> {
    await this.#serving.ask("next", "mounted");
  }

  async mount(serial: string): Promise<void> {
    await this.#serving.ask(`mount ${serial}`, "mounted");
  }

  /** @param day "none" ends one */
  async badDay(instrument: string, day: string): Promise<void> {
    await this.#serving.ask(`bad-day ${instrument} ${day}`, "bad_day");
  }

  /** Whether nothing is driven at the I/O block's terminals and only the vent is open. */
  async areOutputsSafe(): Promise<boolean> {
    return (await this.#serving.ask("outputs", "outputs")).safe === true;
  }

  async close(): Promise<void> {
    this.#serving.type("quit");
    await this.#serving.ended;
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** The fast model fills and runs up in real time, too: what is measured then matters less than how many units are. */
function hurry(limitFile: string): void {
  const text = readFileSync(limitFile, "utf8")
    .replace("fill_tolerance: 0.15 kPa", "fill_tolerance: 0.8 kPa")
    .replace(/steady: .*/, "steady: { within: 5 %, window: 0.2 s, ahead: 0.5 s }")
    .replaceAll("known_within: 0.3 %, samples_least: 8", "known_within: 3 %, samples_least: 4");
  writeFileSync(limitFile, text);
}
