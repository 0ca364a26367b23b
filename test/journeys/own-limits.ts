import { copyFileSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import {
  approvalPath,
  newApproverKey,
  openApproverKey,
  readApproval,
  signApproval,
} from "../../limits/approval.ts";
import { readLimitFile } from "../../limits/limit-file.ts";
import { appendToHistory } from "../../station/limit-history-file.ts";
import { changed } from "../made-station-file.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { changedStation, plain } from "./plain-station.ts";

const PASSPHRASE = "river stone";
const { privatePem, publicKey } = newApproverKey(PASSPHRASE);

/** A station whose POD-4 limits the test may change and approve: the demo's with a limits folder of its own. */
export class OwnLimits {
  readonly folder = scratchFolder();
  readonly path = join(this.folder, "pod-4.yaml");
  readonly stationPath: string;

  constructor(change: (stationFile: string) => string = plain) {
    const demo = "limits/models/pod-4.yaml";
    copyFileSync(demo, this.path);
    copyFileSync(approvalPath(demo), approvalPath(this.path));
    const station = join(this.folder, "station");
    mkdirSync(station);
    this.stationPath = changedStation(
      (text) =>
        changed(change(text).replace(/^(\s*limits: ).*$/m, `$1${this.folder}`), [
          "approvers:\n",
          `approvers:\n  - { name: B. Imani, public_key: ${publicKey} }\n`,
        ]),
      station,
    );
  }

  /** The demo's file with some places changed. */
  text(...changes: readonly (readonly [from: string, to: string])[]): string {
    return changed(readFileSync("limits/models/pod-4.yaml", "utf8"), ...changes);
  }

  write(text: string): void {
    writeFileSync(this.path, text);
  }

  /** Puts another file into the folder, signed or not. @returns its path */
  lay(name: string, text: string, isSigned = true): string {
    const path = join(this.folder, name);
    writeFileSync(path, text);
    if (isSigned) this.approve(text, path);
    return path;
  }

  /** Signs what lies there, or another text, as somebody the station trusts. */
  approve(text = readFileSync(this.path, "utf8"), path = this.path): void {
    const approval = signApproval({
      limits: readLimitFile(path, text),
      approver: "B. Imani",
      approvedAt: "2026-01-04T12:00:00.000Z",
      privateKey: openApproverKey(privatePem, PASSPHRASE),
    });
    writeFileSync(approvalPath(path), approval);
  }

  /** As `limits approve` does: the approval is written into the history beside the file. */
  async remember(): Promise<void> {
    const approval = readApproval(readFileSync(approvalPath(this.path), "utf8"));
    if (!approval) throw new Error("There is no approval.");
    const text = readFileSync(this.path, "utf8");
    await appendToHistory(this.path, {
      approval,
      text,
      privateKey: openApproverKey(privatePem, PASSPHRASE),
    });
  }

  withdrawApproval(): void {
    rmSync(approvalPath(this.path));
  }
}
