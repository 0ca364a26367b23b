import { readdirSync } from "node:fs";
import { join } from "node:path";
import type { Findings } from "./audit-finding.ts";
import { isLink } from "./audit-listing.ts";
import { AuditReader } from "./audit-read.ts";
import { sha256Hex } from "./chain.ts";
import { KEPT_FILES, type KeptFile, keptPath } from "./kept-files.ts";
import type { Traveller } from "./traveller.ts";

const KEPT_NAME = /^([0-9a-f]{64})(?:\.yaml|\.json)?$/;

/** A limit file that judged units. */
export interface JudgingLimits {
  readonly name: string;
  readonly model: string;
  readonly revision: number;
  /** The first traveller that names it. */
  readonly path: string;
  readonly isDraft: boolean;
}

/** Files that records point to by their hashes. */
export class NeededFiles {
  /** By SHA-256. */
  readonly limitFiles = new Map<string, JudgingLimits>();
  /** By where the copy lies: who asks for it, and as what. */
  readonly kept = new Map<string, string>();
  /** Travellers up to this number are from before copies were kept. */
  #keptAfter = Number.POSITIVE_INFINITY;

  /** What an opened station's event says is in force. */
  ofOpening(files: readonly KeptFile[], afterTraveller: number, path: string): void {
    this.#keptAfter = Math.min(this.#keptAfter, afterTraveller);
    for (const file of files) this.#need(file, path);
  }

  ofTraveller(traveller: Traveller, path: string): void {
    const { limit_file, calibrations, draft, chain } = traveller;
    const known = this.limitFiles.get(limit_file.sha256);
    if (!known || (known.isDraft && !draft)) {
      const { path: name, model, revision } = limit_file;
      this.limitFiles.set(limit_file.sha256, { name, model, revision, path, isDraft: draft });
    }
    if (chain.sequence <= this.#keptAfter) return;
    this.#need({ name: limit_file.path, sha256: limit_file.sha256 }, path);
    for (const { file, sha256 } of calibrations ?? []) this.#need({ name: file, sha256 }, path);
  }

  #need(file: Pick<KeptFile, "name" | "sha256">, path: string): void {
    const kept = keptPath(file);
    if (!this.kept.has(kept)) this.kept.set(kept, `${file.name}, which ${path} names`);
  }
}

/** Holds the copies of the files that judged units against their names and against who points to them. */
export function auditKept(folder: string, needed: NeededFiles, findings: Findings): void {
  const reader = new AuditReader();
  const there = new Set<string>();
  if (isLink(folder, KEPT_FILES, findings)) return;
  for (const name of namesIn(join(folder, KEPT_FILES))) {
    const path = `${KEPT_FILES}/${name}`;
    const hash = KEPT_NAME.exec(name)?.[1];
    if (hash === undefined) {
      if (!name.endsWith(".part"))
        findings.note(`${path} is no copy that the station made, and was not looked at.`);
      continue;
    }
    there.add(path);
    const whose = needed.kept.get(path);
    const file = reader.read(join(folder, path));
    if (!file.ok) findings.add("unreadable", path, file.problem);
    else if (sha256Hex(file.bytes) !== hash) {
      findings.add(
        "altered",
        path,
        `its content is not what its name says${whose ? `: it was the copy of ${whose}` : ""}`,
      );
    } else if (!whose) findings.note(`${path} is a copy that no record names.`);
  }
  for (const [path, whose] of needed.kept) {
    if (!there.has(path))
      findings.add("missing", path, `it was the copy of ${whose}, and is not there any more`);
  }
}

function namesIn(path: string): readonly string[] {
  try {
    return readdirSync(path).sort();
  } catch {
    // Whether one had to be there, the records say.
    return [];
  }
}
