import { readFileSync, statSync } from "node:fs";
import { basename, dirname, join } from "node:path";
import { approvalPath } from "../limits/approval.ts";
import type { ModelCalibrations } from "./calibrations-in-force.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { UsageError } from "./explain.ts";
import { sha256Hex } from "./records/chain.ts";
import type { FileInForce } from "./records/kept-files.ts";

export interface DecidingFiles {
  /** The station file as it was read. */
  readonly source: { readonly path: string; readonly text: string };
  readonly models: readonly ModelInForce[];
  readonly calibrations: ReadonlyMap<string, ModelCalibrations>;
}

/**
 * Every file that decides about units from now on: the station file, each model's limit file, its approval, and what was
 * learned of the model.
 * @throws UsageError where one has changed since it was read
 */
export function filesInForce({ source, models, calibrations }: DecidingFiles): readonly FileInForce[] {
  const files: FileInForce[] = [{ what: "station_file", name: basename(source.path), text: source.text }];
  for (const { limits } of models) {
    const { path, sha256 } = limits.source;
    files.push(unchanged("limit_file", path, sha256));
    const approval = approvalPath(path);
    // A folder in its place is no approval.
    if (statSync(approval, { throwIfNoEntry: false })?.isFile())
      files.push({ what: "approval", name: basename(approval), text: read(approval) });
    const learned = calibrations.get(limits.model);
    for (const one of [learned?.settle, learned?.volume]) {
      if (one) files.push(unchanged("calibration", join(dirname(source.path), one.file), one.sha256));
    }
  }
  return files;
}

function unchanged(what: FileInForce["what"], path: string, sha256: string): FileInForce {
  const text = read(path);
  if (sha256Hex(text) === sha256) return { what, name: basename(path), text };
  throw new UsageError(`${path} changed while the station was being started. Start again.`);
}

function read(path: string): string {
  return new TextDecoder("utf-8", { ignoreBOM: true }).decode(readFileSync(path));
}
