import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Event, Running } from "./command-line.ts";
import { writeFastModels } from "./fast-models.ts";

/** `sim serve` in a process of its own, and the station file that finds its instruments. */
export class ServedStation {
  readonly folder = mkdtempSync(join(tmpdir(), "drumtight-served-"));
  readonly stationFile = join(this.folder, "station.yaml");
  readonly records = join(this.folder, "records");
  readonly limits = writeFastModels(join(this.folder, "limits"));
  readonly serving: Running;

  constructor(over: "pty" | "tcp", args: readonly string[]) {
    const ports = over === "pty" ? ["--pty", join(this.folder, "ports")] : ["--tcp", "0"];
    const files = ["--limits", this.limits, "--write-station", this.stationFile];
    this.serving = new Running(["sim", "serve", ...ports, ...files, "--json", ...args]);
  }

  async ready(): Promise<void> {
    await this.serving.waitFor((event) => event.event === "station");
  }

  /** For a plant served with `--hands`. */
  async mount(serial: string): Promise<void> {
    this.serving.type(`mount ${serial}`);
    await this.serving.waitFor((event) => event.event === "mounted" && event.serial === serial);
  }

  /** `run` on this station's file: drafts are allowed, since the fast model is one. */
  run(args: readonly string[]): Running {
    return new Running(["run", "--station", this.stationFile, "--draft", "--json", ...args]);
  }

  async close(): Promise<void> {
    this.serving.type("quit");
    await this.serving.ended;
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/**
 * Scans a unit for its next attempt, and once more where that is void: on a machine too busy for a line in real time a measurement may
 * be none, which is right, and an inspector would do the same.
 * @param attempt its number, from 1
 */
export async function testedValidly(run: Running, scan: string, attempt: number): Promise<Event> {
  const tested = (number: number) => {
    run.type(scan);
    return run.waitFor((event) => event.event === "unit" && event.attempt === number);
  };
  const first = await tested(attempt);
  return first.verdict === "void" ? tested(attempt + 1) : first;
}
