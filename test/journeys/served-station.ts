import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Running } from "./command-line.ts";
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
